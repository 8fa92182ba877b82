"""Reading a trail line by line, from the start or from where an earlier reading stopped.

A bad line is named and passed over; the ones after it are still read, so that one damaged byte does not hide a case.
The rules that hold across lines (a removal that was recorded, one first line) are applied once all are read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import BinaryIO

from reasoner.problems import Problem
from reasoner.trail import text
from reasoner.trail.files import refusing, require_regular
from reasoner.trail.line import FIRST_PREVIOUS, MAX_LINE, BadLine, Entry, decode
from reasoner.trail.paths import text_folder

__all__ = [
    "FIRST_EVENT", "JOINED", "KINDS", "MAX_PROBLEMS", "OF_THE_RECORD", "REMOVAL", "Position", "Scan", "across", "read",
    "scan",
]  # fmt: skip

FIRST_EVENT = "case_opened"
"""Event of a trail's first line, and of no other: its payload holds `case` and `kind`."""
REMOVAL = "text_removed"
"""Event that records the removal of free text; its payload holds `of` (a sequence) and `texts` (names)."""
JOINED = "endings_joined"
"""Event that records which of two endings was gone on with, and where the other is kept."""
OF_THE_RECORD = frozenset({REMOVAL, JOINED})
"""Events about the record itself: they say nothing of the case."""
KINDS = ("real", "demo", "practice")
MAX_PROBLEMS = 100


@dataclass(frozen=True, slots=True)
class Position:
    """Where reading stands: bytes and lines read, sequence and hash of the last line."""

    offset: int = 0
    line: int = 0
    seq: int = 0
    hash: str = FIRST_PREVIOUS


@dataclass(slots=True)
class Scan:
    """What was read. `tail`: bytes after the last newline that are no whole line; `unfinished`: only the newline lacks.

    `before` is the position in front of the last line: from there the next reading sees whether it still stands.
    """

    entries: list[Entry] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    removed: dict[tuple[int, str], int] = field(default_factory=dict)  # (seq, name) -> line
    position: Position = Position()
    before: Position = Position()
    tail: bytes = b""
    unfinished: bool = False
    suppressed: int = 0

    def say(self, problem: Problem) -> None:
        """Keep a problem; beyond a hundred only count."""
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(problem)
        else:
            self.suppressed += 1


def read(path: Path) -> tuple[list[Entry], list[Problem]]:
    """Every line that can be read, in order, and all that is wrong. InputRefused if the file cannot be opened."""
    result = scan(path)
    return result.entries, [*result.problems, *across(path, result)]


def scan(path: Path, start: Position = Position()) -> Scan:
    """Read from `start` to the end. InputRefused if the file cannot be opened or read."""
    result = Scan(position=start, before=start)
    with refusing(path, "read the trail"):
        require_regular(path)
        with path.open("rb") as file:
            file.seek(start.offset)
            for raw in _lines(file):
                _take(path, raw, result)
    if result.suppressed:
        result.problems.append(Problem("T-LINE", f"and {result.suppressed} more problems", file=str(path)))
    return result


def _lines(file: BinaryIO) -> Iterator[bytes]:
    """Lines with their newline. Of an endless one, its first `MAX_LINE` + 1 bytes stand for it, with a newline."""
    while raw := file.readline(MAX_LINE + 1):
        if len(raw) > MAX_LINE and not raw.endswith(b"\n"):
            while (rest := file.readline(MAX_LINE)) and not rest.endswith(b"\n"):
                pass
            raw = raw[:MAX_LINE] + b"\xff\n"  # never valid
        yield raw


def _take(path: Path, raw: bytes, result: Scan) -> None:
    """Read one line into `result`."""
    here, number = result.position, result.position.line + 1
    whole = raw.endswith(b"\n")
    try:
        entry = decode(raw[:-1] if whole else raw)
    except BadLine as error:
        if whole:
            result.say(_problem(path, number, "T-LINE", f"cannot be read: {error}"))
            result.before = here
            result.position = Position(here.offset + len(raw), number, here.seq + 1, "")
        else:
            result.tail = raw
        return
    if here.hash and (entry.previous != here.hash or entry.seq != here.seq + 1):
        message = f"does not follow the line before (it is number {entry.seq}, expected {here.seq + 1})"
        hint = "a line was removed, inserted, moved or rewritten here"
        result.say(Problem("T-CHAIN", message, hint, str(path), number))
    elif not here.hash and entry.seq != here.seq + 1:
        result.say(_problem(path, number, "T-CHAIN", f"is number {entry.seq}, expected {here.seq + 1}"))
    if (entry.seq == 1) != (entry.event == FIRST_EVENT):
        result.say(_problem(path, number, "T-KIND", f"a trail has one {FIRST_EVENT} line, its first"))
    result.entries.append(_with_texts(path, number, entry, result))
    result.unfinished = not whole
    result.before = here
    result.position = Position(here.offset + len(raw), number, entry.seq, entry.hash)


def _with_texts(path: Path, number: int, entry: Entry, result: Scan) -> Entry:
    if not entry.text_hashes:
        return entry
    texts, removed, wrong = text.resolve(text_folder(path), entry)
    for message in wrong:
        result.say(_problem(path, number, "T-TEXT", message))
    for name in removed:
        result.removed[entry.seq, name] = number
    return replace(entry, texts=texts)


def across(path: Path, result: Scan) -> list[Problem]:
    """What only shows over the whole trail; `result` is a scan from the start."""
    problems = list(_removals(path, result))
    first = result.entries[0] if result.entries else None
    if first is None:
        problems.append(_problem(path, 1, "T-EMPTY", "nothing is recorded in it"))
    elif first.payload.get("kind") not in KINDS or not isinstance(first.payload.get("case"), str):
        problems.append(_problem(path, 1, "T-KIND", f"its first line does not say {', '.join(KINDS)} and which case"))
    if result.tail or result.unfinished:
        problems.append(torn(path, result))
    return problems


def torn(path: Path, result: Scan) -> Problem:
    """A line broken off at the end. It was never acknowledged, unless the anchor says otherwise."""
    line = result.position.line + (0 if result.unfinished else 1)
    message = "the last line has no newline" if result.unfinished else f"{len(result.tail)} bytes of a broken-off line"
    hint = "it is mended" if result.unfinished else "they are moved to a file of their own"
    return Problem("T-TORN", message, f"{hint} when the case is next written", str(path), line, level="info")


def _removals(path: Path, result: Scan) -> Iterator[Problem]:
    recorded = set(removals(result.entries))
    for key in result.removed.keys() - recorded:
        message = f"its text {key[1]!r} is gone and no removal is recorded"
        yield _problem(path, result.removed[key], "T-TEXT", message)
    standing = {(entry.seq, name) for entry in result.entries for name in entry.text_hashes} - result.removed.keys()
    for seq, name in sorted(recorded & standing):
        message = f"the removal of text {name!r} of number {seq} is recorded, but not done"
        yield Problem("T-TEXT", message, "remove it again", str(path), seq)


def removals(entries: Sequence[Entry]) -> Iterator[tuple[int, str]]:
    """(sequence, name) of every text whose removal is recorded."""
    for entry in entries:
        if entry.event == REMOVAL:
            names = entry.payload.get("texts")
            for name in names if isinstance(names, list) else []:
                if isinstance(name, str) and isinstance(entry.payload.get("of"), int):
                    yield entry.payload["of"], name


def _problem(path: Path, line: int, code: str, message: str) -> Problem:
    return Problem(code, message, file=str(path), line=line)
