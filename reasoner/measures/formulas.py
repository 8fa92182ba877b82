"""Formulas of measurement error that need no record: from published summaries to SEM, and from SEM to a change.

All take and give numbers in one unit. What is impossible (a negative SD, a reliability above 1) is a ValueError.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, isfinite, sqrt

__all__ = [
    "mdc90_from_sem", "reliable_change", "sem_from_limits", "sem_from_reliability", "sem_of_mean", "split_error",
    "within_person_sd",
]  # fmt: skip

_Z90, _Z95 = 1.645, 1.96


def mdc90_from_sem(sem: float) -> float:
    """MDC90 = 1.645 * sqrt(2) * SEM: exceeded by error alone in one pair of ten.

    >>> round(mdc90_from_sem(1.0), 4)
    2.3264
    """
    return _Z90 * sqrt(2) * _above_zero(sem)


def sem_from_reliability(sd: float, reliability: float) -> float:
    """SEM = SD * sqrt(1 - reliability), both from the same people.

    >>> round(sem_from_reliability(7.6, 0.95), 3)
    1.699
    """
    if not 0 <= reliability < 1:
        raise ValueError(f"a reliability is from 0 to below 1, not {reliability}")
    return _above_zero(sd) * sqrt(1 - reliability)


def reliable_change(before: float, after: float, sem: float) -> float:
    """Change over the standard error of a difference, sqrt(2) * SEM; beyond 1.96 either way error alone is unlikely.

    The threshold is the MDC95 divided by that error, so this and `change_class` agree wherever no drift is taken off.

    >>> round(reliable_change(47.5, 32.5, 3.354), 2)
    -3.16
    """
    return (after - before) / (sqrt(2) * _above_zero(sem))


def sem_from_limits(lower: float, upper: float) -> float:
    """SEM from 95 % limits of agreement of two occasions (their half-width is the MDC95).

    >>> round(sem_from_limits(-6.2, 6.5), 3)
    2.291
    """
    if not upper > lower:
        raise ValueError("limits of agreement run from lower to upper")
    return (upper - lower) / (2 * _Z95 * sqrt(2))


def within_person_sd(sds: Sequence[float]) -> float:
    """Root mean square of each person's own SD (equal numbers of trials each): the SEM of one trial.

    >>> round(within_person_sd([5.7, 4.2, 5.7, 2.8, 2.1]), 2)
    4.36
    """
    if not sds or any(not (isfinite(sd) and sd >= 0) for sd in sds):
        raise ValueError("within-person SDs are numbers of 0 or more")
    return sqrt(fsum(sd * sd for sd in sds) / len(sds))


def sem_of_mean(between_occasions: float, one_trial: float, trials: int) -> float:
    """SEM of the mean of `trials` on one occasion: more trials shrink the trial part only, never the occasion part.

    >>> round(sem_of_mean(0.0, 1.0, 4), 3), round(sem_of_mean(1.0, 1.0, 4), 3)
    (0.5, 1.118)
    """
    if trials < 1:
        raise ValueError("a mean needs at least one trial")
    if between_occasions < 0 or one_trial < 0:
        raise ValueError("parts of an error are 0 or more")
    return sqrt(between_occasions**2 + one_trial**2 / trials)


def split_error(sem_one: float, sem_mean: float, trials: int) -> tuple[float, float]:
    """(between-occasion part, part of one trial) from the SEM of one trial and of the mean of `trials`.

    ValueError where averaging would have gained more than independent trials can.

    >>> tuple(round(part, 2) for part in split_error(3.1, 2.0, 3))
    (1.09, 2.9)
    """
    one, mean = _above_zero(sem_one), _above_zero(sem_mean)
    if trials < 2:
        raise ValueError("two or more trials are needed to split an error")
    if not one >= mean >= one / sqrt(trials) * (1 - 1e-9):
        raise ValueError("the error of a mean lies between that of one trial and that over the root of their number")
    trial = (one**2 - mean**2) / (1 - 1 / trials)
    return sqrt(max(0.0, one**2 - trial)), sqrt(trial)


def _above_zero(number: float) -> float:
    if not (isfinite(number) and number > 0):
        raise ValueError(f"an error of measurement is above zero, not {number}")
    return number
