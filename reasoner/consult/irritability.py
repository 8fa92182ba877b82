"""Irritability worked out from its inputs, which are always shown with it: judged by eye it is unreliable.

Unknown counts as high: a part that is not known is taken at its worst.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reasoner.consult.words import number
from reasoner.graph.knowledge import Knowledge

__all__ = ["Irritable", "judge_irritability"]

Level = Literal["low", "moderate", "high", "high (not known)"]
_EFFORT = {"little": 2, "some": 1, "much": 0}
_LEVELS: tuple[Level, ...] = ("low", "moderate", "high")


@dataclass(frozen=True, slots=True)
class Irritable:
    """The level and the inputs in words."""

    level: Level
    inputs: str


def judge_irritability(
    knowledge: Knowledge, effort: str, intensity: float | None, minutes: float | None
) -> Irritable:
    """Low, moderate or high: the middle one of the three parts."""
    rule = knowledge.policy.irritability
    inputs = ", ".join((
        f"effort to provoke {effort}",
        f"{number(intensity)} of 10" if intensity is not None else "how bad not known",
        f"settles in {number(minutes)} min" if minutes is not None else "time to settle not known",
    ))
    if rule is None:
        return Irritable("high (not known)", inputs + "; this knowledge has no rule for it")
    parts = sorted((
        _EFFORT.get(effort, 2),
        _graded(intensity, rule.moderate_pain, rule.high_pain),
        _graded(minutes, rule.moderate_minutes, rule.high_minutes),
    ))
    known = effort in _EFFORT and intensity is not None and minutes is not None
    level = _LEVELS[parts[1]]
    if level == "high" and not known:
        return Irritable("high (not known)", inputs)
    return Irritable(level, inputs)


def _graded(value: float | None, moderate: float, high: float) -> int:
    if value is None or value >= high:
        return 2
    return 1 if value >= moderate else 0
