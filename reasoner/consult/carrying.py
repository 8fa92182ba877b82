"""From visit to visit: what was kept since the last one, and whether anything moved since the first.

What is kept until the next visit, before anything is given, says more than a reading straight after treatment.
"""

from __future__ import annotations

from datetime import timedelta

from reasoner.case.state import Measurement, Side, Visit
from reasoner.consult import words
from reasoner.consult.changing import SignResult, change_of
from reasoner.consult.situation import Situation
from reasoner.graph import records
from reasoner.measures.baseline import value

__all__ = ["kept_since", "no_progress", "opening_value", "review_due", "since_first", "warm_up"]


def opening_value(case: Situation, measure: str, side: Side, visit: int) -> Measurement | None:
    """The first value of a visit, before treatment."""
    for taken in case.state.measurements:
        if (taken.measure, taken.side, taken.visit, taken.phase) == (measure, side, visit, "baseline"):
            return taken
    return None


def _closing_value(case: Situation, measure: str, side: Side, visit: int) -> Measurement | None:
    found = [m for m in case.state.measurements if (m.measure, m.side, m.visit) == (measure, side, visit)]
    return found[-1] if found else None


def kept_since(case: Situation, record: records.Measure, side: Side, values: tuple[float, ...]) -> tuple[str, ...]:
    """Lines for the first value of a later visit, beside the last visit's first and last value. Same tool only."""
    visit = case.state.visit
    if visit < 2 or opening_value(case, record.id, side, visit) is not None:
        return ()
    began = opening_value(case, record.id, side, visit - 1)
    ended = _closing_value(case, record.id, side, visit - 1)
    if began is None or ended is None:
        return ()
    result = change_of(record, began, values, "between_visits")
    text = f"  last visit {words.number(value(began.values))}"
    if ended.phase == "retest":
        text += f", straight after treatment {words.number(value(ended.values))}"
    text += f"; now {words.number(value(values))}: kept {words.signed(result.change.change)}, {_class_words(result)}"
    if ended.phase == "retest":
        return (text, "  what is kept between visits outweighs what changed within one")
    return (text,)


def _class_words(result: SignResult) -> str:
    if result.mdc95 is None:
        return "its error between visits is not known"
    said = {"beyond": "beyond", "within": "within", "worse": "worse by more than"}[result.change.result]
    return f"{said} error between visits (needs {words.number(result.mdc95)})"


def warm_up(case: Situation, record: records.Measure, side: Side, values: tuple[float, ...]) -> tuple[str, ...]:
    """Measure, wait, measure: offered once a case; the second value says what moves by itself."""
    if record.id != case.knowledge.region.main_measure or side != case.one_side(None, record.sided):
        return ()
    before = [m for m in case.state.measurements if m.measure == record.id and m.side == side]
    if not before:
        return ("  once: wait two minutes, measure again untouched. What moves by itself is warm-up, not treatment",)
    again = [m for m in before if m.visit == case.state.visit and m.phase == "baseline"]
    if not again:
        return ()
    moved = change_of(record, again[0], values).change.change
    return (f"  moved {words.signed(moved)} by itself since the first measurement: that much is warm-up",)


# ------------------------------------------------------------------------------------------------ since the first


def since_first(case: Situation) -> tuple[SignResult, ...]:
    """Retest signs now, before treatment, beside those of the first visit that has them. Same side and tool."""
    found = []
    for sign in case.state.retest_signs:
        record = case.knowledge.measures.get(sign)
        if record is None:
            continue
        for side in case.facts.case_sides if record.sided else ("none",):
            now = opening_value(case, sign, side, case.state.visit)
            first = next((m for m in case.state.measurements if (m.measure, m.side) == (sign, side)), None)
            if now is not None and first is not None and first.visit < now.visit and first.tool == now.tool:
                found.append(change_of(record, first, now.values, "between_visits"))
    return tuple(found)


def review_due(case: Situation) -> bool:
    """Is it the visit or week from which no progress has to be answered?"""
    rules = case.knowledge.policy.visit_rules
    first: Visit | None = case.state.visits[0] if case.state.visits else None
    if rules is None or first is None or case.state.visit < 2:
        return False
    weeks = (case.stamp.now - first.opened_at) / timedelta(weeks=1) if first.opened_at is not None else 0.0
    return case.state.visit >= rules.review_visit or weeks >= rules.review_weeks


def no_progress(case: Situation) -> bool:
    """Review is due, the signs are measured, none is better by more than error, and it was not answered lately."""
    if not review_due(case):
        return False
    results = since_first(case)
    if not results or any(r.change.result == "beyond" for r in results):
        return False
    return not any(s.visit >= case.state.visit - 1 for s in case.state.stalls)
