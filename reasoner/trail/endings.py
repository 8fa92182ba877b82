"""One case with two endings: two machines wrote at once, and a sync kept both files.

Nothing is merged by the program: which ending is the case's is for people who were there. Both are shown; one is gone
on with, the other stays beside it under a name of its own, and an event says so.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from reasoner.problems import InputRefused, Problem
from reasoner.trail import text
from reasoner.trail.anchor import Anchor, compare, read_anchor, write_anchor
from reasoner.trail.files import make_private, refusing, sync_folder
from reasoner.trail.line import BadLine, Entry
from reasoner.trail.lock import locked
from reasoner.trail.paths import anchor_file, case_file, copies, lock_file, text_folder
from reasoner.trail.read import JOINED, scan
from reasoner.trail.store import Stamp, Trail

__all__ = ["Endings", "endings", "join"]


@dataclass(frozen=True, slots=True)
class Endings:
    """`common`: how many lines both share; then the lines each has alone, with the words where they can be found."""

    case: str
    copy: Path
    common: int
    here: Sequence[Entry]
    there: Sequence[Entry]


def endings(home: Path, case: str, copy: Path | None = None) -> Endings:
    """The trail of `case` beside a copy of it; None: the one that lies among the cases.

    InputRefused if there is no copy, or several and none is named, or nothing is common.
    """
    found = [copy] if copy is not None else copies(home, case)
    if len(found) != 1:
        names = ", ".join(p.name for p in found)
        message = f"there are {len(found)} copies of {case}" if found else f"there is no copy of {case}"
        raise InputRefused([Problem("T-JOIN", message, f"name one: {names}" if names else "give its file")])
    here, there = scan(case_file(home, case)).entries, scan(found[0]).entries
    pairs = zip(here, there, strict=False)
    common = next((n for n, (a, b) in enumerate(pairs) if a.hash != b.hash), min(len(here), len(there)))
    if not common:
        message = "it shares no beginning with the case: it is another one"
        raise InputRefused([Problem("T-JOIN", message, "leave it, or move it away", str(found[0]))])
    folder = text_folder(case_file(home, case))
    return Endings(case, found[0], common, here[common:], [_worded(folder, e) for e in there[common:]])


def _worded(folder: Path, entry: Entry) -> Entry:
    file = _texts_of(folder, entry)
    return entry if file is None else _resolved(entry, file)[0]


def _texts_of(folder: Path, entry: Entry) -> Path | None:
    """The file that holds the words of this line, under its own name or the one a sync gave it."""
    if entry.text_hashes and folder.is_dir():
        for path in sorted(folder.glob(f"{entry.seq:06d}*")):
            if not _resolved(entry, path)[1]:
                return path
    return None


def _resolved(entry: Entry, path: Path) -> tuple[Entry, bool]:
    """(the line with the words of this file, whether anything is wrong with them)."""
    texts, _, wrong = text.resolve_file(path, entry)
    return replace(entry, texts=texts), bool(wrong)


def join(home: Path, found: Endings, keep: Literal["here", "there"], stamp: Stamp) -> tuple[Trail, Path]:
    """Go on with one ending; the other stays beside it. (the trail as it now is, where the other is kept).

    InputRefused if it cannot be written; doing it again finishes one that was cut short.
    """
    path, other = case_file(home, found.case), found.copy
    with refusing(path, "join the endings"), locked(lock_file(home, found.case)):
        make_private(other)
        aside = _free(path)
        entries = scan(path if keep == "here" else other).entries
        if keep == "here":
            _anchor_on(home, found.case, path, entries)
            os.rename(other, aside)
        else:
            os.link(path, aside)
            _place_texts(text_folder(path), found, aside)
            _anchor_on(home, found.case, other, entries)
            os.replace(other, path)
        sync_folder(path.parent)
    trail = Trail.open(home, found.case, beside_copies=True)
    left = found.there if keep == "here" else found.here
    told = {"kept": keep, "common": found.common, "aside": aside.name, "lines": len(left)}
    if left:
        told["head"] = left[-1].hash
    trail.append(JOINED, told, at=stamp.at, by=stamp.by, role=stamp.role, knowledge=stamp.knowledge)
    return trail, aside


def _free(path: Path) -> Path:
    number = next(n for n in range(1, 10_000) if not path.with_suffix(f".ending-{n}").exists())
    return path.with_suffix(f".ending-{number}")


def _anchor_on(home: Path, case: str, path: Path, entries: Sequence[Entry]) -> None:
    """An anchor on this ending. One that did not hold it before says that it was begun anew."""
    file = anchor_file(home, case)
    known = None
    with suppress(BadLine):
        known = read_anchor(file)
    fits = known is not None and not any(p.level == "error" for p in compare(path, known, entries))
    since = known.since if known is not None and fits else len(entries)
    write_anchor(file, Anchor(len(entries), entries[-1].hash, since))


def _place_texts(folder: Path, found: Endings, aside: Path) -> None:
    """The words of the kept ending under their own numbers; those of the other under a name that says so."""
    end = aside.suffix.removeprefix(".")
    matching = {e.seq: _texts_of(folder, e) for e in found.there}
    for seq in {e.seq for e in (*found.here, *found.there) if e.text_hashes}:
        own, match = text.file_of(folder, seq), matching.get(seq)
        if match == own:
            continue
        if own.exists():
            os.rename(own, folder / f"{seq:06d}.{end}.json")
        if match is not None:
            make_private(match)
            os.rename(match, own)
    if folder.is_dir():
        sync_folder(folder)
