"""What a treatment was followed by: the change of one measure over a loop, as evidence reads it."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum

from reasoner.case.state import Loop, Measurement
from reasoner.facts.facts import Facts
from reasoner.measures.change import benefit
from reasoner.measures.error import standard_error

__all__ = ["Changed", "change_over", "first_loops"]


@dataclass(frozen=True, slots=True)
class Changed:
    """A change for the better, with the standard error of one of its two values, in the measure's unit."""

    change: float
    sem: float


def change_over(facts: Facts, loop: Loop, measure: str) -> Changed | None:
    """From the last value before it in its visit to its retest, same tool; None where one, or the error, is missing."""
    record = facts.knowledge.measures[measure]
    side = loop.side if record.sided else "none"
    before: Measurement | None = None
    after: Measurement | None = None
    for taken in facts.state.measurements:
        if taken.measure != measure or taken.side != side or taken.assessment != loop.assessment:
            continue
        if taken.visit == loop.visit and taken.seq < loop.seq:
            before = taken
        elif taken.phase == "retest" and taken.loop == loop.number:
            after = taken
    if before is None or after is None or before.tool != after.tool:
        return None
    error = standard_error(record, before.tool, trials=min(len(before.values), len(after.values)))
    if error is None:
        return None
    was, now = (fsum(taken.values) / len(taken.values) for taken in (before, after))
    return Changed(benefit(was, now, record.better), error.value)


def first_loops(facts: Facts) -> tuple[Loop, ...]:
    """Of this assessment and side, the first completed loop on each set of targets, in the order given.

    Later loops on the same targets are shown, never multiplied in: responses of one person are not independent.
    """
    found: dict[frozenset[str], Loop] = {}
    options, state = facts.knowledge.options, facts.state
    for loop in state.loops:
        option = options.get(loop.option)
        if option is None or not option.acts_on or loop.assessment != state.assessment:
            continue
        if loop.side in (*facts.sides, "none") and loop.retested and loop.verdict not in (None, "no_comparison"):
            found.setdefault(frozenset(option.acts_on), loop)
    return tuple(found.values())
