"""`reasoner report CASE`: the visit note on the screen, or a document that leaves (`--as`), which is recorded."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.problems import InputRefused, Problem
from reasoner.visible import json_text

if TYPE_CHECKING:
    from reasoner.reports.dossier import Dossier
    from reasoner.reports.make import Made
    from reasoner.trail.store import Trail

__all__ = ["add_arguments", "report_text", "run"]

KINDS = ("note", "letter", "handover", "home", "html", "fhir", "json")
FORMATS = ("text", "markdown", "html")
# entries that say nothing new of the case
_SILENT = ("exported", "resumed", "paused", "clinic_stated", "text_removed", "endings_joined")
_LARGEST = 20_000_000  # bytes of a bundle


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner report`."""
    parser.add_argument("case", metavar="CASE", nargs="?", help="a case such as oak-17; `reasoner where` tells where")
    kinds = "|".join(KINDS)
    parser.add_argument("--as", dest="kind", choices=KINDS, help=f"a document to hand out ({kinds}); it is recorded")
    parser.add_argument("--format", choices=FORMATS, default="text", help="of note, letter, handover and home")
    parser.add_argument("--out", metavar="FILE", type=Path, help="write it there, readable by you only")
    parser.add_argument("--preview", action="store_true", help="look at it only: nothing is recorded")
    letterhead = "folder with letterhead.toml and templates/ (or $REASONER_LETTERHEAD, or in the state folder)"
    parser.add_argument("--letterhead", metavar="FOLDER", type=Path, help=letterhead)
    parser.add_argument("--dates", choices=("real", "relative"), default="real", help="or days from the first visit")
    parser.add_argument("--language", metavar="ID", default="en", help="of the home sheet; en unless given")
    parser.add_argument("--not-reviewed", action="store_true", help="take a translation no clinician has reviewed")
    parser.add_argument("--free-text-read", action="store_true", help="you read the free text: nobody is named")
    parser.add_argument("--icf", action="store_true", help="fhir: a few ICF codes beside our own")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of --as json")
    parser.add_argument("--read", metavar="FILE", type=Path, help="a bundle of ours: print the snapshot it holds")
    parser.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")
    parser.add_argument("--role", default=None, help="yours (or $REASONER_ROLE); default physio")


def run(args: argparse.Namespace) -> int:
    """Print or write one document."""
    if args.schema:
        from reasoner.reports.record import schema_text

        print(schema_text(), end="")
        return 0
    if args.read is not None:
        print(_snapshot(args.read, args), end="")
        return 0
    if args.case is None:
        raise InputRefused([Problem("", "which case?", "`reasoner where` tells where they are")])
    if args.kind is None:
        print(report_text(args.case, args.knowledge, args.without_clinic), end="")
        return 0
    return _hand_out(args)


def report_text(case: str, folder: object = None, without_clinic: bool = False) -> str:
    """The note as text, to look at. Raises InputRefused if the case cannot be read."""
    from reasoner.reports.note import note
    from reasoner.reports.templates import render

    dossier, _ = _dossier(argparse.Namespace(
        case=case, knowledge=folder, without_clinic=without_clinic, by=None, role=None, letterhead=None, dates="real"
    ))  # fmt: skip
    return render(note(dossier), "text", dossier.clinic.templates)


def _dossier(args: argparse.Namespace) -> tuple[Dossier, Trail]:
    """The case as it stands at its last clinical entry, and its trail."""
    from datetime import datetime

    import reasoner
    from reasoner.advice.advise import advise
    from reasoner.commands.clinician import clinician_code, clinician_role
    from reasoner.consult.sitting import state_of_trail
    from reasoner.reports.dossier import Dossier
    from reasoner.reports.letterhead import read_letterhead
    from reasoner.trail.paths import home
    from reasoner.trail.store import Trail

    state_folder = home(os.environ)
    trail = Trail.open(state_folder, args.case)
    region = str(trail.header.get("region", ""))
    knowledge = load_knowledge(args.knowledge, region, without_clinic=args.without_clinic)
    named = args.letterhead or (Path(env) if (env := os.environ.get("REASONER_LETTERHEAD")) else None)
    clinic = read_letterhead(named or state_folder / "letterhead", asked=named is not None)
    state = state_of_trail(trail.entries)
    last = next((e for e in reversed(trail.entries) if e.event not in _SILENT), trail.entries[-1])
    now = max(datetime.now().astimezone(), last.at)  # an invented case may have been played ahead of the clock
    dossier = Dossier(
        knowledge, state, advise(knowledge, state, last.at), as_of=last.at, now=now,
        by=clinician_code(args.by), role=clinician_role(args.role), count=trail.head.count, head=trail.head.hash,
        engine=reasoner.__version__, clinic=clinic, dates=args.dates, recorded_with=last.knowledge,
    )  # fmt: skip
    return dossier, trail


