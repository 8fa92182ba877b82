"""Is a number one of those an evidence entry gives? To the digits written, as a share or as a percentage."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from reasoner.graph.records import Evidence

__all__ = ["given_by", "is_traced", "numbers_in"]

# a minus counts only where it cannot be the dash of an interval such as 0.93-0.97
_NUMBER = re.compile(r"(?<![\w.])[-−+]?(?:\d+(?:\.\d+)?|\.\d+)|(?<=\d[-–])\d+(?:\.\d+)?")
_ALMOST = 1e-9


def numbers_in(value: Any) -> Iterator[float]:
    """Every number in a nested value of evidence figures, those written inside text included."""
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, (int, float)):
        yield float(value)
    elif isinstance(value, str):
        for match in _NUMBER.finditer(value):
            yield float(match.group().replace("−", "-"))
    elif isinstance(value, dict):
        for item in value.values():
            yield from numbers_in(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from numbers_in(item)


def given_by(entry: Evidence) -> tuple[float, ...]:
    """Every number an entry gives: in its figures, its size or what it says."""
    return tuple(numbers_in([entry.figures, entry.says, entry.n]))


def is_traced(number: float, given: Sequence[float]) -> bool:
    """Whether `number` is one of those given.

    A figure given to more digits matches when it rounds to the number at the digits written here, if that loses no
    more than a twentieth of it. A percentage matches its share. .02 and .98 may stand for a published 0 and 1.
    """
    if (number == 0.02 and 0.0 in given) or (number == 0.98 and (1.0 in given or 100.0 in given)):
        return True
    return any(_matches(number, one) for one in given)


def _matches(number: float, given: float) -> bool:
    return any(_rounds_to(given * scale, number) for scale in (1.0, 0.01))


def _rounds_to(given: float, number: float) -> bool:
    if abs(given - number) <= _ALMOST * max(1.0, abs(number)):
        return True
    exponent = Decimal(repr(number)).as_tuple().exponent
    half = 0.5 * 10.0**exponent if isinstance(exponent, int) else 0.0
    return abs(given - number) <= min(half, abs(number) / 20) + _ALMOST
