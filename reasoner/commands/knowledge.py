"""`reasoner knowledge check | list | show | ...`: is it sound, what is in it, what leads to what.

The clinic's own folder is in `clinic.py`, upkeep in `upkeep.py`.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import textwrap
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reasoner.commands import cache_file, clinic, load_knowledge, selftest, sources, upkeep
from reasoner.problems import InputRefused, Problem, nearest

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge
    from reasoner.graph.overlay.entries import ClinicCopy

__all__ = ["add_arguments", "run"]

MOST_LINES = 10
WIDTH = 80
KINDS = (
    "findings", "groups", "hypotheses", "options", "screens", "measures", "settings", "tools", "procedures",
    "positions", "evidence", "load_classes", "protocols", "alignment",
)  # fmt: skip


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner knowledge`."""
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    check = actions.add_parser("check", help="every problem in a knowledge folder; exit 1 if there is one")
    check.add_argument("folder", nargs="?", type=Path, metavar="DIR", help="default: the knowledge in use")
    check.add_argument("--json", action="store_true", help="as JSON")
    check.add_argument("--all", action="store_true", help="all problems, not the first ten, and notes")
    check.add_argument("--only", metavar="WORD", default="", help="only problems whose file or code contains WORD")
    listing = actions.add_parser("list", help="ids, names, other names, and how to ask or test")
    listing.add_argument("kind", choices=KINDS, metavar="KIND", help=", ".join(KINDS))
    listing.add_argument("--json", action="store_true", help="as JSON")
    listing.add_argument("--region", default="", help="default: the first")


    show = actions.add_parser("show", help="what leads to one id, and where it leads")
    show.add_argument("id", metavar="ID", help="of a finding, hypothesis, option, screen, evidence entry, ...")
    show.add_argument("--json", action="store_true", help="as JSON")
    show.add_argument("--region", default="", help="default: the first")


    clinic.add_actions(actions)
    upkeep.add_actions(actions)
    sources.add_action(actions)
    selftest.add_action(actions)


def run(args: argparse.Namespace) -> int:
    """Run one of the actions; exit code."""
    if getattr(args, "region", None) == "":
        from reasoner.graph.files import first_region
        from reasoner.graph.load import default_folder

        args.region = first_region(args.knowledge if args.knowledge is not None else default_folder())
    others = {**clinic.HANDLERS, **upkeep.HANDLERS, **sources.HANDLERS, **selftest.HANDLERS}
    actions = {"check": _check, "list": _list, "show": _show, **others}
    return actions[args.action](args)


# ------------------------------------------------------------------------------------------------ check


def _check(args: argparse.Namespace) -> int:
    from reasoner.graph.files import first_region, regions
    from reasoner.graph.load import default_folder

    folder: Path = args.folder or args.knowledge or default_folder()
    if not folder.is_dir():
        raise InputRefused([Problem("F-MISSING", "there is no such folder", file=str(folder))])
    if (folder / "clinic.yaml").is_file():
        base = args.knowledge or default_folder()
        results = clinic.check_regions(folder, base, _check_region)
    else:
        results = [_check_region(folder, region) for region in regions(folder) or (first_region(folder),)]
    problems = sorted(dict.fromkeys(p for r in results for p in r["problems"]), key=lambda p: (p.file, p.line))
    problems = [p for p in problems if args.only in p.file or args.only in p.code]
    if args.json:
        found = [dataclasses.asdict(p) for p in problems]
        summary = [{k: v for k, v in r.items() if k != "problems"} for r in results]
        print(json.dumps({"schema": 1, "folder": str(folder), "regions": summary, "problems": found}, indent=2))
    else:
        _print_check(folder, results, problems, args.all)
    return 1 if any(p.level == "error" for p in problems) else 0


def _check_region(folder: Path, region: str, copy: ClinicCopy | None = None) -> dict[str, Any]:
    """Problems and counts of one region; what this code found in the same files before is not worked out again."""
    import reasoner
    from reasoner.graph.load import content_digest
    from reasoner.graph.sealed import code_digest, remembered

    digest = content_digest(folder, region, copy)
    place = cache_file(folder, region, "checked") if digest else None
    key = f"{digest} {code_digest(Path(reasoner.__file__).parent)}"
    found, notes = remembered(place, key, lambda: _checked(folder, region, copy))
    return {**found, "problems": [*notes, *(Problem(**p) for p in found["problems"])]}


def _checked(folder: Path, region: str, copy: ClinicCopy | None) -> dict[str, Any]:
    """The same as plain data, worked out; the arithmetic of the figures included."""
    from reasoner.graph.listing import counts
    from reasoner.graph.load import load
    from reasoner.graph.network import network_problems

    knowledge, problems = load(folder, region, clinic=copy)
    if knowledge is not None:
        problems = [*problems, *network_problems(knowledge), *_compile_problems(knowledge)]
        problems += knowledge.clinic.notes if knowledge.clinic is not None else ()
    digest = knowledge.digest if knowledge is not None else ""
    plain = [dataclasses.asdict(p) for p in problems]
    return {"region": region, "knowledge": digest, "counts": counts(knowledge), "problems": plain}


