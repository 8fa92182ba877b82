"""From published accuracy to the network's numbers. Pure arithmetic; every figure is a chance.

For a finding f of hypothesis h with sensitivity Se and specificity Sp, other causes j with base rates pi_j:

    c_hf   = 1 - LR- = 1 - (1 - Se)/Sp                     (the co-causes of sensitivity cancel)
    leak_f = 1 - Sp / prod over j != h of (1 - pi_j c_jf)  (base rates of the study's setting)

With h the only cause the network then gives back plain odds times likelihood ratio.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, log, prod
from typing import NamedTuple

__all__ = [
    "BASE_RATE_LIMITS", "Span", "chance_from_accuracy", "leak_from_specificity", "not_certain",
    "odds_interval", "odds_ratio_from_risk_ratio", "sens_spec_from_ratios", "shifted", "shrink_factor",
]  # fmt: skip

BASE_RATE_LIMITS = (0.0001, 0.95)


class Span(NamedTuple):
    """A number with its interval; low = high = value where none is known."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, value: float, interval: Sequence[float] | None = None) -> Span:
        """From a value and its interval, if it has one; the interval is widened to hold the value."""
        if interval is None:
            return cls(value, value, value)
        return cls(value, min(value, interval[0]), max(value, interval[1]))

    def times(self, factor: float) -> Span:
        """Scaled by a factor of 0 or more."""
        return Span(self.value * factor, self.low * factor, self.high * factor)

    def at_least(self, floor: float) -> Span:
        """Raised to a floor."""
        return Span(max(self.value, floor), max(self.low, floor), max(self.high, floor))


def chance_from_accuracy(sens: float, spec: float) -> float:
    """c = 1 - LR-; negative where LR+ is below 1 (store such a test in its other polarity).

    >>> round(chance_from_accuracy(0.8, 0.7), 4)  # 1 - .2/.7
    0.7143
    """
    return 1 - (1 - sens) / spec


def sens_spec_from_ratios(lr_pos: float, lr_neg: float) -> tuple[float, float]:
    """Sensitivity and specificity from both likelihood ratios. ValueError unless lr_neg < 1 < lr_pos.

    Se = LR+ (1 - Sp) and 1 - Se = LR- Sp give Sp = (LR+ - 1)/(LR+ - LR-).

    >>> [round(x, 6) for x in sens_spec_from_ratios(0.8 / 0.3, 0.2 / 0.7)]
    [0.8, 0.7]
    """
    if not lr_neg < 1 < lr_pos:
        raise ValueError("a test that tells anything has lr_neg below 1 and lr_pos above 1")
    spec = (lr_pos - 1) / (lr_pos - lr_neg)
    return 1 - spec * lr_neg, spec


def leak_from_specificity(spec: float, others: Iterable[tuple[float, float]]) -> float:
    """Leak that leaves specificity `spec` once the other causes (base rate, c) have had their share; may be negative.

    >>> round(leak_from_specificity(0.7, []), 4), round(leak_from_specificity(0.7, [(0.5, 0.4)]), 4)  # 1 - .7/.8
    (0.3, 0.125)
    """
    return 1 - spec / prod(1 - rate * chance for rate, chance in others)


def shrink_factor(
    spec: float, floor: float, fixed: Sequence[tuple[float, float]], free: Sequence[tuple[float, float]]
) -> float | None:
    """Factor k with prod(1 - pi c) over `fixed` * prod(1 - pi k c) over `free` = spec/(1 - floor), else None.

    `fixed`: published links (base rate, c); `free`: those that may be shrunk.

    >>> round(shrink_factor(0.7, 0.02, [], [(0.5, 0.8)]), 4)  # (1 - .7/.98)/.4
    0.7143
    """
    goal = spec / (1 - floor) / prod(1 - rate * chance for rate, chance in fixed)
    if goal >= 1 or prod(1 - rate * chance for rate, chance in free) > goal:
        return None
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if prod(1 - rate * middle * chance for rate, chance in free) > goal:
            low = middle
        else:
            high = middle
    return high


def not_certain(value: float, stand_in: tuple[float, float]) -> float:
    """Nothing is 0 or 1: where no counts are given, `stand_in` takes their place."""
    return stand_in[0] if value <= 0 else stand_in[1] if value >= 1 else value


def odds_interval(value: float, factor: float) -> tuple[float, float]:
    """From the odds divided by `factor` to the odds times it.

    >>> [round(x, 4) for x in odds_interval(0.2, 2.0)]  # odds 1/4: 1/8 and 1/2
    [0.1111, 0.3333]
    """
    low, high = value / (value + factor * (1 - value)), value * factor / (value * factor + 1 - value)
    return low, high


def odds_ratio_from_risk_ratio(risk_ratio: float, base_rate: float) -> float:
    """The odds ratio that does at this base rate what the risk ratio says; the raised rate stays below .95.

    >>> round(odds_ratio_from_risk_ratio(2.0, 0.2), 4)  # (.4/.6)/(.2/.8)
    2.6667
    """
    raised = min(risk_ratio * base_rate, BASE_RATE_LIMITS[1])
    return raised / (1 - raised) * (1 - base_rate) / base_rate


def shifted(base_rate: float, odds_ratios: Iterable[float]) -> float:
    """Base rate moved by odds ratios on the logit, kept within .0001 and .95.

    >>> round(shifted(0.2, [2.0, 3.0]), 4)  # odds .25 * 6 = 1.5
    0.6
    """
    low, high = BASE_RATE_LIMITS
    kept = min(max(base_rate, low), high)
    logit = log(kept / (1 - kept)) + sum(log(ratio) for ratio in odds_ratios)
    return min(max(1 / (1 + exp(-logit)), low), high)
