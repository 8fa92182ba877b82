"""How far a measured number may be off: standard error of measurement (SEM) and least detectable change (MDC).

MDC95 = 1.96 * sqrt(2) * SEM: two occasions each bring their error (Weir 2005, J Strength
Cond Res 19(1):231-240; from memory).
Figures come from the measure's own records, by tool, rater and interval; nothing is worked out from other measures.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, isfinite, sqrt
from typing import Literal

from reasoner.graph.records import Basis, ErrorFigure, Measure
from reasoner.measures.formulas import mdc90_from_sem, sem_of_mean

__all__ = [
    "ErrorUsed", "Interval", "Rater", "combined_error", "mdc_from_sem", "sem_from_mdc",
    "side_difference_error", "standard_error", "within_visit_sem",
]  # fmt: skip

Rater = Literal["within", "between"]
Interval = Literal["within_visit", "between_visits"]

_Z95 = 1.96
_BASIS_ORDER: tuple[Basis, ...] = ("published", "practice", "recalled")


@dataclass(frozen=True, slots=True)
class ErrorUsed:
    """Standard error of one value or difference, in the measure's unit, and where it is from.

    `mdc95`: least change between two such values that is beyond error, 95 %; as stated, else worked out. `figure`: the
    record used, None for a combination. `note` says in words what does not match; empty if all does.
    """

    value: float
    mdc95: float
    figure: ErrorFigure | None
    basis: Basis
    note: str = ""

    @property
    def mdc90(self) -> float:
        """The same at 90 %: exceeded by error alone in one pair of ten."""
        return mdc90_from_sem(self.value)

    @property
    def exact(self) -> bool:
        """True if the figure is for this very tool, rater, interval and number of trials."""
        return not self.note


def mdc_from_sem(sem: float) -> float:
    """MDC95 from SEM.

    >>> round(mdc_from_sem(0.48), 2)  # pain rating: Alghadir 2018, J Pain Res 11:851-856 publishes 1.33
    1.33
    """
    return _Z95 * sqrt(2) * _positive(sem)


def sem_from_mdc(mdc: float) -> float:
    """SEM from MDC95.

    >>> round(sem_from_mdc(4.57), 2)  # lunge by phone: published SEM 1.65, doi 10.1177/10538127251395837
    1.65
    """
    return _positive(mdc) / (_Z95 * sqrt(2))


def standard_error(
    measure: Measure,
    tool: str | None = None,
    rater: Rater = "within",
    interval: Interval = "within_visit",
    trials: int | None = None,
) -> ErrorUsed | None:
    """Standard error of the mean of `trials` readings of one side; None if the measure states no error at all.

    tool None = the measure's first. The nearest figure is taken: same tool, then same interval, then same rater, and
    of equals the largest. With no figure for the tool, the largest of the measure's stands in and the note says so.
    The figure is for the mean of the usual number of trials. Where it states its part between occasions, another
    number of trials changes the other part only. Else it stays: for one published lunge one series was as good as
    three (Chisholm 2012, doi 10.3138/ptc.2011-41), and fewer trials are noted.
    """
    tool = tool or default_tool(measure)
    usable = [(figure, sem) for figure in measure.errors if (sem := _sem(figure)) is not None]
    found = _nearest(usable, tool, rater, interval)
    if found is None:
        return None
    figure, sem = found
    notes = _differences(figure, tool, rater, interval)
    if figure.sem is None and figure.mdc95 is None:
        notes.append("worked out from the figure for a difference between sides")
    return _used(sem, figure.mdc95, figure, measure, trials, notes)


def side_difference_error(
    measure: Measure,
    tool: str | None = None,
    rater: Rater = "within",
    interval: Interval = "within_visit",
    trials: int | None = None,
    other_tool: str | None = None,
    other_trials: int | None = None,
) -> ErrorUsed | None:
    """Standard error of a difference between sides, which is not its MDC.

    The published MDC95 of the difference / (1.96 sqrt 2) where one is stated for the tool, else the root of the summed
    squares of both sides' errors. `other_tool` and `other_trials` are the other side's, if they differ.
    """
    tool = tool or default_tool(measure)
    other_tool = other_tool or tool
    fewest = min(t for t in (trials, other_trials, measure.trials) if t is not None)
    if tool == other_tool:
        stated = [
            (figure, sem_from_mdc(figure.mdc95_side_difference))
            for figure in measure.errors
            if figure.mdc95_side_difference is not None and figure.tool == tool
        ]
        found = _nearest(stated, tool, rater, interval)
        if found is not None:
            figure, error = found
            notes = _differences(figure, tool, rater, interval)
            return _used(error, figure.mdc95_side_difference, figure, measure, fewest, notes)
    this = standard_error(measure, tool, rater, interval, trials)
    other = standard_error(measure, other_tool, rater, interval, trials if other_trials is None else other_trials)
    return combined_error(this, other)


def combined_error(*parts: ErrorUsed | None) -> ErrorUsed | None:
    """Error of a sum or difference of independent values: root of summed squares, with the weakest basis of the parts.

    Use for a measure that is derived from others. None if any part's error is not known.
    """
    known = [part for part in parts if part is not None]
    if not known or len(known) != len(parts):
        return None
    basis = max((part.basis for part in known), key=_BASIS_ORDER.index)
    note = "; ".join(dict.fromkeys(part.note for part in known if part.note))
    value = hypot(*(part.value for part in known))
    return ErrorUsed(value, mdc_from_sem(value), None, basis, note)


def within_visit_sem(measure: Measure) -> float:
    """SEM of the measure's first tool, within rater and visit; 0 if none is stated (then there is none to take off)."""
    error = standard_error(measure)
    return error.value if error is not None else 0.0


