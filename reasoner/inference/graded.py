"""One measure as one graded finding: what a cause does to its levels, and what a reading says about them.

d is always taken so that larger is worse; cuts t_1 < ... < t_{K-1} give levels 0..K-1 (t_0 = -inf, t_K = +inf).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import erfc, inf, sqrt

import numpy as np

from reasoner.graph.records import Measure, MeasuredBy
from reasoner.inference.network import Numbers
from reasoner.measures.derived import derived_error, terms
from reasoner.measures.error import ErrorUsed, side_difference_error, standard_error

__all__ = ["Scale", "exceedance", "level_weights", "reach_alone", "study_error"]

_LEAST_REFERENCE = 0.01  # a level hardly anybody reaches must not make a reading arbitrarily strong
_LEAST_SHARE = 0.5  # of a published SD is taken as real when the error alone would explain more


@dataclass(frozen=True, slots=True)
class Scale:
    """How readings of one measured finding are graded. `hard`: the published accuracy is for the measured cut-off."""

    finding: str
    sign: int  # +1: larger is worse; -1: smaller is worse, and everything here is turned round
    cuts: tuple[float, ...]  # rising, already turned round
    reference: tuple[float, float]  # mean and SD of everyone measured in this setting
    hard: bool
    reference_in: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # of settings that have their own

    @classmethod
    def of(cls, finding: str, measured: MeasuredBy, *, hard: bool) -> Scale:
        """From a finding's record."""
        sign = 1 if measured.worse == "higher" else -1
        return cls(
            finding,
            sign,
            tuple(sign * cut for cut in measured.cuts),
            (sign * measured.reference.mean, measured.reference.sd),
            hard,
            {setting: (sign * one.mean, one.sd) for setting, one in measured.reference_in.items()},
        )

    def in_setting(self, setting: str) -> Scale:
        """With the reference distribution of this setting, where it has its own."""
        own = self.reference_in.get(setting)
        return self if own is None else replace(self, reference=own)

    def weights(self, value: float, se: float) -> Numbers:
        """Weights (K,) of a reading `value`, in the measure's own sign, with standard error `se`."""
        d = self.sign * value
        if self.hard or se <= 0:
            level = sum(d >= cut for cut in self.cuts)
            return np.array([float(k == level) for k in range(len(self.cuts) + 1)])
        return level_weights(d, se, self.cuts, *self.reference)


def level_weights(d: float, se: float, cuts: Sequence[float], mean: float, sd: float) -> Numbers:
    """P(level | d) / P(level), (K,): the likelihood of a reading, the reference distribution N(mean, sd^2) divided out.

    w = sd^2/(sd^2 + se^2), m = w d + (1-w) mean, s = se sqrt(w); P(level | d) is the share of N(m, s^2) in the level.
    Phi((d - t)/se) alone would be a posterior under a flat prior and count the base rate twice.

    One cut at the reference mean: both levels are 1/2 beforehand, so with d on the cut the reading says nothing:

    >>> level_weights(2.0, 0.5, [2.0], 2.0, 3.0).round(12).tolist()
    [1.0, 1.0]
    """
    w = sd**2 / (sd**2 + se**2)
    middle, spread = w * d + (1 - w) * mean, se * sqrt(w)
    ends = (-inf, *cuts, inf)
    weights = [
        _share(ends[k], ends[k + 1], middle, spread) / max(_LEAST_REFERENCE, _share(ends[k], ends[k + 1], mean, sd))
        for k in range(len(ends) - 1)
    ]
    return np.array(weights)


def exceedance(mean: float, sd: float, se: float, cuts: Sequence[float]) -> tuple[float, ...]:
    """v(l) = 1 - Phi((t_l - mean)/sqrt(SD^2 - se^2)): share of true values at or above each cut.

    A published SD holds the error of measuring; it is taken out, but at most three quarters of the variance.
    """
    true_sd = sqrt(max(sd**2 - se**2, (_LEAST_SHARE * sd) ** 2))
    return tuple(_share(cut, inf, mean, true_sd) for cut in cuts)


def reach_alone(with_cause: Sequence[float], without: Sequence[float]) -> tuple[float, ...]:
    """u(l) = max(0, 1 - (1 - v(l))/(1 - u_0(l))): what the cause adds to what happens without it.

    >>> [round(u, 4) for u in reach_alone([0.6, 0.3], [0.2, 0.05])]  # 1 - .4/.8, 1 - .7/.95
    [0.5, 0.2632]
    """
    return tuple(max(0.0, 1 - (1 - v) / (1 - u)) for v, u in zip(with_cause, without, strict=True))


def study_error(measured: MeasuredBy, measure: Measure, measures: dict[str, Measure]) -> float:
    """Standard error of d as studies take it: first tool, one rater, one visit; 0 where none is stated."""
    side = measured.of == "side_difference"

    def own(one: Measure) -> ErrorUsed | None:
        return side_difference_error(one) if side else standard_error(one)

    found = own(measure)
    if found is None and measure.derived:
        found = derived_error(measure.derived, {name: own(measures[name]) for _, name in terms(measure.derived)})
    return 0.0 if found is None else found.value


def _share(low: float, high: float, mean: float, sd: float) -> float:
    """P(low < X < high) of a normal, worked out in the tail where it keeps its digits."""
    a, b = (low - mean) / sd, (high - mean) / sd
    if a > 0:  # upper tail: reflect
        a, b = -b, -a
    return _cdf(b) - _cdf(a)


def _cdf(z: float) -> float:
    return 0.5 * erfc(-z / sqrt(2))
