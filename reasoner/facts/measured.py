"""Measures as evidence: the reading of a measure on one side, its side difference, and bounds on either.

Values are the mean of the trials in the measure's unit; d of a side difference is positive where the side in
question is worse. Before-treatment measurements of the present assessment only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum, hypot, inf, isfinite
from typing import Any

from reasoner.case.state import Side
from reasoner.facts.facts import BOUND_Z, Facts
from reasoner.facts.verdict import FALSE, TRUE, UNKNOWN, Verdict
from reasoner.graph.records import Measure
from reasoner.measures.baseline import side_difference
from reasoner.measures.derived import derived_value, terms
from reasoner.measures.error import side_difference_error, standard_error

__all__ = ["Quantity", "bound", "difference", "graded", "reading"]

_OTHER: Mapping[Side, Side] = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its standard error, in the measure's unit. `seq`: of the latest measurement behind it."""

    value: float
    se: float
    seq: int


def reading(facts: Facts, measure: str, side: Side) -> Quantity | None:
    """The value on one side; for a derived measure every part is needed. None where it was not measured."""
    record = facts.knowledge.measures[measure]
    if record.derived:
        parts = {name: reading(facts, name, side) for _, name in terms(record.derived)}
        value = derived_value(record.derived, {n: q.value for n, q in parts.items() if q is not None})
        if value is None:
            return None
        known = [q for q in parts.values() if q is not None]
        return Quantity(value, hypot(*(q.se for q in known)), max(q.seq for q in known))
    taken = facts.baseline(measure, side)
    if taken is None:
        return None
    error = standard_error(record, taken.tool, trials=len(taken.values))
    return Quantity(fsum(taken.values) / len(taken.values), inf if error is None else error.value, taken.seq)


def difference(facts: Facts, measure: str, side: Side) -> Quantity | None:
    """How much worse this side is than the other; None unless both were measured."""
    if side not in _OTHER:
        return None
    record = facts.knowledge.measures[measure]
    this, other = reading(facts, measure, side), reading(facts, measure, _OTHER[side])
    if this is None or other is None:
        return None
    worse = side_difference(this.value, other.value, record.better)
    return Quantity(worse, _difference_error(facts, record, side, this, other), max(this.seq, other.seq))


def _difference_error(facts: Facts, record: Measure, side: Side, this: Quantity, other: Quantity) -> float:
    taken, opposite = facts.baseline(record.id, side), facts.baseline(record.id, _OTHER[side])
    if taken is None or opposite is None:
        return hypot(this.se, other.se)
    error = side_difference_error(
        record,
        taken.tool,
        trials=len(taken.values),
        other_tool=opposite.tool,
        other_trials=len(opposite.values),
    )
    return inf if error is None else error.value


def graded(facts: Facts, side: Side) -> dict[str, Quantity]:
    """Finding id -> d for every measured finding that has been measured on this side."""
    found = {}
    for finding in facts.knowledge.findings.values():
        if finding.measured is None:
            continue
        how = difference if finding.measured.of == "side_difference" else reading
        quantity = how(facts, finding.measured.measure, side)
        if quantity is not None and isfinite(quantity.se):
            found[finding.id] = quantity
    return found


def bound(facts: Facts, rule: Mapping[str, Any], side: Side) -> Verdict:
    """`below` or `at_least` a cut: false only 1.64 standard errors beyond it; between, measure again."""
    how = difference if rule.get("of") == "side_difference" else reading
    quantity = how(facts, rule["measure"], side)
    if quantity is None:
        return UNKNOWN
    if "below" in rule:
        past = quantity.value - rule["below"]
        if past < 0:
            return TRUE
    else:
        past = rule["at_least"] - quantity.value
        if past <= 0:
            return TRUE
    return FALSE if past > BOUND_Z * quantity.se else UNKNOWN

