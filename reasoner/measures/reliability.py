"""Reliability and error from repeated measures of several people: ICC forms, SEM and MDC, with their intervals.

Forms as in Shrout PE, Fleiss JL 1979, Psychol Bull 86(2):420-428: (1,1) each person measured by others, (2,1) the same
raters drawn from many, agreement, (3,1) these raters only, consistency; (.,k) for the mean of all columns. Intervals
as there and in McGraw KO, Wong SP 1996, Psychol Methods 1(1):30-46 (from memory; checked against two libraries).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, inf, sqrt

from reasoner.measures.distributions import chi2_quantile, f_quantile
from reasoner.measures.error import mdc_from_sem
from reasoner.measures.formulas import mdc90_from_sem, sem_of_mean

__all__ = ["Estimate", "NestedError", "Reliability", "nested_error", "reliability"]

_TAIL = 0.975
Table = Sequence[Sequence[float]]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Reliability:
    """What a table of people (rows) by raters or occasions (columns) says. Errors in the unit of the table.

    `sem_agreement` holds the differences between columns, `sem_consistency` does not. `icc` by form: "1,1", "2,1",
    "3,1", "1,k", "2,k", "3,k". `column_means` show an offset between raters or a drift between occasions.
    """

    people: int
    columns: int
    icc: dict[str, Estimate]
    sem_agreement: Estimate
    sem_consistency: Estimate
    column_means: tuple[float, ...]

    @property
    def mdc95(self) -> float:
        """Of one reading, differences between columns included."""
        return mdc_from_sem(self.sem_agreement.value)

    @property
    def mdc90(self) -> float:
        """Of one reading, differences between columns included."""
        return mdc90_from_sem(self.sem_agreement.value)


@dataclass(frozen=True, slots=True)
class NestedError:
    """Error of the mean of `trials` on one occasion, with its interval, and its two parts."""

    trials: int
    sem: Estimate
    between_occasions: float
    one_trial: float

    def of_mean(self, trials: int) -> float:
        """SEM of the mean of another number of trials on one occasion."""
        return sem_of_mean(self.between_occasions, self.one_trial, trials)


@dataclass(frozen=True, slots=True)
class _Squares:
    """Mean squares of a two-way table without replication; `within`: of a one-way one."""

    n: int
    k: int
    between: float
    columns: float
    error: float
    within: float


def reliability(table: Table) -> Reliability:
    """From n people by k readings. ValueError under 2 people or 2 readings, for gaps, and where nothing varies."""
    s = _squares(table)
    if s.error <= 0:
        raise ValueError("the readings agree exactly: an error cannot be worked out from them")
    if s.between <= 0:
        raise ValueError("everybody has the same mean: a reliability needs people who differ")
    icc = {**_forms(s, "1"), **_forms(s, "3"), **_agreement(s)}
    # MSW = (MSJ + (n - 1) MSE) / n: the two parts have their own degrees of freedom
    df = s.within**2 / (
        (s.columns / s.n) ** 2 / (s.k - 1) + ((s.n - 1) / s.n * s.error) ** 2 / ((s.n - 1) * (s.k - 1))
    )
    means = tuple(fsum(column) / s.n for column in zip(*table, strict=True))
    return Reliability(
        s.n, s.k, icc, _root(s.within, df), _root(s.error, (s.n - 1) * (s.k - 1)), means
    )


def nested_error(people: Sequence[Table]) -> NestedError:
    """From people, each with the same number of occasions, each with the same number of trials.

    ValueError under 2 people, 2 occasions or 2 trials, for gaps, and where trials agree exactly.
    """
    n, occasions, trials = len(people), len(people[0]) if people else 0, len(people[0][0]) if people else 0
    if n < 2 or occasions < 2 or trials < 2:
        raise ValueError("two or more people, occasions and trials are needed")
    if any(len(person) != occasions or any(len(o) != trials for o in person) for person in people):
        raise ValueError("every person needs the same occasions and trials")
    means = [[fsum(o) / trials for o in person] for person in people]
    own = [fsum(person) / occasions for person in means]
    ms_trial = fsum(
        (value - mean) ** 2
        for person, of_person in zip(people, means, strict=True)
        for occasion, mean in zip(person, of_person, strict=True)
        for value in occasion
    ) / (n * occasions * (trials - 1))
    ms_mean = fsum((m - p) ** 2 for mm, p in zip(means, own, strict=True) for m in mm) / (n * (occasions - 1))
    if ms_mean <= 0:
        raise ValueError("the occasions agree exactly: an error cannot be worked out from them")
    between = max(0.0, ms_mean - ms_trial / trials)
    return NestedError(trials, _root(ms_mean, n * (occasions - 1)), sqrt(between), sqrt(ms_trial))


def _squares(table: Table) -> _Squares:
    n, k = len(table), len(table[0]) if table else 0
    if n < 2 or k < 2 or any(len(row) != k for row in table):
        raise ValueError("two or more people with the same two or more readings each are needed")
    grand = fsum(v for row in table for v in row) / (n * k)
    rows = [fsum(row) / k for row in table]
    columns = [fsum(column) / n for column in zip(*table, strict=True)]
    ss_rows = k * fsum((m - grand) ** 2 for m in rows)
    ss_columns = n * fsum((m - grand) ** 2 for m in columns)
    # not by subtraction, which would lose digits
    ss_error = fsum(
        (v - r - c + grand) ** 2 for row, r in zip(table, rows, strict=True) for v, c in zip(row, columns, strict=True)
    )
    scale = max(1.0, *(abs(v) for row in table for v in row)) ** 2 * 1e-24
    ss_error = 0.0 if ss_error <= scale * n * k else ss_error
    ss_rows = 0.0 if ss_rows <= scale * n * k else ss_rows
    return _Squares(
        n, k, ss_rows / (n - 1), ss_columns / (k - 1), ss_error / ((n - 1) * (k - 1)),
        (ss_columns + ss_error) / (n * (k - 1)),
    )


def _forms(s: _Squares, form: str) -> dict[str, Estimate]:
    """(1,1) and (1,k), or (3,1) and (3,k): one ratio of mean squares decides both."""
    error, df = (s.within, s.n * (s.k - 1)) if form == "1" else (s.error, (s.n - 1) * (s.k - 1))
    ratio = s.between / error
    low, high = ratio / f_quantile(_TAIL, s.n - 1, df), ratio * f_quantile(_TAIL, df, s.n - 1)
    single = Estimate(*((f - 1) / (f + s.k - 1) for f in (ratio, low, high)))
    return {f"{form},1": single, f"{form},k": Estimate(*(1 - 1 / f for f in (ratio, low, high)))}


def _agreement(s: _Squares) -> dict[str, Estimate]:
    n, k = s.n, s.k
    r = (s.between - s.error) / (s.between + (k - 1) * s.error + k * (s.columns - s.error) / n)
    f = s.columns / s.error
    rest = n * (1 + (k - 1) * r) - k * r
    v = (k - 1) * (n - 1) * (k * r * f + rest) ** 2 / ((n - 1) * (k * r * f) ** 2 + rest**2)
    low, high = -1 / (k - 1), 1.0  # under one degree of freedom nothing can be said
    if v >= 1:
        f_low, f_high = f_quantile(_TAIL, n - 1, v), f_quantile(_TAIL, v, n - 1)
        spread = k * s.columns + (k * n - k - n) * s.error
        low = n * (s.between - f_low * s.error) / (f_low * spread + n * s.between)
        high = n * (f_high * s.between - s.error) / (spread + n * f_high * s.between)
    single = Estimate(r, low, high)
    return {"2,1": single, "2,k": Estimate(*(_stepped_up(x, k) for x in (r, low, high)))}


def _stepped_up(single: float, k: int) -> float:
    """Spearman-Brown: of the mean of k. Minus infinity where people differ less than error alone would make them."""
    share = 1 + (k - 1) * single
    return k * single / share if share > 1e-9 else -inf


def _root(square: float, df: float) -> Estimate:
    """An SEM from its mean square, with the interval of a variance."""
    return Estimate(
        sqrt(square), sqrt(square * df / chi2_quantile(_TAIL, df)), sqrt(square * df / chi2_quantile(1 - _TAIL, df))
    )
