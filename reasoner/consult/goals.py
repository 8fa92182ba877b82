"""A number the patient wants of one measure: recorded, so that progress can be judged against it."""

from __future__ import annotations

from reasoner.case.events import GoalSet
from reasoner.consult import words
from reasoner.consult.commands import SetGoal
from reasoner.consult.situation import Decision, Situation, refuse

__all__ = ["set_goal"]


def set_goal(case: Situation, command: SetGoal) -> Decision:
    """The goal of one measure on one side. A later one replaces it."""
    record = case.knowledge.measures[command.measure]
    side = case.one_side(command.side, record.sided)
    if side is None:
        return refuse(f"{record.name}: which side?", f"write: aim {record.name} L ...")
    low, high = record.possible
    if not low <= command.value <= high:
        return refuse(
            f"{record.name} {words.number(command.value)} {record.unit}: not possible",
            f"it runs from {words.number(low)} to {words.number(high)} {record.unit}",
        )
    said = f"goal: {record.name}{words.of_side(side)} {words.number(command.value)}"
    unit = f" {record.unit}" if record.unit[:1].isalpha() else ""
    event = GoalSet(record.id, side, command.value, command.words)
    return Decision((event,), (said + unit + (f": {command.words}" if command.words else ""),))
