"""`reasoner redact CASE [EVENT]`: take words out of a case for good; without EVENT, list what could be taken out."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands.clinician import clinician_code
from reasoner.problems import one_line

if TYPE_CHECKING:
    from reasoner.trail.line import Entry
    from reasoner.trail.store import Trail

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner redact`."""
    parser.add_argument("case", metavar="CASE")
    parser.add_argument("event", metavar="EVENT", nargs="?", type=int, help="number of the entry; left out: list them")
    parser.add_argument("--text", metavar="NAME", action="append", default=[], help="only this text of the entry")
    parser.add_argument("--why", metavar="WORDS", default="", help="the reason, without the words themselves")
    parser.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")


def run(args: argparse.Namespace) -> int:
    """Remove, look whether anything is left, and name the copies that are out of reach. Exit 1 if words still stand."""
    from reasoner.review.remarks import forget
    from reasoner.trail.packlog import packs_of
    from reasoner.trail.paths import home
    from reasoner.trail.redaction import still_in, to_remove
    from reasoner.trail.store import Stamp, Trail

    state = home(os.environ)
    trail = Trail.open(state, args.case)
    if args.event is None:
        return _list(trail.entries)
    by = clinician_code(args.by, needed=True)
    chosen = to_remove(trail.entries, args.event, args.text, args.why)
    words = tuple(w for w in chosen.values() if w)
    entry = trail.entries[args.event - 1]
    remarks = forget(trail.path, trail.entries, words)  # first: afterwards nobody knows the words to look for
    stamp = Stamp(datetime.now().astimezone(), by, "clinician", trail.entries[-1].knowledge)
    trail.redact(args.event, list(chosen), stamp, args.why)
    print(f"entry {args.event} of {args.case}: {len(chosen)} text(s) removed for good (entry {len(trail.entries)})")
    if remarks:
        print(f"  {remarks} remark(s) quoted them: those words are removed too")
    _say_copies(trail, entry, packs_of(state, args.case, entry.at))
    return _say_left(trail, state, still_in(state, words), words)


def _list(entries: Sequence[Entry]) -> int:
    from reasoner.trail.redaction import standing
    from reasoner.trail.store import REMOVAL

    for entry in entries:
        for name, words in standing(entry).items():
            print(f"{entry.seq:>5}  {entry.event} {name}: {one_line(words, 50)}")
        if entry.event == REMOVAL:
            of = entry.payload.get("of")
            print(f"{entry.seq:>5}  text of entry {of} removed, {entry.at:%Y-%m-%d}, by {entry.by}")
    return 0


def _say_copies(trail: Trail, entry: Entry, packs: Sequence[tuple[str, str]]) -> None:
    """Documents and packs made since the words were written: they are elsewhere and may hold them."""
    out = [f"{e.payload.get('document')} {e.at:%Y-%m-%d}" for e in trail.entries[entry.seq :] if e.event == "exported"]
    out += [f"pack {file} {at[:10]}" for file, at in packs]
    if out:
        print("  made since, out of reach, may hold the words: " + "; ".join(out))


def _say_left(trail: Trail, state: Path, left: Sequence[Path], words: Sequence[str]) -> int:
    from reasoner.trail.redaction import standing

    same = [e.seq for e in trail.entries for w in standing(e).values() if any(x in w for x in words if x)]
    for seq in dict.fromkeys(same):
        print(f"  the same words stand in entry {seq}: reasoner redact {trail.case} {seq}")
    for path in left:
        print(f"  the words still stand in {path.relative_to(state)}")
    return 1 if left else 0
