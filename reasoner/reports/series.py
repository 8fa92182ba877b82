"""One measure of one side over the visits of a case: values before and after treatment, with their errors.

Values are comparable only where the tool is the same; what was read with another tool is counted, not joined.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from reasoner.case.state import CaseState, Measurement, Side
from reasoner.consult.measuring import needs_retest
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Measure
from reasoner.measures.baseline import value
from reasoner.measures.change import ChangeClass, benefit, change_class
from reasoner.measures.derived import derived_error, derived_value, terms
from reasoner.measures.error import ErrorUsed, Rater, standard_error

__all__ = ["Point", "Series", "series_of", "tracked"]

_DAY = 86400.0


@dataclass(frozen=True, slots=True)
class Point:
    """One visit: value before treatment and after it (None: not measured), days since the first point, what was given.

    `gain`: change within the visit, benefit-positive; `gain_class`: it against error and drift within a visit.
    """

    visit: int
    day: float
    at: datetime | None
    before: float
    trials: int
    after: float | None = None
    gain: float | None = None
    gain_class: ChangeClass | None = None
    setup: bool = True  # a set-up was recorded
    given: tuple[str, ...] = ()  # option ids


@dataclass(frozen=True, slots=True)
class Series:
    """Points in order; `error`: of one value between visits (None: not known, then no change is judged)."""

    record: Measure
    side: Side
    tool: str
    points: tuple[Point, ...]
    error: ErrorUsed | None
    drift: float  # what repetition brings without treatment, never taken below zero between visits
    other_tool: int = 0  # visits measured with another tool

    @property
    def befores(self) -> tuple[float, ...]:
        """Values before treatment."""
        return tuple(p.before for p in self.points)

    @property
    def days(self) -> tuple[float, ...]:
        """Days since the first point."""
        return tuple(p.day for p in self.points)

    @property
    def change(self) -> float:
        """First to latest, before treatment both times, benefit-positive."""
        return benefit(self.points[0].before, self.points[-1].before, self.record.better)

    @property
    def change_class(self) -> ChangeClass | None:
        """The change against between-visit error and drift; None with one visit or without a known error."""
        if self.error is None or len(self.points) < 2:
            return None
        return change_class(self.change, self.error.mdc95, self.drift)


def tracked(knowledge: Knowledge, state: CaseState) -> tuple[tuple[Measure, Side], ...]:
    """What to follow: the retest signs, else the pack's own three; then what else was measured at two visits or more.

    Of a measure with sides, the case's side, or both.
    """
    region = knowledge.region
    wanted = state.retest_signs or (region.function_sign, region.pain_sign, region.main_measure)
    visits: dict[str, set[int]] = {}
    for m in state.measurements:
        visits.setdefault(m.measure, set()).add(m.visit)
    more = [ident for ident, seen in visits.items() if len(seen) > 1]
    derived = [m.id for m in knowledge.measures.values() if m.derived and _all_in(m, more)]
    side = state.context.side
    found: list[tuple[Measure, Side]] = []
    for ident in dict.fromkeys((*wanted, *more, *derived)):
        record = knowledge.measures.get(ident)
        if record is None:
            continue
        found += [(record, s) for s in _sides(record, side)]
    return tuple(found)


def _sides(record: Measure, side: Side | None) -> tuple[Side, ...]:
    if not record.sided:
        return ("none",)
    return (side,) if side in ("left", "right") else ("left", "right")


def _all_in(record: Measure, known: list[str]) -> bool:
    return all(name in known for _, name in terms(record.derived))


def series_of(knowledge: Knowledge, state: CaseState, record: Measure, side: Side) -> Series | None:
    """The series of one measure on one side; None where it was never measured before treatment."""
    if record.derived:
        return _derived_series(knowledge, state, record, side)
    own = [m for m in state.measurements if m.measure == record.id and m.side == side and m.values]
    befores: dict[int, Measurement] = {m.visit: m for m in own if m.phase == "baseline"}
    if not befores:
        return None
    tool = Counter(m.tool for m in befores.values()).most_common(1)[0][0]
    used = {v: m for v, m in befores.items() if m.tool == tool}
    rater: Rater = "within" if len(_raters(state, used)) < 2 else "between"
    fewest = min(len(m.values) for m in used.values())
    error = standard_error(record, tool, rater, "between_visits", fewest)
    start = next(iter(used.values())).at
    points = tuple(_point(knowledge, state, record, m, own, start) for m in used.values())
    return Series(record, side, tool, points, error, _drift(record), len(befores) - len(used))


def _drift(record: Measure) -> float:
    """Fatigue within a visit (a drift below zero) is no reason to believe more of a change between visits."""
    return max(0.0, record.drift.mean) if record.drift is not None else 0.0


def _raters(state: CaseState, used: dict[int, Measurement]) -> set[str]:
    return {v.clinician for v in state.visits if v.number in used and v.clinician}


def _point(
    knowledge: Knowledge, state: CaseState, record: Measure, before: Measurement, own: list[Measurement],
    start: datetime | None,
) -> Point:
    after = [m for m in own if m.visit == before.visit and m.phase == "retest" and m.tool == before.tool]
    day = (before.at - start).total_seconds() / _DAY if before.at is not None and start is not None else 0.0
    given = tuple(
        p.option for p in state.loops if p.visit == before.visit and needs_retest(knowledge.options.get(p.option))
    )
    was = value(before.values)
    setup = bool(before.setup) or not record.setup
    if not after:
        return Point(before.visit, day, before.at, was, len(before.values), setup=setup, given=given)
    now = value(after[-1].values)
    gain = benefit(was, now, record.better)
    error = standard_error(record, before.tool, trials=min(len(before.values), len(after[-1].values)))
    drift = record.drift.mean if record.drift is not None else 0.0
    judged = change_class(gain, error.mdc95, drift) if error is not None else None
    return Point(before.visit, day, before.at, was, len(before.values), now, gain, judged, setup, given)


def _derived_series(knowledge: Knowledge, state: CaseState, record: Measure, side: Side) -> Series | None:
    """A measure worked out from others, at the visits where all parts were measured."""
    parts = {}
    for _, name in terms(record.derived):
        part = knowledge.measures.get(name)
        of_part = series_of(knowledge, state, part, side) if part is not None and not part.derived else None
        if of_part is None:
            return None
        parts[name] = {p.visit: p for p in of_part.points}, of_part
    shared = [p for p in next(iter(parts.values()))[1].points if all(p.visit in seen for seen, _ in parts.values())]
    points = []
    for p in shared:
        worked = derived_value(record.derived, {name: seen[p.visit].before for name, (seen, _) in parts.items()})
        if worked is not None:
            points.append(Point(p.visit, p.day, p.at, worked, p.trials, given=p.given))
    error = derived_error(record.derived, {name: s.error for name, (_, s) in parts.items()})
    return Series(record, side, "worked out", tuple(points), error, _drift(record)) if points else None
