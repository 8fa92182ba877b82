"""Trails for tests. Times and salts are fixed, so that a failure can be repeated."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from reasoner.trail.store import Entry, Stamp, Trail

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
STAMP = Stamp(START, "KM", "physiotherapist", "ab" * 32)

needs_age = pytest.mark.skipif(
    find_spec("pyrage") is None, reason="pyrage is not installed: pip install 'ankle-reasoner[encrypt]'"
)


def everything(home: Path) -> bytes:
    """Every byte of the state folder, names included."""
    return b"".join(str(p).encode() + (p.read_bytes() if p.is_file() else b"") for p in home.rglob("*"))


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
