"""`reasoner trail verify FILE|--all`: is a trail what was recorded? Exit 0 fine, 1 problems found, 2 wrong input."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from pathlib import Path

from reasoner.problems import InputRefused, Problem

__all__ = ["add_arguments", "run"]

MOST_LINES = 10  # of problems of one trail on a screen


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner trail`."""
    actions = parser.add_subparsers(dest="action", metavar="verify", required=True)
    verify = actions.add_parser("verify", help="look for changed, missing or reordered lines and a missing end")
    verify.add_argument("file", nargs="?", metavar="FILE", help="a trail, or a case such as oak-17")
    verify.add_argument("--all", action="store_true", help="every trail of the state folder")


def run(args: argparse.Namespace) -> int:
    """Verify one trail or all of them, and print what was found."""
    from reasoner.trail.paths import home
    from reasoner.trail.verify import anchor_of, verify, verify_all

    if args.all == (args.file is not None):
        raise InputRefused([Problem("", "reasoner trail verify: give one trail, or --all", "reasoner where")])
    state = home(os.environ)
    if args.all:
        found = verify_all(state)
        if not found:
            print(f"No trails in {state}.")
        bad = sum([_say(path, problems) for path, problems in found.items()])
        if found:
            print(f"{len(found)} looked at, {bad} with problems.")
    else:
        path = _path(state, args.file)
        bad = _say(path, verify(path, anchor_of(state, path)))
    return 1 if bad else 0


def _path(state: Path, named: str) -> Path:
    """The trail meant: a file, or the case of that name in the state folder."""
    from reasoner.trail.paths import cases

    path = Path(named)
    if not path.exists() and named in cases(state):
        return state / "cases" / f"{named}.jsonl"
    return path


def _say(path: Path, problems: Sequence[Problem]) -> bool:
    """Print what was found in one trail, problems first; True if there is an error among it."""
    from reasoner.trail.read import read

    bad = any(problem.level == "error" for problem in problems)
    for problem in problems[:MOST_LINES]:
        print(problem if problem.level == "error" else f"note: {problem}")
    if len(problems) > MOST_LINES:
        print(f"and {len(problems) - MOST_LINES} more")
    if bad:
        print(f"{path}: not as recorded")
    else:
        entries, _ = read(path)
        head = entries[-1]
        kind = entries[0].payload.get("kind")
        print(f"{path}: {len(entries)} lines, {kind}, whole; last {head.hash.removeprefix('sha256:')[:12]}")
    return bad
