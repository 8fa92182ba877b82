"""Is a change more than error, and what do the retest signs say together?

Changes are benefit-positive: better is above zero whichever way the measure runs. Drift is what warm-up, touch and
repetition bring without effective treatment; a change is judged against it, not against zero.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from math import hypot, isfinite
from statistics import NormalDist
from typing import Literal

__all__ = [
    "PAIN_WORSE",
    "UNWANTED",
    "Chances",
    "ChangeClass",
    "SignChange",
    "Verdict",
    "benefit",
    "chances",
    "change_class",
    "sign_change",
    "verdict",
]  # fmt: skip

ChangeClass = Literal["beyond", "within", "worse"]
Verdict = Literal["beyond", "within", "worse", "range_only"]

PAIN_WORSE = 2.0
"""Pain up by this much of 10 is worse whatever the error: common practice."""
UNWANTED = ("new_symptom", "swelling", "gait")
"""What makes a retest worse by itself: a new symptom, swelling, worse gait."""

_PHI = NormalDist().cdf
_ROUNDING = 1e-9  # of the MDC: 5.9 - 4.0 is 1.9000000000000004, and 10.1 - 8.2 is 1.8999999999999986


@dataclass(frozen=True, slots=True)
class SignChange:
    """One retest sign: kind (`range`, `pain`, `function`, ...), change (benefit-positive, own unit) and its class."""

    kind: str
    change: float
    result: ChangeClass


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance that the true change is above zero, above drift, above the smallest worthwhile one (None: not stated)."""

    above_zero: float
    above_drift: float
    above_worthwhile: float | None


def benefit(before: float, after: float, better: Literal["higher", "lower"]) -> float:
    """The change, positive if it is for the better.

    >>> benefit(6, 4, "lower"), benefit(4.5, 4.0, "higher")
    (2, -0.5)
    """
    return after - before if better == "higher" else before - after


def change_class(change: float, mdc95: float, drift: float = 0.0) -> ChangeClass:
    """beyond: change - drift >= MDC95; worse: change <= -MDC95; else within. `change` and `drift` benefit-positive.

    Worse comes first where both would hold (a drift far below zero). ValueError for an MDC that is not above zero.

    >>> change_class(1.5, 1.9), change_class(2.5, 1.9), change_class(2.5, 1.9, drift=0.8), change_class(-1.9, 1.9)
    ('within', 'beyond', 'within', 'worse')
    """
    if not (isfinite(mdc95) and mdc95 > 0 and isfinite(change) and isfinite(drift)):
        raise ValueError("a change needs finite numbers and an error above zero")
    bound = mdc95 * (1 - _ROUNDING)
    if change <= -bound:
        return "worse"
    return "beyond" if change - drift >= bound else "within"


def sign_change(
    kind: str, before: float, after: float, better: Literal["higher", "lower"], mdc95: float, drift: float = 0.0
) -> SignChange:
    """One retest sign from its two values (means of trials). `drift` benefit-positive."""
    change = benefit(before, after, better)
    return SignChange(kind, change, change_class(change, mdc95, drift))


def verdict(signs: Iterable[SignChange], unwanted: Collection[str] = (), pain_worse: float = PAIN_WORSE) -> Verdict:
    """The retest as a whole, over all its signs.

    Any worse -> worse, and so are pain up by `pain_worse` or more whatever its error, and anything `unwanted`. Else
    range beyond and function not (or not asked) -> range_only. Else any beyond -> beyond. Else within.
    ValueError without any sign and nothing unwanted: nothing was retested.

    >>> verdict([SignChange("range", 2.5, "beyond"), SignChange("function", 0.0, "within")])
    'range_only'
    >>> verdict([SignChange("range", 2.5, "beyond"), SignChange("pain", -2.0, "within")])
    'worse'
    """
    signs = list(signs)
    if not signs and not unwanted:
        raise ValueError("a verdict needs a retested sign")
    rounding = pain_worse * _ROUNDING
    pain_up = any(sign.kind == "pain" and -sign.change >= pain_worse - rounding for sign in signs)
    if unwanted or pain_up or any(sign.result == "worse" for sign in signs):
        return "worse"
    beyond = {sign.kind for sign in signs if sign.result == "beyond"}
    if "range" in beyond and "function" not in beyond:
        return "range_only"
    return "beyond" if beyond else "within"


def chances(
    change: float, sem: float, drift: float = 0.0, drift_sd: float = 0.0, worthwhile: float | None = None
) -> Chances:
    """Chances about the true change, from one measured change with error sqrt(2) * `sem`, nothing else known.

    All benefit-positive and in one unit. A statement about this one change under a flat prior: for screen and note,
    not evidence for a network (see the response rule for that).

    >>> c = chances(1.0, 0.5, drift=1.0, worthwhile=1.0)
    >>> round(c.above_zero, 4), c.above_drift, c.above_worthwhile  # Phi(1/.7071) = Phi(1.4142)
    (0.9214, 0.5, 0.5)
    """
    error = hypot(sem, sem)
    if not error > 0 or drift_sd < 0:
        raise ValueError("chances need an error above zero")
    return Chances(
        _PHI(change / error),
        _PHI((change - drift) / hypot(error, drift_sd)),
        None if worthwhile is None else _PHI((change - worthwhile) / error),
    )
