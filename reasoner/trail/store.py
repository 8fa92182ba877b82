"""The trail of one case, open for writing.

Order of an append, under the lock: the head is read again, a torn tail is moved aside, free text is made durable, then
the line, then the anchor. Only then does `append` return; what it returned is never lost. If a step fails, the line is
taken back and InputRefused says why: it was not recorded.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from reasoner.problems import InputRefused, Problem, nearest
from reasoner.trail import text
from reasoner.trail.anchor import Anchor, compare, read_anchor, write_anchor
from reasoner.trail.files import make_folder, read_regular, refusing, sync_folder, write_all, write_new, write_whole
from reasoner.trail.holding import Hold
from reasoner.trail.line import FIRST_PREVIOUS, BadLine, Entry, decode, encode
from reasoner.trail.lock import locked
from reasoner.trail.paths import anchor_file, case_file, cases, check_new_case, copies, ended, lock_file, text_folder
from reasoner.trail.read import FIRST_EVENT, KINDS, OF_THE_RECORD, REMOVAL, Position, Scan, across, read, scan

__all__ = ["FIRST_EVENT", "KINDS", "OF_THE_RECORD", "REMOVAL", "Entry", "Stamp", "Trail", "read"]


_MOST_BYTES = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who, when and with which knowledge. `at` carries its offset; `by` is a clinician's code, never a name."""

    at: datetime
    by: str
    role: str
    knowledge: str


