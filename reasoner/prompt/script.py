"""A visit from a file or a pipe: the same lines, the same events; it stops at the first line it cannot use.

A demo or practice script may say which day it is: `# day 8`, or `# day 8 14:30`, counted from day 1, the day it began.
A real case takes its time from the clock alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from reasoner.consult.sitting import Clock, Sitting
from reasoner.problems import InputRefused, Problem
from reasoner.prompt.desk import Desk, Show

__all__ = ["ScriptClock", "run_script"]

_DAY = re.compile(r"#\s*day\s+(\d{1,4})(?:\s+(\d{1,2}):(\d{2}))?\s*$", re.IGNORECASE)


class ScriptClock:
    """The clock of a script: the real one, moved to the day the script is at. Time itself goes on."""

    def __init__(self, clock: Clock) -> None:
        """`clock` gives the real time, with its zone."""
        self._clock = clock
        self._began = clock()
        self._moved = timedelta(0)

    def __call__(self) -> datetime:
        """Now, as the script has it."""
        return self._clock() + self._moved

    def move(self, day: int, hour: int | None, minute: int | None) -> bool:
        """Go to a day, 1 being the first. False if that lies before now."""
        wanted = self._began + timedelta(days=day - 1)
        if hour is not None:
            wanted = wanted.replace(hour=hour, minute=minute or 0, second=0, microsecond=0)
        if wanted < self() - timedelta(seconds=1) and (day - 1) * 86400 < (self() - self._began).total_seconds():
            return False
        self._moved += max(wanted - self(), timedelta(0))
        return True


def run_script(
    sitting: Sitting,
    lines: Iterable[str],
    name: str,
    show: Show,
    *,
    echo: Callable[[str], None] | None = None,
    desk: Desk | None = None,
) -> None:
    """Take every line; empty ones and those that begin with # are passed over. Lines after an end are refused.

    `echo` is given each line before it is taken. `desk`: another than the ordinary one, as with a simulated patient.

    InputRefused names file and line; what earlier lines recorded stays.
    """
    desk = desk if desk is not None else Desk(sitting, show, script=True)
    desk.start()
    for number, line in enumerate(lines, 1):
        text = line.strip()
        try:
            if _moved(sitting, text) or not text or text.startswith("#"):
                continue
            if echo is not None:
                echo(text)
            desk.left = False
            desk.line(text)
        except InputRefused as refused:
            placed = (replace(p, file=p.file or name, line=p.line or number) for p in refused.problems)
            raise InputRefused(placed) from None


def _moved(sitting: Sitting, text: str) -> bool:
    """Take `# day N`. InputRefused in a real case, and where it would go back in time."""
    match = _DAY.match(text)
    if match is None:
        return False
    if sitting.state.kind == "real":
        raise InputRefused([Problem("", f"'{text}': a real case takes its time from the clock", "leave this line out")])
    if not isinstance(sitting.clock, ScriptClock):
        sitting.clock = ScriptClock(sitting.clock)
    hour, minute = (int(part) if part is not None else None for part in match.group(2, 3))
    if (hour or 0) > 23 or (minute or 0) > 59 or int(match[1]) < 1:
        raise InputRefused([Problem("", f"'{text}' is no day and time", "write for example: # day 8 14:30")])
    if not sitting.clock.move(int(match[1]), hour, minute):
        raise InputRefused([Problem("", f"'{text}' lies before what was already recorded", "days only go on")])
    return True
