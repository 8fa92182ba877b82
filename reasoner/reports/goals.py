"""Goals of a measure and where the patient stands: their own goal, the other side, and what tasks ask of it.

A goal is reached only by more than error; short of it only by more than error; between, it cannot be told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from reasoner.case.state import CaseState, Side
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Basis, Measure
from reasoner.measures.baseline import value
from reasoner.measures.change import benefit
from reasoner.measures.error import side_difference_error, standard_error
from reasoner.reports.series import Series

__all__ = ["GoalState", "goals_of", "standing"]

_Z = 1.645  # one-sided 95 %
_OTHER: dict[Side, Side] = {"left": "right", "right": "left"}
Standing = Literal["reached", "about_there", "short", "unknown"]


@dataclass(frozen=True, slots=True)
class GoalState:
    """One goal: where it is from, the value asked for, how far short (negative: beyond it), and what that says."""

    kind: Literal["own", "other_side", "task"]
    name: str
    target: float
    short_by: float
    state: Standing
    basis: Basis | None = None
    evidence: tuple[str, ...] = ()
    range: tuple[float, float] | None = None
    note: str = ""


def standing(short_by: float, error: float | None) -> Standing:
    """Where a value stands that is `short_by` short of its goal (benefit-positive distance left), with its error.

    >>> standing(2.0, 0.7), standing(0.5, 0.7), standing(-2.0, 0.7), standing(1.0, None)
    ('short', 'about_there', 'reached', 'unknown')
    """
    if error is None:
        return "unknown"
    if short_by >= _Z * error:
        return "short"
    return "reached" if short_by <= -_Z * error else "about_there"


def goals_of(knowledge: Knowledge, state: CaseState, series: Series) -> tuple[GoalState, ...]:
    """The patient's own goal first, then the other side, then tasks from the least to the most demanding."""
    return (*_own(state, series), *_other_side(state, series), *_tasks(series))


def _now(series: Series) -> float:
    return series.points[-1].before


def _made(series: Series, target: float, error: float | None) -> tuple[float, Standing]:
    short = benefit(_now(series), target, series.record.better)
    return short, standing(short, error)


def _own(state: CaseState, series: Series) -> Iterator[GoalState]:
    for goal in state.goals:
        if goal.measure == series.record.id and goal.side == series.side:
            short, where = _made(series, goal.value, series.error.value if series.error else None)
            yield GoalState("own", goal.words or "their own goal", goal.value, short, where)


def _other_side(state: CaseState, series: Series) -> Iterator[GoalState]:
    """The other side as it was last measured before treatment. Two healthy sides differ, so that is said with it."""
    other = _OTHER.get(series.side)
    record = series.record
    seen = [m for m in state.measurements if m.measure == record.id and m.side == other and m.phase == "baseline"]
    if not seen or not seen[-1].values or record.derived:
        return
    target = value(seen[-1].values)
    pair = (
        series.tool, "within", "between_visits" if seen[-1].visit != series.points[-1].visit else "within_visit",
        series.points[-1].trials, seen[-1].tool, len(seen[-1].values),
    )
    error = side_difference_error(record, *pair)  # type: ignore[arg-type]
    allowed = record.healthy_difference
    short, where = _made(series, target, error.value if error is not None else None)
    note = ""
    if allowed is not None and allowed.value is not None:
        if where != "reached" and short <= allowed.value:
            where = "about_there"
        upper = f", up to about {allowed.range[1]:g} seen" if allowed.range is not None else ""
        note = f"healthy sides often differ by {allowed.value:g} {record.unit}{upper}"
    basis = allowed.basis if allowed is not None else None
    earlier = "" if seen[-1].visit == series.points[-1].visit else f", visit {seen[-1].visit}"
    yield GoalState(
        "other_side", f"the other side{earlier}", target, short, where, basis,
        allowed.evidence if allowed is not None else (), None, note,
    )


def _tasks(series: Series) -> Iterator[GoalState]:
    record: Measure = series.record
    error = standard_error(record, series.tool, trials=series.points[-1].trials)
    needs = sorted(record.needs, key=lambda n: n.value, reverse=record.better == "lower")
    for need in needs:
        short, where = _made(series, need.value, error.value if error is not None else None)
        if need.range is not None and where == "short":
            easier = need.range[0] if record.better == "higher" else need.range[1]
            if benefit(_now(series), easier, record.better) <= 0:
                where = "about_there"
        yield GoalState("task", need.name, need.value, short, where, need.basis, need.evidence, need.range, need.note)
