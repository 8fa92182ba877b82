"""`reasoner trail ...`: is a record what was recorded; and what is done with a record as a whole.

Exit 0 fine, 1 problems found, 2 wrong input.
"""

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
    actions = parser.add_subparsers(dest="action", metavar="verify|sign|seal|unseal|join|export|erase", required=True)
    verify = actions.add_parser("verify", help="look for changed, missing or reordered lines and a missing end")
    verify.add_argument("file", nargs="?", metavar="FILE", help="a trail, or a case such as oak-17")
    verify.add_argument("--all", action="store_true", help="every trail of the state folder")
    _case(actions, "sign", "sign the end of a closed case with your own key")
    seal = _case(actions, "seal", "encrypt a closed case; it has to be unsealed to be read")
    seal.add_argument("--to", metavar="RECIPIENT", action="append", default=[], help="age1...; may be repeated")
    unseal = _case(actions, "unseal", "bring a sealed case back")
    unseal.add_argument("--key", metavar="KEYFILE", type=Path, default=None, help="age key; default: yours")
    join = _case(actions, "join", "two endings of one case, as a sync leaves them: see both, go on with one")
    join.add_argument("copy", nargs="?", metavar="FILE", type=Path, help="the other file, if there are several")
    join.add_argument("--keep", choices=("here", "there"), help="go on with this one; the other stays beside it")
    export = _case(actions, "export", "days instead of dates, no free text, no names or codes")
    export.add_argument("--deidentified", action="store_true")
    export.add_argument("--out", metavar="FILE", type=Path, help="write it there, readable by you only")
    erase = _case(actions, "erase", "a case and everything beside it, for good; a note of it stays")
    erase.add_argument("--export", metavar="FILE", type=Path, help="write a de-identified copy first")
    erase.add_argument("--confirm", metavar="CASE", help="its name again, where nobody can be asked")


def _case(
    actions: argparse._SubParsersAction[argparse.ArgumentParser], name: str, about: str
) -> argparse.ArgumentParser:
    parser = actions.add_parser(name, help=about)
    parser.add_argument("file", metavar="CASE")
    parser.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")
    return parser


def run(args: argparse.Namespace) -> int:
    """Do what was asked of one case, or verify one trail or all of them."""
    from reasoner.trail.paths import check_case, home

    state = home(os.environ)
    if args.action == "verify":
        return _verify(args, state)
    from reasoner.commands import trail_kept, trail_leaving

    check_case(args.file)
    does = {
        "sign": trail_kept.sign_trail, "seal": trail_kept.seal_case, "unseal": trail_kept.unseal_case,
        "join": trail_kept.join_endings, "export": trail_leaving.export_trail, "erase": trail_leaving.erase_case,
    }  # fmt: skip
    return does[args.action](args, state)


def _verify(args: argparse.Namespace, state: Path) -> int:
    from reasoner.trail.verify import anchor_of, verify, verify_all

    if args.all == (args.file is not None):
        raise InputRefused([Problem("", "reasoner trail verify: give one trail, or --all", "reasoner where")])
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

    problems = [*problems, *_signature(path)]
    bad = any(problem.level == "error" for problem in problems)
    for problem in problems[:MOST_LINES]:
        print(problem if problem.level == "error" else f"note: {problem}")
    if len(problems) > MOST_LINES:
        print(f"and {len(problems) - MOST_LINES} more")
    if bad:
        print(f"{path}: not as recorded")
    elif path.exists():
        entries, _ = read(path)
        head = entries[-1]
        kind = entries[0].payload.get("kind")
        print(f"{path}: {len(entries)} lines, {kind}, whole; last {head.hash.removeprefix('sha256:')[:12]}")
    return bad


def _signature(path: Path) -> list[Problem]:
    from reasoner.trail.keys import signing_key
    from reasoner.trail.read import read
    from reasoner.trail.signing import check_signature, signature_file

    if not signature_file(path).exists() or not path.exists():
        return []
    return check_signature(path, read(path)[0], signing_key(os.environ))
