"""Statistics of one person's series: before (A) and during treatment (B). Descriptive; short series prove little.

Formulas as published for single-case research: NAP and Tau count every pair of an A and a B value; Tau-U takes the
trend within A off, here over the same m*n pairs (other programs divide by more pairs and give another number).
Values are benefit-positive or `better` says which way is better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import fsum, sqrt
from statistics import mean, stdev
from typing import Literal

__all__ = ["LEAST_BASELINE", "Band", "Overlap", "moving_range_band", "overlap", "serial", "two_sd_band"]

LEAST_BASELINE = 3
"""Values before treatment below which none of this is shown: common practice asks for 3 to 5 or more."""
_TWO_IN_A_ROW = 2
Better = Literal["higher", "lower"]


@dataclass(frozen=True, slots=True)
class Band:
    """A band from the baseline, and which treatment values lie outside it on the better side.

    `signal`: two or more in a row do (a convention: a chance below .05 if values are independent).
    """

    middle: float
    low: float
    high: float
    outside: tuple[int, ...]  # places in B, from 0
    signal: bool


@dataclass(frozen=True, slots=True)
class Overlap:
    """NAP (share of pairs in which B is better, ties half), its standard error, Tau, Tau-U; `pairs` = m * n."""

    nap: float
    nap_se: float
    tau: float
    tau_u: float
    pairs: int
    baseline_trend: int  # S of the pairs within A: above 0 = it was improving before treatment


def overlap(a: Sequence[float], b: Sequence[float], better: Better = "higher") -> Overlap:
    """Non-overlap of A and B. ValueError with an empty phase.

    >>> o = overlap([3, 3, 4, 5], [4, 5, 6, 7, 7])  # Parker 2011: Tau 16/20, Tau-U 11/20
    >>> round(o.tau, 2), round(o.tau_u, 2), o.pairs
    (0.8, 0.55, 20)
    """
    if not a or not b:
        raise ValueError("both phases need values")
    m, n = len(a), len(b)
    won = [[_win(x, y, better) for y in b] for x in a]
    nap = fsum(fsum(row) for row in won) / (m * n)
    between = fsum(fsum(2 * w - 1 for w in row) for row in won)
    within = sum(_sign(x, y, better) for i, x in enumerate(a) for y in a[i + 1 :])
    return Overlap(nap, _nap_se(won, nap), between / (m * n), (between - within) / (m * n), m * n, within)


def two_sd_band(a: Sequence[float], b: Sequence[float], better: Better = "higher") -> Band:
    """Baseline mean and two sample standard deviations (n - 1) either way. ValueError with fewer than two values."""
    if len(a) < 2:
        raise ValueError("a band needs two or more baseline values")
    return _band(a, b, 2 * stdev(a), better)


def moving_range_band(a: Sequence[float], b: Sequence[float], better: Better = "higher") -> Band:
    """Baseline mean and 2.66 mean moving ranges either way: steadier where a baseline drifts.

    >>> band = moving_range_band([20, 20, 26, 25, 22, 23], [28, 25, 24, 27, 30, 30, 29])
    >>> round(band.low, 3), round(band.high, 3), band.outside
    (16.815, 28.519, (4, 5, 6))
    """
    if len(a) < 2:
        raise ValueError("a band needs two or more baseline values")
    ranges = [abs(y - x) for x, y in pairwise(a)]
    return _band(a, b, 2.66 * mean(ranges), better)


def serial(values: Sequence[float]) -> tuple[float, bool] | None:
    """(lag-1 autocorrelation, beyond 2/sqrt(n)): the bands assume there is none. None where it cannot be worked out."""
    n = len(values)
    if n < 3:
        return None
    middle = fsum(values) / n
    off = [v - middle for v in values]
    total = fsum(o * o for o in off)
    if total <= 0:
        return None
    r = fsum(x * y for x, y in pairwise(off)) / total
    return r, abs(r) > 2 / sqrt(n)


def _band(a: Sequence[float], b: Sequence[float], half: float, better: Better) -> Band:
    middle = fsum(a) / len(a)
    low, high = middle - half, middle + half
    outside = tuple(i for i, v in enumerate(b) if (v > high if better == "higher" else v < low))
    row = any(y - x == 1 for x, y in pairwise(outside))
    return Band(middle, low, high, outside, row and len(outside) >= _TWO_IN_A_ROW)


def _win(x: float, y: float, better: Better) -> float:
    return 0.5 + _sign(x, y, better) / 2


def _sign(x: float, y: float, better: Better) -> int:
    """+1 where y is better than x, -1 where worse."""
    return ((y > x) - (y < x)) * (1 if better == "higher" else -1)


def _nap_se(won: Sequence[Sequence[float]], nap: float) -> float:
    """Unbiased standard error, ties as half pairs (Pustejovsky & Swan, effect size definitions; Sen 1967).

    With a single value in a phase there is no such estimate: then that of no effect, sqrt((m+n+1) / (12 m n)).
    """
    m, n = len(won), len(won[0])
    if m < 2 or n < 2:
        return sqrt((m + n + 1) / (12 * m * n))
    rows = fsum(fsum(row) ** 2 for row in won) / (m * n)
    columns = fsum(fsum(column) ** 2 for column in zip(*won, strict=True)) / (m * n)
    squares = fsum(w * w for row in won for w in row) / (m * n)
    variance = (nap - (m + n - 1) * nap**2 + rows + columns - 2 * squares) / ((m - 1) * (n - 1))
    return sqrt(max(0.0, variance))
