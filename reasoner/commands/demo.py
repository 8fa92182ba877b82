"""`reasoner demo`: an invented patient from intake to plan, recorded as a demo trail, verified and printed."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from reasoner.commands import load_knowledge
from reasoner.problems import InputRefused, Problem

__all__ = ["SCENARIO", "add_arguments", "run", "scenario_folder"]

SCENARIO = "first_visit.txt"
MARK = "INVENTED PATIENT"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner demo`."""
    parser.add_argument("--brief", action="store_true", help="only the end: the verified record and the note")


def scenario_folder() -> Path:
    """The bundled scenarios: inside an installed package, or beside it in a working tree."""
    from importlib.resources import files

    package = Path(str(files("reasoner")))
    shipped = package / "_case_scenarios"
    return shipped if shipped.is_dir() else package.parent / "case_scenarios"


def run(args: argparse.Namespace) -> int:
    """Play the bundled visit through the session's own parser and recorder, then verify and show the record."""
    import os
    import random
    from datetime import datetime

    from reasoner.commands.report import report_text
    from reasoner.consult.naming import new_case
    from reasoner.consult.sitting import Sitting
    from reasoner.prompt.script import run_script
    from reasoner.trail.paths import cases, home
    from reasoner.trail.verify import anchor_of, verify
    from reasoner.views.page import Page
    from reasoner.views.render import make_console, show

    script = scenario_folder() / SCENARIO
    if not script.is_file():
        raise InputRefused([Problem("", "the bundled scenario is missing", "install again", str(script))])
    knowledge, state = load_knowledge(args.knowledge), home(os.environ)
    known = cases(state) if (state / "cases").is_dir() else []
    case = new_case(known, random.SystemRandom().choice)
    sitting, _ = Sitting.begin(
        knowledge, state, case, "demo", clock=lambda: datetime.now().astimezone(), by="demo", role="physio"
    )
    console = make_console()

    def view(page: Page) -> None:
        if not args.brief:
            show(page, console)

    print(f"{MARK}. Case {case}. Lines after > are typed; everything is recorded as a demo.\n")
    echo = None if args.brief else (lambda line: print(f"\n> {line}"))
    run_script(sitting, script.read_text(encoding="utf-8").splitlines(), script.name, view, echo=echo)
    path = sitting.trail.path
    problems = [p for p in verify(path, anchor_of(state, path)) if p.level == "error"]
    for problem in problems:
        print(problem, file=sys.stderr)
    head = sitting.trail.head
    print(f"\n{MARK}. The record: {head.count} entries, " + ("NOT verified" if problems else "verified: chain and end"))
    print(f"Read it again with: reasoner report {case}\n")
    print(report_text(case, args.knowledge), end="")
    return 1 if problems else 0
