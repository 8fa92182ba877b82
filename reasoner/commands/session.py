"""`reasoner session [CASE|--new]`: a visit at the terminal, or from a script or pipe with the same lines."""

from __future__ import annotations

import argparse
import dataclasses
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.commands.at_desk import add_desk_arguments, hold_case
from reasoner.commands.clinician import ROLES, clinician_code, clinician_role
from reasoner.problems import InputRefused, Problem, nearest
from reasoner.visible import visible

if TYPE_CHECKING:
    from reasoner.consult.sitting import Outcome, Sitting
    from reasoner.graph.knowledge import Knowledge
    from reasoner.trail.holding import Hold
    from reasoner.trail.store import Entry, Trail

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner session`."""
    parser.add_argument("case", metavar="CASE", nargs="?", help="a case such as oak-heron-17")
    parser.add_argument("--new", action="store_true", help="begin a new case; its name is drawn unless CASE gives one")
    parser.add_argument("--script", metavar="FILE", type=Path, help="take the lines from a file instead of the keys")
    parser.add_argument("--kind", choices=("real", "demo", "practice"), default="real", help="of a new case, for good")
    parser.add_argument("--region", metavar="ID", default=None, help="knowledge for a new case")
    add_desk_arguments(parser)
    parser.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")
    parser.add_argument("--role", choices=ROLES, default=None, help="yours (or $REASONER_ROLE); default physio")


def run(args: argparse.Namespace) -> int:
    """Open the case and work through it."""
    sitting, outcome, new = _begin(args) if args.new else _take_up(args)
    try:
        _work(args, sitting, outcome, new)
    finally:
        if sitting.trail.hold is not None:
            sitting.trail.hold.release()
    return 0


def _work(args: argparse.Namespace, sitting: Sitting, outcome: Outcome, new: bool) -> None:
    from reasoner.views.render import make_console, show

    console = make_console()
    show(_banner(sitting, outcome, new), console)
    lines = _lines(args)
    if lines is None:
        from reasoner.prompt.loop import run_loop

        run_loop(sitting)
    else:
        from reasoner.prompt.script import run_script

        run_script(sitting, lines, str(args.script or "line"), lambda page: show(page, console))


# ------------------------------------------------------------------------------------------------ the case


def _begin(args: argparse.Namespace) -> tuple[Sitting, Outcome, bool]:
    import random

    from reasoner.consult.naming import new_case
    from reasoner.consult.sitting import Sitting
    from reasoner.trail.paths import cases, check_case, home

    state = home(os.environ)
    knowledge = _knowledge(args, args.region)
    known = cases(state) if (state / "cases").is_dir() else []
    case = check_case(args.case) if args.case else new_case(known, random.SystemRandom().choice)
    sitting, outcome = Sitting.begin(
        knowledge, state, case, args.kind, clock=_now, by=clinician_code(args.by), role=clinician_role(args.role)
    )
    sitting.trail.hold = hold_case(args, state, case, clinician_code(args.by), ask=False)
    return sitting, outcome, True


def _take_up(args: argparse.Namespace) -> tuple[Sitting, Outcome, bool]:
    from reasoner.trail.paths import home
    from reasoner.trail.store import Trail

    state = home(os.environ)
    by, role = clinician_code(args.by), clinician_role(args.role)
    case = _known_case(args, state)
    held = hold_case(args, state, case, by, ask=_at_terminal(args))
    try:
        return _taken_up(args, Trail.open(state, case), held, by, role)
    except BaseException:
        if held is not None:
            held.release()
        raise


def _taken_up(
    args: argparse.Namespace, trail: Trail, held: Hold | None, by: str, role: str
) -> tuple[Sitting, Outcome, bool]:
    from reasoner.consult.commands import Resume
    from reasoner.consult.sitting import Sitting

    trail.hold = held
    knowledge = _knowledge(args, args.region or str(trail.header.get("region")))
    last = trail.entries[-1]
    sitting, outcome = Sitting.take_up(
        knowledge, trail, clock=_now, by=by, role=role, take_over=args.take_over, read_only=held is None
    )
    if outcome.needs == ("take_over",) and _at_terminal(args):
        answer = input(visible(f"{outcome.problems[0].message}. Take it over? [y/n] "))
        if answer.strip().lower() in ("y", "yes"):
            outcome = sitting.submit([Resume(take_over=True)])
    if outcome.refused:
        raise InputRefused(outcome.problems)
    return sitting, dataclasses.replace(outcome, says=(*outcome.says, *_differs(sitting, last))), False


def _differs(sitting: Sitting, last: Entry) -> tuple[str, ...]:
    """What comes out differently than at the last entry. Nothing is worked out where the knowledge is the same."""
    knowledge = sitting.knowledge
    if last.knowledge == knowledge.digest:
        return ()
    from reasoner.review.then import read_again
    from reasoner.upkeep.resumed import resumed_lines

    try:
        then = read_again(sitting.trail.home, last.knowledge, knowledge.region.id, f"{last.at:%Y-%m-%d}")
    except InputRefused:  # a changed archive is for `review` to tell; the visit goes on
        then = None
    return resumed_lines(last.knowledge, then, knowledge, sitting.state, sitting.clock())


def _known_case(args: argparse.Namespace, state: Path) -> str:
    """The case meant. A mistyped name is asked about, or refused in a script; it never becomes a new case."""
    from reasoner.trail.paths import cases, check_case, ended

    known = cases(state) if (state / "cases").is_dir() else []
    if args.case is None:
        listed = f"there are: {', '.join(known[-6:])}" if known else "there are none yet"
        raise InputRefused([Problem("", "which case?", f"{listed}; a new one: reasoner session --new")])
    case = check_case(args.case)
    if case in known:
        return case
    if problems := ended(state, case):
        raise InputRefused(problems)
    near = nearest(case, known)
    if near and _at_terminal(args):
        answer = input(f"There is no case {case}. Do you mean {near[0]}? [y/n] ")
        if answer.strip().lower() in ("y", "yes"):
            return near[0]
    hint = f"nearest: {', '.join(near)}" if near else "a new one: reasoner session --new"
    raise InputRefused([Problem("", f"there is no case {case}", hint)])


def _knowledge(args: argparse.Namespace, region: str | None) -> Knowledge:
    aside = bool(args.without_clinic)
    if region is None:
        return load_knowledge(args.knowledge, without_clinic=aside)
    return load_knowledge(args.knowledge, region, without_clinic=aside)


# ------------------------------------------------------------------------------------------------ its lines


def _at_terminal(args: argparse.Namespace) -> bool:
    return args.script is None and sys.stdin.isatty()


def _lines(args: argparse.Namespace) -> Iterable[str] | None:
    """Lines of the script or pipe; None at a terminal."""
    from reasoner.prompt.lines import lines_of, piped_lines

    if args.script is not None:
        return lines_of(args.script)
    return None if sys.stdin.isatty() else piped_lines(sys.stdin.buffer)


def _now():  # type: ignore[no-untyped-def]
    from datetime import datetime

    return datetime.now().astimezone()


def _banner(sitting: Sitting, outcome: Outcome, new: bool):  # type: ignore[no-untyped-def]
    from reasoner.views.opening import opening

    return opening(sitting.situation, sitting.knowledge.digest, outcome.says, new=new)