def default_tool(measure: Measure) -> str:
    """The measure's first tool; empty if it names none."""
    return measure.tools[0].id if measure.tools else ""


def _sem(figure: ErrorFigure) -> float | None:
    if figure.sem is not None:
        return _positive(figure.sem)
    if figure.mdc95 is not None:
        return sem_from_mdc(figure.mdc95)
    if figure.mdc95_side_difference is not None:
        return sem_from_mdc(figure.mdc95_side_difference) / sqrt(2)
    return None


def _nearest(
    figures: Iterable[tuple[ErrorFigure, float]], tool: str, rater: Rater, interval: Interval
) -> tuple[ErrorFigure, float] | None:
    """Of one tool the best match, the largest of equals; without that tool simply the largest."""
    figures = list(figures)
    same = [pair for pair in figures if pair[0].tool == tool]
    if not same:
        return max(figures, key=lambda pair: pair[1], default=None)
    return max(same, key=lambda pair: (pair[0].interval == interval, pair[0].rater == rater, pair[1]))


def _differences(figure: ErrorFigure, tool: str, rater: Rater, interval: Interval) -> list[str]:
    notes = []
    if figure.tool != tool:
        notes.append(f"no figure for {tool or 'this tool'}: the largest of this measure's is used ({figure.tool})")
    if figure.interval != interval:
        smaller = figure.interval == "within_visit"
        told = "from one visit, so the real error is larger" if smaller else "from separate visits, so on the wide side"
        notes.append(f"the figure is {told}")
    if figure.rater != rater:
        told = "one person measuring, not two" if figure.rater == "within" else "two people measuring, not one"
        notes.append(f"the figure is for {told}")
    return notes


def _used(
    error: float, stated: float | None, figure: ErrorFigure, measure: Measure, trials: int | None, notes: Sequence[str]
) -> ErrorUsed:
    if trials is not None and trials < 1:
        raise ValueError("an error needs at least one trial")
    notes = list(notes)
    occasions = figure.sem_between_occasions
    if trials is not None and trials != measure.trials and occasions is not None and figure.sem == error:
        trial = sqrt(max(0.0, error**2 - occasions**2) * measure.trials)
        error, stated = sem_of_mean(occasions, trial, trials), None
    elif trials is not None and trials < measure.trials:
        notes.append(f"{trials} of the usual {measure.trials} trials, so the real error may be larger")
    return ErrorUsed(error, stated or mdc_from_sem(error), figure, figure.basis, "; ".join(notes))


def _positive(number: float) -> float:
    if not (isfinite(number) and number > 0):
        raise ValueError(f"an error of measurement is above zero, not {number}")
    return number
