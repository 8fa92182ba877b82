"""What a fresh measurement asks one to notice: a gain that is none here, and sides that look exchanged."""

from __future__ import annotations

from dataclasses import replace

from reasoner.case.state import Measurement, Side
from reasoner.consult import words
from reasoner.consult.situation import Situation
from reasoner.facts.facts import Facts
from reasoner.graph.records import Measure
from reasoner.measures.baseline import value
from reasoner.measures.error import standard_error
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["exchanged", "look_exchanged", "warnings", "watched"]

_OTHER: dict[Side, Side] = {"left": "right", "right": "left"}


def watched(facts: Facts, record: Measure) -> tuple[str, ...]:
    """The pack's `watch` lines of a measure that certainly hold: where its benefit turns, or force must stop.

    A side not measured again in this assessment stands as it was measured last: an old other side still warns.
    """
    if not record.watch:
        return ()
    carried = _carried(facts)
    screening = Screening(carried)
    return tuple(
        w["say"] for w in record.watch
        if any(
            evaluate(w["when"], screening.rules_for(replace(carried, side=s))).verdict.certainly
            for s in carried.sides
        )
    )


def warnings(case: Situation, record: Measure, side: Side, tool: str, values: tuple[float, ...]) -> tuple[str, ...]:
    """The `watch` lines that hold with this fresh value."""
    if not record.watch:
        return ()
    taken = Measurement(
        record.id, side, tool, values, at=case.stamp.now, visit=case.state.visit, assessment=case.state.assessment
    )
    state = replace(case.state, measurements=(*case.state.measurements, taken))
    return tuple(f"  watch: {say}" for say in watched(Facts(case.knowledge, state, case.stamp.now), record))


def _carried(facts: Facts) -> Facts:
    """The same facts, with the latest value of each measure and side counted as of this assessment."""
    latest = {(m.measure, m.side): m for m in facts.state.measurements if m.phase == "baseline"}
    measurements = tuple(replace(m, assessment=facts.state.assessment) for m in latest.values())
    return replace(facts, state=replace(facts.state, measurements=measurements))


def exchanged(case: Situation, record: Measure, side: Side, tool: str, values: tuple[float, ...]) -> tuple[str, ...]:
    """A question where the two sides of this visit look like the last visit's the other way round."""
    other = _OTHER.get(side)
    if other is None:
        return ()
    visit = case.state.visit
    now = _latest(case, record.id, other, visit, this_visit=True)
    before = _latest(case, record.id, side, visit), _latest(case, record.id, other, visit)
    error = standard_error(record, tool, interval="between_visits")
    if now is None or before[0] is None or before[1] is None or error is None:
        return ()
    if not look_exchanged((before[0], before[1]), (value(values), now), error.mdc95):
        return ()
    return (
        f"  left and right exchanged? Last time {words.of_side(side).strip()} was {words.number(before[0])} and "
        f"{words.of_side(other).strip()} {words.number(before[1])}: look again (undo)",
    )


def look_exchanged(before: tuple[float, float], now: tuple[float, float], mdc95: float) -> bool:
    """Do two sides agree with the earlier ones crosswise, within error, and not as they stand?

    >>> look_exchanged((4.0, 9.0), (9.2, 4.3), 1.9), look_exchanged((4.0, 9.0), (5.0, 9.0), 1.9)
    (True, False)
    """
    straight = max(abs(now[0] - before[0]), abs(now[1] - before[1]))
    across = max(abs(now[0] - before[1]), abs(now[1] - before[0]))
    both_moved = min(abs(now[0] - before[0]), abs(now[1] - before[1]))
    return across < mdc95 <= straight and both_moved >= mdc95


def _latest(case: Situation, measure: str, side: Side, visit: int, this_visit: bool = False) -> float | None:
    found = [
        m for m in case.state.measurements
        if m.measure == measure and m.side == side and m.values and m.phase == "baseline"
        and (m.visit == visit if this_visit else m.visit < visit)
    ]
    return value(found[-1].values) if found else None
