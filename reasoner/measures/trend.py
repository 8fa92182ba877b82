"""The line through one person's values over time: weighted regression, its prediction, plateau and reversal.

Times in days, values in the measure's unit. Each value brings its own standard error. The scatter about the line is
never taken as smaller than these errors say, so that a lucky straight series earns no narrow band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, inf, sqrt
from typing import Literal

from reasoner.measures.change import benefit, change_class
from reasoner.measures.distributions import t_quantile

__all__ = [
    "LEAST_FOR_GOAL", "LEAST_FOR_LINE", "PLATEAU_DAYS", "PLATEAU_VISITS", "Line", "Plateau", "ToGoal", "fit_line",
    "plateau", "reversal", "to_goal",
]  # fmt: skip

LEAST_FOR_LINE, LEAST_FOR_GOAL = 3, 4
PLATEAU_VISITS, PLATEAU_DAYS = 4, 14.0  # common practice: some visits and some weeks, not three in one week
_NARROW, _WIDE = 0.95, 0.975  # one-sided: a 90 % range for days to a goal, a 95 % band
_ROUNDING = 1e-9
Better = Literal["higher", "lower"]


@dataclass(frozen=True, slots=True)
class Line:
    """value = middle + slope * (t - centre). `spread2`: squared scatter over that stated, 1 or more."""

    slope: float
    middle: float
    centre: float
    df: int
    spread2: float
    weight: float  # sum of the weights
    moment: float  # sum of weight * (t - centre)^2

    def at(self, t: float) -> float:
        """The line's value on day t."""
        return self.middle + self.slope * (t - self.centre)

    def slope_range(self, p: float = _WIDE) -> tuple[float, float]:
        """Two-sided range of the slope, 95 % by default."""
        half = t_quantile(p, self.df) * sqrt(self.spread2 / self.moment)
        return self.slope - half, self.slope + half

    def prediction(self, t: float, se: float, p: float = _WIDE) -> tuple[float, float]:
        """Range in which one new value with error `se` would fall on day t if the line went on, 95 % by default."""
        variance = se**2 + 1 / self.weight + (t - self.centre) ** 2 / self.moment
        half = t_quantile(p, self.df) * sqrt(self.spread2 * variance)
        return self.at(t) - half, self.at(t) + half


@dataclass(frozen=True, slots=True)
class ToGoal:
    """Days from the last value until the line meets the goal, with a 90 % range; high is inf where the slope allows
    none. `state`: reached, coming, or untold (the slope cannot be told from none)."""

    state: Literal["reached", "coming", "untold"]
    days: float = inf
    low: float = inf
    high: float = inf


@dataclass(frozen=True, slots=True)
class Plateau:
    """Gain along the line over the last visits (benefit-positive), against the gain that would have been worthwhile.

    `state`: gaining, flat (less than worthwhile, and not steadily on its way), or falling (as much lost).
    """

    state: Literal["gaining", "flat", "falling"]
    visits: int
    gain: float
    needed: float


def fit_line(times: Sequence[float], values: Sequence[float], errors: Sequence[float]) -> Line | None:
    """Weighted least squares, weights 1/error^2. None under three values or at one single time.

    ValueError for an error that is not above zero.

    >>> line = fit_line([0, 7, 14, 21], [3, 4, 5, 6], [1, 1, 1, 1])
    >>> round(line.slope * 7, 6), line.spread2
    (1.0, 1.0)
    """
    if any(not e > 0 for e in errors):
        raise ValueError("every value needs an error above zero")
    n = len(values)
    if n < LEAST_FOR_LINE or len(set(times)) < 2:
        return None
    weights = [1 / e**2 for e in errors]
    weight = fsum(weights)
    centre = fsum(w * t for w, t in zip(weights, times, strict=True)) / weight
    middle = fsum(w * v for w, v in zip(weights, values, strict=True)) / weight
    moment = fsum(w * (t - centre) ** 2 for w, t in zip(weights, times, strict=True))
    slope = fsum(w * (t - centre) * v for w, t, v in zip(weights, times, values, strict=True)) / moment
    chi2 = fsum(
        w * (v - middle - slope * (t - centre)) ** 2 for w, t, v in zip(weights, times, values, strict=True)
    )
    return Line(slope, middle, centre, n - 2, max(1.0, chi2 / (n - 2)), weight, moment)


def to_goal(line: Line, last: float, goal: float, better: Better, least: int = LEAST_FOR_GOAL) -> ToGoal:
    """When the line would meet the goal. From `least` values on; a forecast from fewer is not made (untold)."""
    sign = 1 if better == "higher" else -1
    missing = sign * (goal - line.at(last))
    if missing <= 0:
        return ToGoal("reached", 0.0, 0.0, 0.0)
    low, high = sorted(sign * s for s in line.slope_range(_NARROW))
    if line.df + 2 < least or low <= 0:
        return ToGoal("untold")
    return ToGoal("coming", missing / (sign * line.slope), missing / high, missing / low)


def plateau(
    times: Sequence[float], values: Sequence[float], better: Better, worthwhile: float, whole: Line | None = None,
    visits: int = PLATEAU_VISITS, days: float = PLATEAU_DAYS,
) -> Plateau | None:
    """Has the gain over the last visits been less than is worthwhile? None before that many visits and days.

    The gain is that of the straight line through the fewest last visits that reach back far enough, so that one odd
    value cannot hide or make it. `whole`: the line through all values; where its slope is surely for the better and the
    last visits kept half of its pace, the patient is slowly on the way, not on a plateau.
    """
    back = next((n for n in range(visits, len(values) + 1) if times[-1] - times[-n] >= days), None)
    if back is None:
        return None
    line = fit_line(times[-back:], values[-back:], [1.0] * back)
    assert line is not None  # enough values, over more than one day
    sign = 1 if better == "higher" else -1
    span = times[-1] - times[-back]
    gain = sign * line.slope * span
    if gain <= -worthwhile * (1 - _ROUNDING):
        return Plateau("falling", back, gain, worthwhile)
    surely = whole is not None and min(sign * s for s in whole.slope_range()) > 0
    on_the_way = whole is not None and surely and gain >= sign * whole.slope * span / 2
    enough = gain >= worthwhile * (1 - _ROUNDING)
    return Plateau("gaining" if enough or on_the_way else "flat", back, gain, worthwhile)


def reversal(values: Sequence[float], better: Better, mdc95: float) -> int | None:
    """Place of the best earlier value that the latest one has fallen behind by more than error; None if it has not."""
    if len(values) < 2:
        return None
    sign = 1 if better == "higher" else -1
    best = max(range(len(values) - 1), key=lambda i: (sign * values[i], i))
    return best if change_class(benefit(values[best], values[-1], better), mdc95) == "worse" else None
