"""Signs that count once: several tests read one latent sign S, with a_k = P(positive | S), b_k = P(positive | not S).

With J = Se + Sp - 1 and S as good as the group's best sensitivity and best specificity,

    a_k - b_k = J_k/J_S        b_k = (1 - Sp_k) - (1 - Sp_S) J_k/J_S

which always gives 0 <= b <= a <= 1 and hands back each test's own sensitivity and specificity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reasoner.inference.network import Numbers

__all__ = ["Member", "latent_accuracy", "member_chances", "shrunk_by_agreement"]


@dataclass(frozen=True, slots=True)
class Member:
    """One reading of a group's sign: present (a) and absent (b) chance of a positive reading."""

    finding: str
    group: str
    when_present: float
    when_absent: float
    # their intervals; None where the figure is published without one
    within_present: tuple[float, float] | None = None
    within_absent: tuple[float, float] | None = None

    @property
    def uncertain(self) -> bool:
        """Has either chance an interval?"""
        return self.within_present is not None or self.within_absent is not None

    @property
    def ends_present(self) -> tuple[float, float]:
        """Interval of `when_present`; both ends the value itself where there is none."""
        return self.within_present or (self.when_present, self.when_present)

    @property
    def ends_absent(self) -> tuple[float, float]:
        """Interval of `when_absent`."""
        return self.within_absent or (self.when_absent, self.when_absent)

    @property
    def table(self) -> Numbers:
        """(2, 2): row = reading negative, positive; column = sign absent, present."""
        a, b = self.when_present, self.when_absent
        return np.array([[1 - b, 1 - a], [b, a]])


def latent_accuracy(tests: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """(Se_S, Sp_S): best sensitivity and best specificity among (Se, Sp).

    >>> latent_accuracy([(0.8, 0.7), (0.7, 0.8), (0.6, 0.9)])
    (0.8, 0.9)
    """
    return max(sens for sens, _ in tests), max(spec for _, spec in tests)


def member_chances(sens: float, spec: float, latent: tuple[float, float]) -> tuple[float, float]:
    """(a_k, b_k) of a test with this accuracy. ValueError if it tells nothing (Se + Sp <= 1).

    The strongest test alone in its group is the sign itself:

    >>> [round(x, 12) for x in member_chances(0.8, 0.7, (0.8, 0.7))]
    [1.0, 0.0]
    """
    own, best = sens + spec - 1, latent[0] + latent[1] - 1
    if own <= 0:
        raise ValueError("sensitivity and specificity together must be above 1")
    b = min(max((1 - spec) - (1 - latent[1]) * own / best, 0.0), 1.0)  # rounding only
    return min(b + own / best, 1.0), b


def shrunk_by_agreement(a: float, b: float, kappa: float) -> tuple[float, float]:
    """a' = b + kappa (a - b): what is left of a reading on which two people agree only so far.

    >>> [round(x, 3) for x in shrunk_by_agreement(0.8, 0.05, 0.4)]
    [0.35, 0.05]
    """
    return b + max(kappa, 0.0) * (a - b), b
