"""`reasoner trail sign|seal|unseal|join`: a closed case signed or encrypted; two endings of one case looked at."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands.clinician import clinician_code
from reasoner.problems import InputRefused, Problem, one_line

if TYPE_CHECKING:
    from reasoner.trail.line import Entry
    from reasoner.trail.store import Trail

__all__ = ["join_endings", "seal_case", "sign_trail", "unseal_case"]


def sign_trail(args: argparse.Namespace, state: Path) -> int:
    """Sign the end of a closed case with the key of this user, which is made at the first use."""
    from reasoner.trail.keys import key_folder, signing_key
    from reasoner.trail.signing import sign

    by = clinician_code(args.by, needed=True)
    trail = _closed(state, args.file)
    key = signing_key(os.environ, make=True)
    assert key is not None  # it was made
    name = sign(trail.path, trail.entries, key, by=by, at=datetime.now().astimezone())
    print(f"{trail.case}: signed to line {len(trail.entries)} by {by}, key {name}")
    print(f"The key is in {key_folder(os.environ)}; without it nobody can check the signature. Keep a copy elsewhere.")
    return 0


def seal_case(args: argparse.Namespace, state: Path) -> int:
    """Encrypt a closed case; only its sealed file and its anchor stay."""
    from reasoner.trail.ended import seal
    from reasoner.trail.holding import hold

    if not args.to:
        raise InputRefused([Problem("T-AGE", "for whom?", "add: --to age1... (reasoner config key makes one)")])
    held = hold(state, args.file, by=clinician_code(args.by), now=datetime.now().astimezone())
    try:
        _closed(state, args.file)
        print(f"{args.file}: sealed in {seal(state, args.file, args.to)}")
    finally:
        held.release()
    print(f"Nobody can read it without the key. To work on it again: reasoner trail unseal {args.file}")
    return 0


def unseal_case(args: argparse.Namespace, state: Path) -> int:
    """Bring a sealed case back, verified."""
    from reasoner.trail.ended import unseal
    from reasoner.trail.keys import age_key
    from reasoner.trail.paths import case_file

    sealed = case_file(state, args.file).with_suffix(".sealed")
    if not sealed.exists():
        raise InputRefused([Problem("T-CASE", f"there is no sealed case {args.file}", "", str(sealed))])
    arrived = unseal(state, args.file, age_key(os.environ, args.key))
    for problem in arrived.problems:
        print(problem)
    print(f"{args.file}: unsealed")
    return 1 if arrived.problems else 0


def _closed(state: Path, case: str) -> Trail:
    """The trail of a case without an open visit."""
    from reasoner.consult.sitting import state_of_trail
    from reasoner.trail.store import Trail

    trail = Trail.open(state, case)
    visits = state_of_trail(trail.entries).visits
    if visits and visits[-1].closed_at is None:
        hint = f"close it first: reasoner session {case}"
        raise InputRefused([Problem("T-CASE", f"visit {visits[-1].number} of {case} is open", hint)])
    return trail


# ------------------------------------------------------------------------------------------------ two endings

_MOST = 40  # lines of an ending on a screen


def join_endings(args: argparse.Namespace, state: Path) -> int:
    """Show both endings; with --keep go on with one, and keep the other beside it. Exit 1 while both stand."""
    from reasoner.trail.endings import endings, join
    from reasoner.trail.holding import hold
    from reasoner.trail.paths import check_case
    from reasoner.trail.store import Stamp

    case = check_case(args.file)
    found = endings(state, case, args.copy)
    print(f"{case}: {found.common} lines in common")
    _show("here", f"{case}.jsonl", found.here)
    _show("there", found.copy.name, found.there)
    if not args.keep:
        print(f"Both are kept. To go on with one: reasoner trail join {case} --keep here (or there) --by CODE")
        return 1
    by, now = clinician_code(args.by, needed=True), datetime.now().astimezone()
    held = hold(state, case, by=by, now=now)
    try:
        last = (found.here or found.there)[-1].knowledge if found.here or found.there else ""
        trail, aside = join(state, found, args.keep, Stamp(now, by, "clinician", last))
    finally:
        held.release()
    print(f"Gone on with: {args.keep} ({len(trail.entries)} lines). The other is kept as {aside.name}.")
    return 0


def _show(which: str, name: str, entries: Sequence[Entry]) -> None:
    print(f"  {which}: {name}, {len(entries)} lines of its own")
    for entry in entries[:_MOST]:
        told = ", ".join(f"{k} {v}" for k, v in {**entry.payload, **entry.texts}.items())
        print(f"  {entry.seq:>5}  {entry.at:%Y-%m-%d %H:%M}  {entry.by:<8}  {entry.event}  {one_line(told, 44)}")
    if len(entries) > _MOST:
        print(f"         and {len(entries) - _MOST} more")
