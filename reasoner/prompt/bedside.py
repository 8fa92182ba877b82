"""At the bedside: a cover over clinical text, a timer for holds, and a screen left clean. Terminal only."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TextIO

from reasoner.prompt.course_verbs import hold_seconds
from reasoner.prompt.parsed import Refused
from reasoner.visible import behind

__all__ = ["COVERED_TEXT", "READ_TEXT", "clear", "hold"]

COVERED_TEXT = "covered; Enter shows it again"
READ_TEXT = "read? Enter empties the screen"
_WIDTH = 30
_TICK = 0.5
_CLEAR = "\x1b[2J\x1b[3J\x1b[H"  # screen, lines scrolled away, cursor home


def clear(out: TextIO | None = None, *, dumb: bool = False) -> None:
    """Empty the screen and what scrolled away; on a dumb terminal push it up."""
    out = out if out is not None else behind(sys.stdout)
    out.write("\n" * 40 if dumb else _CLEAR)
    out.flush()


def hold(
    text: str,
    out: TextIO | None = None,
    *,
    sleep: Callable[[float], None] = time.sleep,
    clock: Callable[[], float] = time.monotonic,
) -> bool:
    """A quiet bar for `3x60`; Ctrl-C stops it. True if it ran to its end. It records nothing."""
    out = out if out is not None else behind(sys.stdout)
    try:
        seconds, times = hold_seconds(text)
    except Refused:
        return False
    try:
        for number in range(1, times + 1):
            _one(seconds, f"{number}/{times} " if times > 1 else "", out, sleep, clock)
    except KeyboardInterrupt:
        out.write("\n  stopped\n")
        return False
    return True


def _one(
    seconds: float, label: str, out: TextIO, sleep: Callable[[float], None], clock: Callable[[], float]
) -> None:
    began = clock()
    while True:
        gone = min(clock() - began, seconds)
        filled = int(_WIDTH * gone / seconds)
        out.write(f"\r  {label}[{'=' * filled}{' ' * (_WIDTH - filled)}] {gone:3.0f} of {seconds:.0f} s")
        out.flush()
        if gone >= seconds:
            out.write("\n")
            return
        sleep(min(_TICK, seconds - gone))
