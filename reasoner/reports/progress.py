"""Progress of a case: for each measure followed, what the visits say, in which words, and what follows.

No improvement is claimed inside error and drift. A plateau or a reversal reopens the hypotheses. Pure of clock: the
time is that of the case's last entry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime

from reasoner.advice.records import Advice
from reasoner.case.state import CaseState
from reasoner.consult.watching import watched
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.measures.change import Chances, chances
from reasoner.measures.single_case import LEAST_BASELINE, Band, Overlap, overlap, serial, two_sd_band
from reasoner.measures.trend import Line, Plateau, ToGoal, fit_line, plateau, reversal, to_goal
from reasoner.reports.courses import CourseBeside, courses_beside
from reasoner.reports.goals import GoalState, goals_of
from reasoner.reports.series import Series, series_of, tracked

__all__ = ["MeasureProgress", "Progress", "Reopen", "SingleCase", "progress_of", "progress_of_series"]

_MOST = 5  # hypotheses named where a plateau reopens them


@dataclass(frozen=True, slots=True)
class SingleCase:
    """Statistics over a baseline phase (visits before the first treatment) and the visits from then on."""

    baseline: int
    during: int
    overlap: Overlap | None  # None with too few values before treatment
    band: Band | None
    serial: float | None  # lag-1 autocorrelation, only where it is beyond what chance would give


@dataclass(frozen=True, slots=True)
class MeasureProgress:
    """One series and everything said about it. `goal`: the one the line is drawn for."""

    series: Series
    chances: Chances | None
    line: Line | None
    goal: GoalState | None
    goals: tuple[GoalState, ...]
    to_goal: ToGoal | None
    plateau: Plateau | None
    reversal: int | None  # place of the best earlier point
    single: SingleCase
    courses: tuple[CourseBeside, ...]
    warnings: tuple[str, ...]  # where more is not better, in this case

    @property
    def stands(self) -> bool:
        """On a plateau."""
        return self.plateau is not None and self.plateau.state == "flat"

    @property
    def falls(self) -> bool:
        """Behind its best by more than error, or losing as much as would have been worthwhile to gain."""
        return self.reversal is not None or (self.plateau is not None and self.plateau.state == "falling")

    @property
    def gap_days(self) -> float:
        """Usual days between visits; 0 with one."""
        days = self.series.days
        return (days[-1] - days[0]) / (len(days) - 1) if len(days) > 1 else 0.0


@dataclass(frozen=True, slots=True)
class Reopen:
    """What a plateau or a reversal opens again: what was treated, and what of the limits was not yet acted on."""

    treated: tuple[str, ...]  # hypothesis names
    untreated: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Progress:
    """All measures of a case, main one first; `reopen` None: nothing stands still or falls back."""

    measures: tuple[MeasureProgress, ...]
    visits: int
    reopen: Reopen | None


def progress_of(
    knowledge: Knowledge, state: CaseState, now: datetime, advise: Callable[[Knowledge, CaseState, datetime], Advice]
) -> Progress:
    """Progress of one case. `now`: time of its last entry; `advise` is called only where the hypotheses reopen."""
    facts = Facts(knowledge, state, now)
    made = []
    for record, side in tracked(knowledge, state):
        series = series_of(knowledge, state, record, side)
        if series is not None:
            made.append(progress_of_series(facts, series))
    main = knowledge.region.main_measure
    made.sort(key=lambda m: m.series.record.id != main)
    stuck = any(m.stands or m.falls for m in made)
    reopen = _reopen(knowledge, state, advise(knowledge, state, now)) if stuck else None
    return Progress(tuple(made), len(state.visits), reopen)


def progress_of_series(facts: Facts, series: Series) -> MeasureProgress:
    """What one series says."""
    record, error = series.record, series.error
    goals = goals_of(facts.knowledge, facts.state, series)
    goal = next((g for g in goals if g.kind in ("own", "other_side")), None)
    line = fit_line(series.days, series.befores, [error.value] * len(series.points)) if error is not None else None
    towards = to_goal(line, series.days[-1], goal.target, record.better) if line is not None and goal else None
    return MeasureProgress(
        series, _chances(facts.knowledge, series), line, goal, goals, towards,
        _plateau(facts.knowledge, series, goal, line),
        reversal(series.befores, record.better, error.mdc95) if error is not None else None,
        _single(series), tuple(courses_beside(facts, series)), watched(facts, series.record),
    )


def _chances(knowledge: Knowledge, series: Series) -> Chances | None:
    if series.error is None or len(series.points) < 2:
        return None
    drift = series.record.drift
    worthwhile = knowledge.number(series.record.worthwhile) if series.record.worthwhile is not None else None
    return chances(series.change, series.error.value, series.drift, drift.sd if drift is not None else 0.0, worthwhile)


def _plateau(knowledge: Knowledge, series: Series, goal: GoalState | None, line: Line | None) -> Plateau | None:
    """None too where the goal is reached, or about, or no better value exists: standing still is what was wanted."""
    record = series.record
    best = record.possible[1] if record.better == "higher" else record.possible[0]
    if (goal is not None and goal.state in ("reached", "about_there")) or series.points[-1].before == best:
        return None
    if record.worthwhile is not None:
        needed = knowledge.number(record.worthwhile)
    elif series.error is not None:
        needed = series.error.mdc95 / 2
    else:
        return None
    return plateau(series.days, series.befores, record.better, needed, line)


def _single(series: Series) -> SingleCase:
    """Values up to and with the first treated visit were taken before any treatment; later ones were not."""
    first = next((i for i, p in enumerate(series.points) if p.given), len(series.points) - 1)
    a, b = series.befores[: first + 1], series.befores[first + 1 :]
    if len(a) < LEAST_BASELINE or not b:
        return SingleCase(len(a), len(b), None, None, None)
    better = series.record.better
    lag = serial(series.befores)
    return SingleCase(
        len(a), len(b), overlap(a, b, better), two_sd_band(a, b, better), lag[0] if lag is not None and lag[1] else None
    )


def _reopen(knowledge: Knowledge, state: CaseState, advice: Advice) -> Reopen:
    aims: Iterable[str] = (
        target for loop in state.loops if (option := knowledge.options.get(loop.option)) is not None
        for target in option.acts_on
    )
    treated = tuple(dict.fromkeys(aims))
    limits = sorted((h for h in advice.hypotheses if h.list == "limits"), key=lambda h: -h.chance)
    untreated = tuple(dict.fromkeys(h.name for h in limits if h.id not in treated))
    names = {h.id: h.name for h in knowledge.hypotheses.values()}
    return Reopen(tuple(names.get(t, t) for t in treated)[:_MOST], untreated[:_MOST])