class Trail:
    """One case's trail. `entries` are all lines so far; `problems` what was odd on opening but does not stop work."""

    def __init__(
        self, home: Path, case: str, result: Scan, problems: Sequence[Problem], salt: Callable[[], str]
    ) -> None:
        """Use `Trail.create` or `Trail.open`."""
        self.home = home
        self.case = case
        self.path = case_file(home, case)
        self.entries: list[Entry] = result.entries
        self.problems = tuple(problems)
        self._before = result.before
        self._salt = salt
        self._since = 1
        self._end = 0
        self.hold: Hold | None = None  # of a session: a line is refused once somebody took the case over

    @classmethod
    def create(
        cls,
        home: Path,
        case: str,
        *,
        kind: str,
        header: Mapping[str, Any],
        stamp: Stamp,
        salt: Callable[[], str] = text.new_salt,
    ) -> Trail:
        """Begin a trail. Its first line holds case, kind (real, demo or practice: for good) and `header`.

        InputRefused if the case exists or existed, or nothing can be written.
        """
        path = case_file(home, check_new_case(case))
        if kind not in KINDS:
            raise InputRefused([Problem("T-KIND", f"{kind!r} is not a kind of trail", f"one of {', '.join(KINDS)}")])
        payload = {"case": case, "kind": kind, **header}
        if payload["case"] != case or payload["kind"] != kind:
            raise ValueError("the header gives another case or kind")
        raw = _encoded(path, 1, FIRST_PREVIOUS, FIRST_EVENT, payload, stamp, {})
        with refusing(path, "begin the trail"):
            make_folder(path.parent)
            make_folder(anchor_file(home, case).parent)
            with locked(lock_file(home, case)):
                _require_unused(home, case)
                write_whole(path, raw + b"\n")
                sync_folder(path.parent)
                write_anchor(anchor_file(home, case), Anchor(1, decode(raw).hash))
        return cls.open(home, case, salt=salt)

    @classmethod
    def open(
        cls, home: Path, case: str, *, salt: Callable[[], str] = text.new_salt, beside_copies: bool = False
    ) -> Trail:
        """Open a trail and check all of it. InputRefused if there is none, or it cannot be trusted as a whole.

        That includes another ending of it beside it, unless `beside_copies`: then people have chosen this one.
        A text that is missing or was changed does not stop work: it reads as a marker, and `problems` names it.
        """
        path = case_file(home, case)
        if problems := ended(home, case):
            raise InputRefused(problems)
        if not path.exists():
            with refusing(path, "look for cases"):
                near = nearest(case, cases(home))
            hint = f"nearest: {', '.join(near)}" if near else "`reasoner where` tells where cases are kept"
            raise InputRefused([Problem("T-CASE", f"there is no case {case}", hint)])
        anchor = _anchor(home, case)  # before the lines: another writer may add some in between
        result = scan(path)
        problems = [*result.problems, *across(path, result), *compare(path, anchor, result.entries)]
        problems += other_case(path, case, result.entries)
        problems += [] if beside_copies else other_endings(home, case)
        if any(p.level == "error" and p.code not in ("T-TEXT", "T-ANCHOR") for p in problems):
            raise InputRefused(problems)
        return cls(home, case, result, problems, salt)

    @property
    def kind(self) -> str:
        """real, demo or practice."""
        return str(self.entries[0].payload["kind"])

    @property
    def header(self) -> Mapping[str, Any]:
        """Payload of the first line."""
        return self.entries[0].payload

    @property
    def head(self) -> Anchor:
        """Count and hash of the end as known here: what documents print."""
        return Anchor(len(self.entries), self.entries[-1].hash)

    def append(
        self,
        event: str,
        payload: Mapping[str, Any],
        *,
        at: datetime,
        by: str,
        role: str,
        knowledge: str,
        texts: Mapping[str, str] | None = None,
        after: int | None = None,
    ) -> Entry:
        """Record one event; when this returns, it is on the disk.

        `texts` are kept beside the trail and can be removed later. `after`: refuse if the last line is not this one
        (another window wrote on). Lines another writer added are taken into `entries` first.
        InputRefused: nothing was recorded. After an interrupt from the keyboard it may have been: the next append
        finds the line, and `after` tells the caller.
        """
        if event == FIRST_EVENT:
            raise InputRefused([Problem("T-KIND", "a trail is begun once and never changes its kind")])
        stamp = Stamp(at, by, role, knowledge)
        with self._head(after):
            return self._write(event, payload, stamp, texts or {})

    def redact(self, seq: int, names: Sequence[str], stamp: Stamp, why: str = "") -> Entry:
        """Record the removal of texts of line `seq` and why, then remove their bytes. The chain still verifies.

        The reason is free text itself, and can be removed too. Doing it again after it was cut short is harmless.
        InputRefused if there are no such texts.
        """
        with self._head(None):
            meant = self.entries[seq - 1] if 1 <= seq <= len(self.entries) else None
            known = meant.text_hashes if meant is not None else {}
            lacking = [name for name in names if name not in known]
            if meant is None or lacking or not names:
                message = f"number {seq} has no text {', '.join(map(ascii, lacking)) or 'at all'}"
                raise InputRefused([Problem("T-TEXT", message, f"it has: {', '.join(known) or 'none'}")])
            entry = self._write(REMOVAL, {"of": seq, "texts": list(names)}, stamp, {"why": why} if why else {})
            text.remove(text_folder(self.path), meant, names)
            self.entries[seq - 1] = replace(meant, texts={**meant.texts, **dict.fromkeys(names, text.REMOVED)})
            return entry

    @contextmanager
    def _head(self, after: int | None) -> Iterator[None]:
        """Hold the lock, with the head read again and the tail mended."""
        with refusing(self.path, "write the trail"), locked(lock_file(self.home, self.case)):
            if self.hold is not None:
                self.hold.require()
            self._catch_up()
            if after is not None and after != len(self.entries):
                message = f"the case went on elsewhere: it now has {len(self.entries)} lines, here {after} were known"
                hint = "nothing of this was recorded: look at what came, then type it again"
                raise InputRefused([Problem("T-MOVED", message, hint, file=str(self.path))])
            yield

    def _catch_up(self) -> None:
        """Read from the last known line on; refuse if that line no longer stands or the anchor tells of more."""
        result = scan(self.path, self._before)
        problems = [p for p in result.problems if p.code != "T-TEXT"]
        if not problems and (not result.entries or result.entries[0].hash != self.entries[-1].hash):
            message = "the trail was changed or cut short while it was open"
            problems.append(Problem("T-CHAIN", message, "run `reasoner trail verify`", file=str(self.path)))
        entries = [*self.entries, *result.entries[1:]]
        anchor = _anchor(self.home, self.case)
        problems += [p for p in compare(self.path, anchor, entries) if p.level == "error" and p.code != "T-ANCHOR"]
        if problems:
            raise InputRefused(problems)
        self.entries.extend(result.entries[1:])
        self._before = result.before
        # a missing anchor is normal after the first line only (a kill in between); later it is begun anew, and says so
        self._since = anchor.since if anchor else 1 if len(entries) == 1 else len(entries) + 1
        self._end = result.position.offset
        self._mend(result)

    def _mend(self, result: Scan) -> None:
        """Finish a whole line that lacks its newline; move any other broken-off bytes to a file of their own."""
        if result.unfinished:
            with _appending(self.path) as handle:
                write_all(handle, b"\n")
                os.fsync(handle)
            self._end += 1
        elif result.tail:
            for number in range(1, 10_000):
                with suppress(FileExistsError):
                    write_new(self.path.with_suffix(f".torn-{number}"), result.tail)
                    break
            with _appending(self.path) as handle:
                os.ftruncate(handle, self._end)
                os.fsync(handle)

    def _write(self, event: str, payload: Mapping[str, Any], stamp: Stamp, texts: Mapping[str, str]) -> Entry:
        """Text, line, anchor; the caller holds the lock. On failure the line is taken back."""
        seq = len(self.entries) + 1
        folder = text_folder(self.path)
        try:
            hashes, data = text.seal(texts, self._salt) if texts else ({}, b"")
        except BadLine as error:
            raise _unwritable(self.path, error) from error
        raw = _encoded(self.path, seq, self.entries[-1].hash, event, payload, stamp, hashes)
        entry = decode(raw)
        if texts:
            text.store(folder, seq, data)
            entry = replace(entry, texts=dict(texts))
        else:
            text.discard(folder, seq)
        anchor = Anchor(seq, entry.hash, self._since)
        with _appending(self.path) as handle:
            try:
                write_all(handle, raw + b"\n")
                os.fsync(handle)
                write_anchor(anchor_file(self.home, self.case), anchor)
            except BaseException:  # an interrupt from the keyboard too
                if not self._anchored(anchor):
                    with suppress(OSError):
                        os.ftruncate(handle, self._end)
                        os.fsync(handle)
                raise
        self._before = Position(self._end, seq - 1, seq - 1, entry.previous)
        self.entries.append(entry)
        return entry

    def _anchored(self, anchor: Anchor) -> bool:
        try:
            return read_anchor(anchor_file(self.home, self.case)) == anchor
        except (OSError, BadLine):
            return False