def _hand_out(args: argparse.Namespace) -> int:
    """A document that leaves: looked through, made, recorded, then written."""
    from reasoner.reports.make import make

    dossier, trail = _dossier(args)
    _require_reviewed(dossier, args)
    _look_through(dossier, args)
    if args.out is not None and args.out.exists():
        raise InputRefused([Problem("R-OUT", "it is already there", "choose another name", str(args.out))])
    made = make(dossier, args.kind, args.format, language=args.language, icf=args.icf)
    for remark in made.remarks:
        print(f"note: {remark}", file=sys.stderr)
    if not args.preview:
        _record(trail, dossier, made)
    _write(made.text, args)
    return 0


def _require_reviewed(dossier: Dossier, args: argparse.Namespace) -> None:
    sheet = dossier.knowledge.region.sheet.get(args.language)
    if args.kind != "home" or args.language == "en" or sheet is None or sheet.reviewed or args.not_reviewed:
        return
    message = f"the wording in {args.language} is a draft that no clinician has reviewed"
    raise InputRefused([Problem("R-LANGUAGE", message, "to take it all the same: --not-reviewed")])


def _look_through(dossier: Dossier, args: argparse.Namespace) -> None:
    """Refuse what looks like a person named in the free text; say what only may be one."""
    from reasoner.reports.privacy import scan_case

    found = scan_case(dossier.knowledge, dossier.state, dossier.now.date())
    refused = [s for s in found if s.sure and not args.free_text_read]
    if refused:
        hint = "take it out (reasoner trail), or after reading it: --free-text-read"
        raise InputRefused(Problem("R-PRIVACY", f"{s.place}: this looks like {s.looks_like}", hint) for s in refused)
    for one in found:
        if not args.free_text_read:
            print(f"note: {one.place}: {one.looks_like}; look at it before it leaves", file=sys.stderr)


def _record(trail: Trail, dossier: Dossier, made: Made) -> None:
    from reasoner.case.codec import encode

    line = encode(made.event)
    trail.append(
        line.name, line.payload, at=dossier.now, by=dossier.by, role=dossier.role, knowledge=dossier.knowledge.digest,
        after=dossier.count,
    )  # fmt: skip


def _write(text: str, args: argparse.Namespace) -> None:
    if args.out is None:
        print(text, end="")
        return
    from reasoner.trail.files import refusing, write_new

    with refusing(args.out, "write the document (it is recorded as handed out)"):
        write_new(args.out, text.encode("utf-8"))
    print(f"{args.kind} written to {args.out}")


def _snapshot(file: Path, args: argparse.Namespace) -> str:
    """The snapshot a bundle of ours holds, as JSON that `reasoner consider` reads."""
    from reasoner.reports.fhir.read import region_of, snapshot_of_bundle
    from reasoner.trail.files import read_regular, refusing
    from reasoner.trail.line import BadLine, parse_json

    with refusing(file, "read the bundle"):
        raw = read_regular(file, _LARGEST)
    try:
        data = parse_json(raw)
    except BadLine as error:
        hint = "give a bundle that this tool wrote"
        raise InputRefused([Problem("H-DOCUMENT", "not JSON", hint, str(file))]) from error
    knowledge = load_knowledge(args.knowledge, region_of(data), without_clinic=args.without_clinic)
    return json_text(snapshot_of_bundle(data, knowledge)) + "\n"