def _compile_problems(knowledge: Knowledge) -> Iterable[Problem]:
    from reasoner.inference.compile import compile_problems

    return compile_problems(knowledge)


def _print_check(folder: Path, results: list[dict[str, Any]], problems: list[Problem], everything: bool) -> None:
    """The first problems and the counts; notes where all is asked for; a damaged cache always is."""
    errors = [p for p in problems if p.level == "error"]
    damaged = [p for p in problems if p.code == "F-KEPT"]
    notes = [p for p in problems if p.level != "error" and p not in damaged]
    for note in damaged:
        print(f"note: {note}")
    for problem in errors if everything else errors[:MOST_LINES]:
        print(problem)
    for note in notes if everything else ():
        print(f"note: {note}")
    hidden = 0 if everything else len(errors) - MOST_LINES
    if hidden > 0:
        print(f"... and {hidden} more: --all shows them")
    if notes:
        print(f"{folder}: {_count(len(errors), 'problem')}, {_count(len(notes), 'note')} (--all shows them)")
    else:
        print(f"{folder}: {_count(len(errors), 'problem')}")
    for result in results:
        if result["knowledge"]:
            held = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in result["counts"].items())
            print(textwrap.fill(f"{result['region']} {result['knowledge'][:12]}: {held}", WIDTH))


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


# ------------------------------------------------------------------------------------------------ list


def _list(args: argparse.Namespace) -> int:
    from reasoner.graph.listing import rows

    listed = rows(load_knowledge(args.knowledge, args.region, without_clinic=args.without_clinic), args.kind)
    if args.json:
        print(json.dumps(listed, indent=2))
        return 0
    column = min(30, max((len(r["id"]) for r in listed), default=0)) + 2
    for row in listed:
        print("\n".join(_lines(row, column)))
    print(f"{len(listed)} {args.kind.replace('_', ' ')}")
    return 0


def _lines(row: Mapping[str, Any], column: int) -> list[str]:
    """One entry: id in the left column, then name, other names, and the rest, wrapped at 80 columns."""
    also = f" (also: {', '.join(row['aliases'])})" if row.get("aliases") else ""
    rest = [str(row[key]) for key in ("ask", "how", "says", "about") if row.get(key)][:1]
    texts = [f"{row['name']}{also}{_mark(row)}", *rest]
    lines = [line for text in texts for line in textwrap.wrap(text, WIDTH - column) or [""]]
    ident = row["id"]
    if len(ident) >= column:
        return [ident, *(" " * column + line for line in lines)]
    return [f"{ident:<{column}}{lines[0]}", *(" " * column + line for line in lines[1:])]


def _mark(row: Mapping[str, Any]) -> str:
    marks = [str(row[key]).replace("_", " ") for key in ("kind", "list", "lane", "send", "unit") if row.get(key)]
    if row.get("danger"):
        marks.append("danger sign")
    return f" [{', '.join(marks)}]" if marks else ""


# ------------------------------------------------------------------------------------------------ show


def _show(args: argparse.Namespace) -> int:
    from reasoner.graph.network import neighbours
    from reasoner.graph.overlay.show import entry_lines, flat_record, record_of
    from reasoner.graph.pack import FIELDS

    knowledge = load_knowledge(args.knowledge, args.region, without_clinic=args.without_clinic)
    found = record_of(knowledge, args.id)
    rows = neighbours(knowledge, found[1].id if found is not None and found[0] in FIELDS else args.id)
    if rows is None and found is not None:
        rows = {"from": [], "to": []}
    if rows is None:
        near = nearest(args.id, [ident for name in FIELDS.values() for ident in getattr(knowledge, name)])
        hint = f"did you mean {' or '.join(near)}?" if near else "reasoner knowledge list KIND lists them"
        raise InputRefused([Problem("", f"nothing has the id {args.id}", hint)])
    if args.json:
        entry = flat_record(found[1]) if found is not None else {}
        print(json.dumps({"id": args.id, **rows, "entry": entry}, indent=2))
        return 0
    if found is not None:
        kind, record = found
        print(f"{kind.replace('_', ' ')} {args.id}   ({record.place.file}:{record.place.line})")
        print("\n".join(f"  {line}" for line in entry_lines(record)))
    for heading, key in ((f"leads to {args.id}:", "from"), (f"{args.id} leads to:", "to")):
        print(heading)
        for row in rows[key] or [{"kind": "", "id": "nothing", "name": ""}]:
            print(f"  {row['kind'].replace('_', ' '):<11} {row['id']:<32} {row['name'][: WIDTH - 47]}".rstrip())
    return 0