@contextmanager
def _appending(path: Path) -> Iterator[int]:
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_NOFOLLOW | os.O_CLOEXEC)
    try:
        yield handle
    finally:
        os.close(handle)


def _encoded(
    path: Path, seq: int, previous: str, event: str, payload: Mapping[str, Any], stamp: Stamp, hashes: Mapping[str, str]
) -> bytes:
    try:
        return encode(
            seq, previous, event, payload, at=stamp.at, by=stamp.by, role=stamp.role, knowledge=stamp.knowledge,
            text_hashes=hashes,
        )  # fmt: skip
    except BadLine as error:
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: BadLine) -> InputRefused:
    return InputRefused([Problem("T-LINE", f"this cannot be recorded: {error}", "nothing was written", str(path))])


def _require_unused(home: Path, case: str) -> None:
    if problems := ended(home, case):
        raise InputRefused(problems)
    if case_file(home, case).exists():
        raise InputRefused([Problem("T-CASE", f"there is a case {case} already", "open it, or take a new name")])
    if anchor_file(home, case).exists():
        message = f"there was a case {case} here: its anchor still stands, its trail is gone"
        raise InputRefused([Problem("T-CASE", message, "bring the trail back from a copy, or take a new name")])


def _anchor(home: Path, case: str) -> Anchor | None:
    path = anchor_file(home, case)
    try:
        with refusing(path, "read the anchor"):
            return read_anchor(path)
    except BadLine as error:
        hint = "compare the trail with a copy"
        raise InputRefused([Problem("T-ANCHOR", f"the anchor cannot be used: {error}", hint, str(path))]) from error


def other_endings(home: Path, case: str) -> Iterator[Problem]:
    """A Problem for each copy beside the trail that begins as it does and holds lines it does not."""
    for copy in copies(home, case):
        with refusing(copy, "compare a copy of the case"):
            mine, other = case_file(home, case).read_bytes(), read_regular(copy, _MOST_BYTES)
        first = mine.partition(b"\n")[0]
        if other.startswith(first + b"\n") and not mine.startswith(other):
            message = f"another ending of this case lies beside it: {copy.name}"
            yield Problem("T-ENDINGS", message, f"see both: reasoner trail join {case}", str(copy))


def other_case(path: Path, case: str, entries: Sequence[Entry]) -> list[Problem]:
    """A Problem if the first line tells of another case than the file's name: the wrong patient's trail."""
    told = entries[0].payload.get("case") if entries else case
    if told == case:
        return []
    message = f"it is named {case} but holds the case {str(told)[:40]!a}"
    return [Problem("T-CASE", message, "give the file its own name back", file=str(path), line=1)]
