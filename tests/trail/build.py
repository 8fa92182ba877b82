"""Trails for tests. Times and salts are fixed, so that a failure can be repeated."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

from reasoner.trail.store import Entry, Stamp, Trail

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
STAMP = Stamp(START, "KM", "physiotherapist", "ab" * 32)


def note(trail: Trail, number: int, **more: Any) -> Entry:
    """Append one numbered event."""
    at = START + timedelta(minutes=number)
    return trail.append("noted", {"n": number}, at=at, by="KM", role="physiotherapist", knowledge="ab" * 32, **more)


def short_trail(home: Path, lines: int = 4, case: str = "oak-17") -> Trail:
    """A demo trail of `lines` lines; every third has a text beside it."""
    numbers = count(1)
    trail = Trail.create(
        home, case, kind="demo", header={"region": "ankle"}, stamp=STAMP, salt=lambda: f"{next(numbers):032x}"
    )
    for number in range(2, lines + 1):
        note(trail, number, texts={"words": f"stairs hurt {number}"} if number % 3 == 0 else {})
    return trail
