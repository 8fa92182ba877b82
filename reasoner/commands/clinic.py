"""`reasoner knowledge start | publish | rollback | review | copy | diff | impact`: the clinic's own folder."""

from __future__ import annotations

import argparse
import os
import re
import textwrap
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reasoner.commands.clinician import clinician_code
from reasoner.problems import InputRefused, Problem, nearest

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge
    from reasoner.graph.overlay.entries import ClinicCopy

__all__ = ["HANDLERS", "add_actions", "check_regions", "draft_copy", "draft_folder"]

WIDTH = 80
MOST_LINES = 10


def add_actions(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The actions of `reasoner knowledge` that this module has."""
    start = actions.add_parser("start", help="begin a clinic's own folder, or use one that is there")
    start.add_argument("folder", type=Path, metavar="DIR")
    start.add_argument("--name", default="", help="the clinic's name, for a new folder")
    start.add_argument("--prefix", default="", help="two to six small letters that begin its own ids")
    publish = actions.add_parser("publish", help="check the folder and use it from now on")
    publish.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")
    rollback = actions.add_parser("rollback", help="use the copy published before again")
    rollback.add_argument("--to", metavar="DIGEST", default="", help="or the one whose digest begins like this")
    rollback.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")
    review = actions.add_parser("review", help="a patch beside the shipped entry, then and now")
    review.add_argument("id", metavar="ID", nargs="?", help="none: every patch whose shipped entry has changed")
    review.add_argument("--keep", action="store_true", help="the patch fits the shipped entry as it is now")
    review.add_argument("--region", default="", help="default: the first")
    copy = actions.add_parser("copy", help="begin an entry of your own from a shipped one")
    copy.add_argument("id", metavar="ID")
    copy.add_argument("--as", dest="new", metavar="NEW", required=True, help="its id, beginning with your prefix")
    copy.add_argument("--region", default="", help="default: the first")
    shown = actions.add_parser("diff", help="what a folder changes, in clinical words")
    shown.add_argument("folder", nargs="?", type=Path, metavar="DIR", help="default: the clinic folder in use")
    shown.add_argument("--against", choices=("shipped", "published"), default="shipped")
    moved = actions.add_parser("impact", help="what a folder moves in cases; exit 1 if an emergency is missed")
    moved.add_argument("folder", nargs="?", type=Path, metavar="DIR", help="default: the clinic folder in use")
    moved.add_argument("--against", choices=("shipped", "published"), default="published")
    moved.add_argument("--cases", type=Path, metavar="DIR", default=None, help="snapshots; default: the bundled ones")
    moved.add_argument(
        "--trail", metavar="CASE", action="append", default=[], help="a recorded case too; may be repeated"
    )
    moved.add_argument("--all", action="store_true", help="every case in which something moves")


# ------------------------------------------------------------------------------------------------ the folder


def draft_folder() -> Path:
    """The folder being edited. InputRefused where none is in use."""
    from reasoner.trail.clinic import in_use
    from reasoner.trail.paths import home

    now = in_use(home(os.environ))
    if now is None:
        raise InputRefused([Problem("T-CLINIC", "no clinic folder is in use", "reasoner knowledge start DIR")])
    return now.folder


def draft_copy(folder: Path) -> ClinicCopy:
    """The files being edited, as they would be laid over today. InputRefused with what does not belong there."""
    from reasoner.graph.overlay.entries import ClinicCopy
    from reasoner.graph.overlay.folder import read_folder

    files, problems = read_folder(folder)
    if problems:
        raise InputRefused(problems)
    return ClinicCopy(files, _today())


def _today() -> str:
    return datetime.now().astimezone().date().isoformat()


def _start(args: argparse.Namespace) -> int:
    from reasoner.graph.overlay.folder import CLINIC_FILE, header_of, read_folder
    from reasoner.trail.clinic import start_using
    from reasoner.trail.files import make_folder, refusing, write_new
    from reasoner.trail.paths import home

    folder: Path = args.folder
    state = home(os.environ)
    if (folder / CLINIC_FILE).exists():
        _, problems = header_of(read_folder(folder)[0])
        if problems:
            raise InputRefused(problems)
        start_using(state, folder)
        print(f"{folder}: in use from now on. Nothing changes until: reasoner knowledge publish")
        return 0
    if folder.is_dir() and any(folder.iterdir()):
        hint = "give an empty or new folder"
        raise InputRefused([Problem("O-CLINIC", "this folder holds other things", hint, str(folder))])
    name, prefix = args.name.strip(), args.prefix.strip()
    if not name or not prefix:
        hint = "for example: reasoner knowledge start DIR --name 'North Clinic' --prefix nc"
        raise InputRefused([Problem("O-CLINIC", "a new folder needs a name and a prefix", hint)])
    ident = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_") or "clinic"
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    text = (
        "# Whose folder this is. Your own entries have ids that begin with the prefix.\n"
        f'clinic: {ident}\nname: "{quoted}"\nprefix: {prefix}\n'
    )
    _, problems = header_of({CLINIC_FILE: text.encode()})
    if problems:
        raise InputRefused(problems)
    with refusing(folder, "make the clinic's folder"):
        make_folder(folder)
        write_new(folder / CLINIC_FILE, text.encode())
    start_using(state, folder)
    print(f"{folder}: made, and in use from now on.")
    print(f"Put changes under {folder}/<region>/<kind>/,")
    print("as the shipped knowledge has them; see knowledge/README.md.")
    print("Nothing changes for anyone until: reasoner knowledge publish")
    return 0


# ------------------------------------------------------------------------------------------------ publish, roll back


def _publish(args: argparse.Namespace) -> int:
    """Fill in base digests, check every region, judge what is looser, show what moves, keep a copy."""
    from reasoner.commands.clinic_effect import effect_of
    from reasoner.trail.clinic import publish
    from reasoner.trail.paths import home

    folder = draft_folder()
    by = clinician_code(args.by)
    stamped = stamp(folder, args.knowledge)
    for line in stamped:
        print(line)
    copy = draft_copy(folder)
    found, lines = effect_of(args.knowledge, copy)
    for line in lines:
        print(line)
    if found:
        for problem in found[:MOST_LINES]:
            print(problem)
        if len(found) > MOST_LINES:
            print(f"and {len(found) - MOST_LINES} more: reasoner knowledge check {folder} --all")
        print("Not published; the copy in use stays.")
        return 1
    now = publish(home(os.environ), copy.files, at=datetime.now().astimezone().isoformat(timespec="seconds"), by=by)
    assert now.copy is not None
    print(f"Published: copy {now.copy.digest[:12]}. Sessions use it from now on.")
    print("Undo: reasoner knowledge rollback")
    return 0


def _rollback(args: argparse.Namespace) -> int:
    from reasoner.trail.clinic import roll_back
    from reasoner.trail.paths import home

    at = datetime.now().astimezone().isoformat(timespec="seconds")
    now = roll_back(home(os.environ), at=at, by=clinician_code(args.by), to=args.to)
    used = f"Copy {now.copy.digest[:12]} is" if now.copy is not None else "The shipped knowledge alone is"
    print(f"{used} in use again. The folder being edited stays as it is.")
    return 0


def stamp(folder: Path, base: Path | None) -> list[str]:
    """Write `base:` into every patch that has none, and keep what the shipped entry said; one line told for each."""
    from reasoner.graph.load import default_folder, shipped_entries
    from reasoner.graph.overlay.stamp import stamped
    from reasoner.trail.files import refusing, write_whole

    shipped = shipped_entries(base if base is not None else default_folder())
    told = []
    for change in stamped(draft_copy(folder).files, shipped):
        with refusing(folder / change.name, "fill in the base digest"):
            for name, data in change.writes.items():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                write_whole(folder / name, data)
        told += [f"{change.name}: base of {ident} filled in" for ident in change.ids]
    return told


# ------------------------------------------------------------------------------------------------ review, copy


def _review(args: argparse.Namespace) -> int:
    """Old base, new base and ours side by side for each patch."""
    from reasoner.graph.load import default_folder, shipped_entries
    from reasoner.graph.overlay.stamp import kept_base, restamped
    from reasoner.trail.files import refusing, write_whole

    folder = draft_folder()
    copy = draft_copy(folder)
    knowledge = _with(args, copy)
    assert knowledge.clinic is not None
    entries = [
        e for e in knowledge.clinic.entries if e.what != "adds" and (e.moved if args.id is None else e.id == args.id)
    ]
    if args.id is not None and not entries:
        near = nearest(args.id, [e.id for e in knowledge.clinic.entries])
        hint = f"did you mean {near[0]}?" if near else "reasoner knowledge diff shows what the folder changes"
        raise InputRefused([Problem("O-TARGET", f"the clinic's folder does not change {args.id}", hint)])
    if not entries:
        print("Every patch was written against the shipped entries as they are.")
    shipped = shipped_entries(args.knowledge if args.knowledge is not None else default_folder())
    for entry in entries:
        from reasoner.graph.overlay.show import side_by_side

        key = (args.region, entry.kind, entry.id)
        print("\n".join(side_by_side(entry, kept_base(folder, entry), shipped.get(key, {}), knowledge)))
        if args.keep and entry.moved:
            name = entry.file.removeprefix("clinic/")
            with refusing(folder / name, "fill in the base digest"):
                write_whole(folder / name, restamped(copy.files[name], entry))
            print(f"{name}: base of {entry.id} is now {entry.base_now}; ours holds from the next publish on")
    return 0


def _with(args: argparse.Namespace, copy: ClinicCopy) -> Knowledge:
    from reasoner.graph.load import default_folder, load

    folder = args.knowledge if args.knowledge is not None else default_folder()
    knowledge, problems = load(folder, args.region, clinic=copy)
    if knowledge is None:
        raise InputRefused(p for p in problems if p.level == "error")
    return knowledge


def _copy(args: argparse.Namespace) -> int:
    """A shipped option, finding or hypothesis as the beginning of one's own: load classes stay, evidence goes."""
    from reasoner.graph.load import default_folder, shipped_entries
    from reasoner.graph.overlay.copying import copied
    from reasoner.trail.files import refusing, write_new

    folder = draft_folder()
    shipped = shipped_entries(args.knowledge if args.knowledge is not None else default_folder())
    prefix = _prefix(folder)
    name, text, said = copied(shipped, args.region, args.id, args.new, prefix)
    path = folder / name
    with refusing(path, "write the copy"):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_new(path, text.encode())
    print(f"{path}: written")
    for line in said:
        print(textwrap.fill(line, WIDTH))
    return 0


def _prefix(folder: Path) -> str:
    from reasoner.graph.overlay.folder import header_of

    header, problems = header_of(draft_copy(folder).files)
    if header is None:
        raise InputRefused(problems)
    return header.prefix


# ------------------------------------------------------------------------------------------------ diff, impact


def check_regions(
    folder: Path, base: Path, check: Callable[[Path, str, ClinicCopy | None], dict[str, Any]]
) -> list[dict[str, Any]]:
    """Check a clinic's folder over every region it bears on; an empty one over all."""
    from reasoner.commands.clinic_effect import regions_of, strange_regions
    from reasoner.graph.files import regions
    from reasoner.graph.overlay.entries import ClinicCopy
    from reasoner.graph.overlay.folder import read_folder

    files, problems = read_folder(folder)
    copy = ClinicCopy(files, _today())
    problems += strange_regions(base, copy)
    results = [check(base, region, copy) for region in regions_of(base, copy) or regions(base)[:1]]
    return [*results, {"region": "clinic", "knowledge": "", "counts": {}, "problems": problems}]


def _pair(args: argparse.Namespace) -> Iterator[tuple[str, Knowledge, Knowledge]]:
    """(region, before, after) for every region the folder bears on."""
    from reasoner.commands import clinic_copy
    from reasoner.commands.clinic_effect import regions_of, strange_regions
    from reasoner.graph.load import default_folder, load

    folder: Path = args.folder if args.folder is not None else draft_folder()
    base = args.knowledge if args.knowledge is not None else default_folder()
    copy = draft_copy(folder)
    strange = strange_regions(base, copy)
    if strange:
        raise InputRefused(strange)
    published = clinic_copy() if args.against == "published" else None
    for region in regions_of(base, copy):
        before, wrong = load(base, region, clinic=published)
        after, problems = load(base, region, clinic=copy)
        if before is None or after is None:
            raise InputRefused(p for p in (*wrong, *problems) if p.level == "error")
        yield region, before, after


def _diff(args: argparse.Namespace) -> int:
    from reasoner.upkeep.difference import difference, difference_lines

    any_region = False
    for region, before, after in _pair(args):
        any_region = True
        print(f"{region}, against the {args.against} knowledge:")
        print("\n".join(difference_lines(difference(before, after))))
        for note in after.clinic.notes if after.clinic is not None else ():
            print(f"note: {note}")
    if not any_region:
        print("The folder changes nothing yet.")
    return 0


def _impact(args: argparse.Namespace) -> int:
    from reasoner.commands.clinic_effect import case_files, looked_at
    from reasoner.upkeep.impact import impact, impact_lines

    missed = False
    any_region = False
    for region, before, after in _pair(args):
        any_region = True
        found = impact(before, after, looked_at(before, after, case_files(args.cases), tuple(args.trail)))
        print(f"{region}, against the {args.against} knowledge:")
        print("\n".join(impact_lines(found, 10**6 if args.all else 12)))
        missed = missed or bool(found.missed)
    if not any_region:
        print("The folder changes nothing yet.")
    return 1 if missed else 0


HANDLERS = {
    "start": _start, "publish": _publish, "rollback": _rollback, "review": _review, "copy": _copy, "diff": _diff,
    "impact": _impact,
}  # fmt: skip
