"""Opening a case that somebody else may have open: wait for them, look only, or take it over on purpose."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.problems import InputRefused

if TYPE_CHECKING:
    from reasoner.trail.holding import Hold, Holder

__all__ = ["add_desk_arguments", "hold_case"]

_LONG = 12 * 3600.0  # seconds; waiting at a terminal is ended by Ctrl-C


def add_desk_arguments(parser: argparse.ArgumentParser) -> None:
    """What to do if the case is open elsewhere."""
    parser.add_argument("--take-over", action="store_true", help="take over a visit that somebody else has open")
    parser.add_argument("--wait", metavar="SECONDS", type=float, default=0.0, help="wait for whoever has it open")
    parser.add_argument("--read-only", action="store_true", help="look only; nothing is recorded")


def hold_case(args: argparse.Namespace, state: Path, case: str, by: str, *, ask: bool) -> Hold | None:
    """The case held by us; None: to be looked at only. `ask`: there is a terminal to ask at.

    InputRefused, naming who has it and since when, if it is open elsewhere and nothing says what to do.
    """
    from reasoner.trail.holding import hold

    if args.read_only:
        return None

    def tried(wait: float = 0.0, take_over: bool = False) -> Hold:
        now = datetime.now().astimezone()
        return hold(state, case, by=by, now=now, wait=wait, take_over=take_over, waiting=_waiting)

    try:
        return tried(args.wait, args.take_over)
    except InputRefused as refused:
        if not ask or refused.problems[0].code != "T-HELD":
            raise
        print(refused.problems[0].message)
        answer = input("w wait for them, r read only, t take it over, Enter leave: ").strip().lower()
        if answer in ("w", "wait"):
            return tried(wait=_LONG)
        if answer in ("r", "read"):
            args.read_only = True
            return None
        if answer in ("t", "take"):
            args.take_over = True
            return tried(take_over=True)
        raise


def _waiting(other: Holder) -> None:
    print(f"open: {other}; waiting (Ctrl-C stops)", flush=True)
