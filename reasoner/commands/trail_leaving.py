"""`reasoner trail export|erase`: a case that leaves without what points to a person, and a case that goes for good."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path

from reasoner.commands import load_knowledge
from reasoner.commands.clinician import clinician_code
from reasoner.problems import InputRefused, Problem

__all__ = ["erase_case", "export_trail"]


def export_trail(args: argparse.Namespace, state: Path) -> int:
    """Write the de-identified trail, and record that it left."""
    if not args.deidentified:
        hint = "add --deidentified; with everything in it: reasoner pack FILE --case CASE"
        raise InputRefused([Problem("T-EXPORT", "only a de-identified trail is exported", hint)])
    _export(args, state, args.file, args.out)
    return 0


def _export(args: argparse.Namespace, state: Path, case: str, out: Path | None) -> None:
    import hashlib

    from reasoner.case.codec import encode
    from reasoner.case.events import Exported
    from reasoner.consult.sitting import recorded_of
    from reasoner.reports.deidentified import deidentified
    from reasoner.trail.files import refusing, write_new
    from reasoner.trail.store import Trail

    trail = Trail.open(state, case)
    knowledge = load_knowledge(args.knowledge, str(trail.header.get("region", "")), without_clinic=True)
    text = deidentified(knowledge, recorded_of(trail.entries))
    digest = "sha256:" + hashlib.sha256(text.encode()).hexdigest()
    line = encode(Exported("deidentified", digest, trail.head.count, trail.head.hash))
    trail.append(
        line.name, line.payload, at=datetime.now().astimezone(), by=clinician_code(args.by), role="physio",
        knowledge=trail.entries[-1].knowledge, after=len(trail.entries),
    )  # fmt: skip
    if out is None:
        print(text, end="")
        return
    with refusing(out, "write the export (it is recorded as handed out)"):
        write_new(out, text.encode())
    print(f"{out}: {text.count(chr(10)) - 1} events; days instead of dates, no free text. Read it before it leaves.")


def erase_case(args: argparse.Namespace, state: Path) -> int:
    """Offer a copy, ask for the case's name, erase. Exit 2 and nothing changed without that name."""
    from reasoner.trail.ended import erase
    from reasoner.trail.holding import hold
    from reasoner.trail.packlog import packs_of
    from reasoner.trail.paths import beside, check_case

    case, by = check_case(args.file), clinician_code(args.by, needed=True)
    found = beside(state, case)
    if not [p for p in found if p.suffix != ".erased"]:
        raise InputRefused([Problem("T-CASE", f"there is no case {case} to erase", "`reasoner where` tells where")])
    asked = sys.stdin.isatty()
    if args.export is not None:
        _export(args, state, case, args.export)
    elif not asked and args.confirm is None:
        hint = f"a copy first: --export FILE (de-identified) or reasoner pack FILE --case {case}; then --confirm {case}"
        raise InputRefused([Problem("T-ERASE", "this cannot be undone", hint)])
    elif asked and args.confirm is None:
        name = input("A de-identified copy first? A file name, or Enter for none: ").strip()
        if name:
            _export(args, state, case, Path(name))
    typed = args.confirm if args.confirm is not None else input(f"To erase it for good, type {case}: ").strip()
    if typed != case:
        raise InputRefused([Problem("T-ERASE", f"that is not {case}", "nothing was erased")])
    now = datetime.now().astimezone()
    copies = packs_of(state, case, datetime.fromtimestamp(0, now.tzinfo))
    held = hold(state, case, by=by, now=now)
    try:
        lines = erase(state, case, by=by, at=now)
    finally:
        held.release()
    print(f"{case}: {lines} lines and everything beside them erased. A note of when and by whom stays.")
    for file, at in copies:
        print(f"  out of reach: the pack {file} of {at[:10]} still holds it")
    print("Check that your records may be erased: local rules on keeping health records come first.")
    return 0
