"""How often one was right at each word of confidence, over many practice cases; intervals, no score.

Simulated truths only. Wilson's 95 % interval (Wilson 1927, J Am Stat Assoc 22:209-212): with k right of n and
z = 1.96, centre (k + z^2/2)/(n + z^2), half width z/(n + z^2) sqrt(k(n-k)/n + z^2/4).

>>> low, high = wilson(8, 10)
>>> round(low, 4), round(high, 4)
(0.4902, 0.9433)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import sqrt

from reasoner.review.debrief import Said

__all__ = ["ORDER", "Row", "calibration", "wilson"]

ORDER = ("very sure", "sure", "fairly sure", "quite sure", "not very sure", "not sure", "unsure", "guess", "a guess",
         "no word")  # fmt: skip
_Z = 1.96


@dataclass(frozen=True, slots=True)
class Row:
    """One word of confidence: how many judgements, how many right, and the interval of the share."""

    word: str
    judged: int
    right: int
    low: float
    high: float


def wilson(right: int, judged: int) -> tuple[float, float]:
    """95 % interval of a share; (0, 1) with nothing to go by."""
    if judged == 0:
        return 0.0, 1.0
    total, square = judged + _Z**2, _Z**2
    middle = (right + square / 2) / total
    half = _Z / total * sqrt(right * (judged - right) / judged + square / 4)
    return max(0.0, middle - half), min(1.0, middle + half)


def calibration(cases: Iterable[Iterable[Said]]) -> tuple[Row, ...]:
    """The first judgement of each case, gathered by its word; surest first."""
    gathered: dict[str, list[bool]] = {}
    for said in cases:
        first = next(iter(said), None)
        if first is not None:
            gathered.setdefault(first.confidence, []).append(first.right)
    known: Mapping[str, int] = {word: n for n, word in enumerate(ORDER)}
    return tuple(
        Row(word, len(rights), sum(rights), *wilson(sum(rights), len(rights)))
        for word, rights in sorted(gathered.items(), key=lambda pair: known.get(pair[0], len(ORDER)))
    )
