"""Who has a case open: one session at a time, known by name, for as long as it runs.

The lock of `lock.py` is held for the milliseconds of an append. This one is held from opening to leaving, so that a
second window is told who is at it and since when, before anything is typed. It ends with its process, however that
ends. Taking over puts a new file in its place: whoever had it is refused at the next line, and told by whom.
"""

from __future__ import annotations

import json
import os
import platform
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reasoner.problems import InputRefused, Problem, one_line
from reasoner.trail.files import make_folder, open_private, refusing, write_all
from reasoner.trail.lock import alive, try_system_lock
from reasoner.trail.paths import check_case

__all__ = ["Hold", "Holder", "hold", "hold_file"]

_PAUSE = 0.2  # seconds between two looks while waiting


@dataclass(frozen=True, slots=True)
class Holder:
    """Who has a case open: clinician's code, since when (as written), process and machine."""

    by: str
    since: str
    process: int
    machine: str

    def __str__(self) -> str:
        when = self.since[:16].replace("T", " ")
        return f"{self.by} since {when} (process {self.process} on {self.machine})"


class Hold:
    """A case held by this process. `require` before every line; `release` at the end."""

    def __init__(self, path: Path, handle: int, mine: Holder) -> None:
        """Use `hold`."""
        self.path = path
        self._handle = handle
        self._mine = mine

    def require(self) -> None:
        """InputRefused if somebody took the case over."""
        now = _holder(self.path)
        if now is not None and now != self._mine:
            hint = "nothing of this line was recorded; the case is theirs now"
            raise InputRefused([Problem("T-TAKEN", f"this case was taken over by {now}", hint)])

    def release(self) -> None:
        """Let go; harmless after it was taken over."""
        if self._handle >= 0:
            with suppress(OSError):
                if _is(self._handle, self.path):
                    self.path.unlink()
            os.close(self._handle)
            self._handle = -1


def hold_file(home: Path, case: str) -> Path:
    """The file that stands for having a case open."""
    return home / "cases" / f"{check_case(case)}.open"


def hold(
    home: Path, case: str, *, by: str, now: datetime, wait: float = 0.0, take_over: bool = False,
    waiting: Callable[[Holder], None] = lambda holder: None,
) -> Hold:
    """Have the case open from now on. `wait`: seconds to wait for whoever has it; `waiting` is told who, once.

    InputRefused (T-HELD), with who and since when, if another has it and `take_over` is not set.
    """
    path = hold_file(home, case)
    mine = Holder(by, now.isoformat(timespec="seconds"), os.getpid(), platform.node())
    until, told = time.monotonic() + wait, False
    with refusing(path, "open the case"):
        make_folder(path.parent)
        while True:
            handle = open_private(path, os.O_RDWR | os.O_CREAT)
            if _free(handle, path):
                _sign(handle, mine)
                return Hold(path, handle, mine)
            os.close(handle)
            if take_over:
                return Hold(path, _replace(path, mine), mine)
            other = _holder(path) or Holder("somebody", "", 0, "")
            if time.monotonic() >= until:
                hint = "wait for them (--wait SECONDS), look only (--read-only), or take it over (--take-over)"
                raise InputRefused([Problem("T-HELD", f"the case {case} is open: {other}", hint)])
            if not told:
                waiting(other)
                told = True
            time.sleep(_PAUSE)


def _free(handle: int, path: Path) -> bool:
    """Is it ours now? By the system's lock; where there is none, if who signed is no longer running.

    There two that open at the same instant may both think so: the one that signed first is refused at its next line.
    """
    got = try_system_lock(handle)
    if got is None:
        other = _holder(path)
        here = other is None or other.machine == platform.node()
        got = other is None or (here and (other.process == os.getpid() or not alive(other.process)))
    return got and _is(handle, path)


def _replace(path: Path, mine: Holder) -> int:
    """A new file in the place of the old: whoever held that one holds nothing now."""
    new = path.with_name(f"{path.stem}.{os.getpid()}.open")
    handle = open_private(new, os.O_RDWR | os.O_CREAT | os.O_TRUNC)
    try_system_lock(handle)
    _sign(handle, mine)
    os.replace(new, path)
    return handle


def _sign(handle: int, mine: Holder) -> None:
    os.ftruncate(handle, 0)
    told = {"by": mine.by, "since": mine.since, "process": mine.process, "machine": mine.machine}
    write_all(handle, json.dumps(told).encode())


def _holder(path: Path) -> Holder | None:
    try:
        told = json.loads(path.read_bytes()[:1000])
        words = [one_line(str(told[key]), 40) for key in ("by", "since", "machine")]
        return Holder(words[0], words[1], int(told["process"]), words[2])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _is(handle: int, path: Path) -> bool:
    """Is the open file still the one of that name?"""
    with suppress(OSError):
        return handle >= 0 and os.path.samestat(os.fstat(handle), os.stat(path))
    return False
