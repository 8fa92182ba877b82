"""The value before treatment: repeated until it is steady, and how far one side falls short of the other."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum
from typing import Literal

__all__ = ["side_difference", "steady", "value"]

_ROUNDING = 1e-9


def value(trials: Sequence[float]) -> float:
    """The value is the mean of the trials. ValueError without any."""
    if not trials:
        raise ValueError("no trials")
    return fsum(trials) / len(trials)


def steady(trials: Sequence[float], within: float | None) -> bool | None:
    """Do the last two trials agree within the bound? None if no bound is stated; False with fewer than two trials.

    The last two, not any two: a value that creeps up with every trial is warming up, and one that jumped at the end was
    not yet to be relied on.

    >>> steady([3.0, 4.0, 4.5], 0.5), steady([4.5, 4.5, 6.0], 0.5), steady([4.0], 0.5), steady([4.0, 4.0], None)
    (True, False, False, None)
    """
    if within is None:
        return None
    if len(trials) < 2:
        return False
    return abs(trials[-1] - trials[-2]) <= within + _ROUNDING * max(1.0, abs(within))


def side_difference(this: float, other: float, better: Literal["higher", "lower"]) -> float:
    """How far this side falls short of the other; positive = worse.

    >>> side_difference(4.0, 9.0, "higher"), side_difference(52.0, 50.5, "lower")
    (5.0, 1.5)
    """
    return other - this if better == "higher" else this - other
