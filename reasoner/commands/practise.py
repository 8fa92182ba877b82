"""`reasoner practise SCENARIO [--seed N]`, `reasoner practise --random --level easy --seed N`: a simulated patient."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.commands.clinician import clinician_code
from reasoner.problems import InputRefused, Problem

if TYPE_CHECKING:
    from reasoner.consult.sitting import Sitting
    from reasoner.graph.knowledge import Knowledge
    from reasoner.practice.begin import MovedClock
    from reasoner.practice.find import Found
    from reasoner.practice.patient import Patient
    from reasoner.views.page import Page

__all__ = ["add_arguments", "run"]

ROLES = ("physio", "graduate", "mentor")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner practise`."""
    parser.add_argument("scenario", metavar="SCENARIO", nargs="?", help="one of --list, or a scenario file")
    parser.add_argument("--list", action="store_true", help="the written scenarios, without their truth")
    parser.add_argument("--random", action="store_true", help="a patient drawn at random")
    parser.add_argument("--level", default="medium", help="easy, medium or hard; with --random")
    parser.add_argument("--seed", type=int, default=1, help="the same seed gives the same patient")
    parser.add_argument("--case", metavar="CASE", help="take up a practice case that was left open")
    parser.add_argument("--script", metavar="FILE", type=Path, help="take the lines from a file instead of the keys")
    parser.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")
    parser.add_argument("--role", choices=ROLES, default="graduate", help="yours; default graduate")


def run(args: argparse.Namespace) -> int:
    """Play a scenario; everything is recorded as practice, and counted back at the end."""
    from reasoner.commands.demo import scenario_folder
    from reasoner.trail.paths import home

    folder = scenario_folder()
    if args.list:
        return _list(folder, load_knowledge(args.knowledge, without_clinic=args.without_clinic))
    if sum((bool(args.scenario), args.random, bool(args.case))) != 1:
        raise InputRefused([Problem("", "reasoner practise: name a scenario, or --random, or --case", "--list")])
    knowledge = load_knowledge(args.knowledge, without_clinic=args.without_clinic)
    state = home(os.environ)
    begun = _take_up(args, folder, knowledge, state) if args.case else _begin(args, folder, knowledge, state)
    return _play(args, *begun)


def _list(folder: Path, knowledge: Knowledge) -> int:
    from reasoner.graph.scenario import read_scenario, scenario_files

    for ident, path in scenario_files(folder / "patients").items():
        scenario = read_scenario(path.read_bytes(), str(path), knowledge)
        print(f"{ident:<26} {scenario.level:<7} {scenario.name}")
    return 0


def _begin(
    args: argparse.Namespace, folder: Path, knowledge: Knowledge, state: Path
) -> tuple[Sitting, Patient, MovedClock, Found]:
    import random

    from reasoner.consult.naming import new_case
    from reasoner.practice.begin import MovedClock, begin
    from reasoner.practice.find import named, random_patient
    from reasoner.trail.paths import cases

    found = (
        random_patient(args.level, args.seed, folder, knowledge)
        if args.random
        else named(args.scenario, folder, knowledge)
    )
    known = cases(state) if (state / "cases").is_dir() else []
    clock = MovedClock(_now)
    sitting, patient = begin(
        knowledge,
        state,
        new_case(known, random.SystemRandom().choice),
        found.scenario,
        found.digest,
        args.seed,
        clock=clock,
        by=clinician_code(args.by),
        role=args.role,
    )
    return sitting, patient, clock, found


def _take_up(
    args: argparse.Namespace, folder: Path, knowledge: Knowledge, state: Path
) -> tuple[Sitting, Patient, MovedClock, Found]:
    from reasoner.consult.sitting import state_of_trail
    from reasoner.practice.begin import MovedClock, played, take_up
    from reasoner.practice.find import found_again
    from reasoner.trail.store import Trail

    trail = Trail.open(state, args.case)
    simulated = played(state_of_trail(trail.entries))
    if simulated is None:
        raise InputRefused([Problem("", f"{args.case} is not a practice case on a simulated patient")])
    found = found_again(simulated, folder, knowledge)
    if found is None:
        message = f"the scenario {simulated.scenario} is no longer the one this case was played on"
        raise InputRefused([Problem("", message, "begin a new one: reasoner practise SCENARIO")])
    clock = MovedClock(_now)
    sitting, patient = take_up(
        knowledge, trail, found.scenario, clock=clock, by=clinician_code(args.by), role=args.role
    )
    return sitting, patient, clock, found


def _play(args: argparse.Namespace, sitting: Sitting, patient: Patient, clock: MovedClock, found: Found) -> int:
    import sys

    from reasoner.prompt.practising import PracticeDesk
    from reasoner.views.page import Gap, Para
    from reasoner.views.render import make_console, show

    console = make_console()

    def view(page: Page) -> None:
        if page:
            show(page, console)

    script = args.script is not None or not sys.stdin.isatty()
    desk = PracticeDesk(sitting, view, script=script, patient=patient, wait=clock.wait)
    case = sitting.state.case
    view((Para(f"PRACTICE, an invented patient. Case {case}. Everything is recorded as practice.", indent=0), Gap()))
    if script:
        from reasoner.prompt.script import run_script

        run_script(sitting, _lines(args.script), str(args.script or "line"), view, desk=desk)
        if desk.sitting.situation.open_visit is not None:
            print(f"\nLeft open. Go on with: reasoner practise --case {case}")
    else:
        from reasoner.prompt.loop import run_loop

        run_loop(sitting, desk=desk)
    _debrief(sitting, found)
    return 0


def _lines(script: Path | None) -> Iterable[str]:
    """Lines of the script, or of standard input as they arrive."""
    import sys

    from reasoner.prompt.lines import lines_of, piped_lines

    return lines_of(script) if script is not None else piped_lines(sys.stdin.buffer)


def _debrief(sitting: Sitting, found: Found) -> None:
    """What was counted, once a visit has been closed; until then nothing of the truth."""
    from reasoner.review.debrief import debrief
    from reasoner.review.reading import Reading
    from reasoner.views.debriefing import debrief_page
    from reasoner.views.render import make_console, show

    case = sitting.state.case
    if not any(v.closed_at is not None for v in sitting.state.visits):
        return
    reading = Reading.of_sitting(sitting.knowledge, sitting.trail.path, sitting.trail.entries)
    show(debrief_page(debrief(reading, found.scenario), sitting.knowledge), make_console())
    print(f"\nA mentor reads it with: reasoner review {case}")


def _now() -> datetime:
    return datetime.now().astimezone()
