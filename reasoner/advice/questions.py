"""What to ask or test next: expected fall in uncertainty for its minutes, among what the gates let be done now.

Danger questions come first regardless and are not in this list (see `asking`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal, Protocol

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.advice.records import Question
from reasoner.facts.facts import Facts
from reasoner.facts.measured import difference, reading
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Finding
from reasoner.inference.kernel import LIMITS
from reasoner.inference.network import Numbers
from reasoner.inference.questions import Asked, Candidates, candidates, gain_bits
from reasoner.options.gate import Gatekeeper

__all__ = [
    "MOST_QUESTIONS", "OpenQuestion", "Survey", "next_questions", "open_questions", "position_now", "survey",
    "worth_minutes",
]  # fmt: skip

MOST_QUESTIONS = 12
_TURNING_MINUTES = 0.5  # of any question: asking, turning to it, writing it down
_LEAST_BITS = 1e-4


class Side(Protocol):
    """What this module reads of one side."""

    facts: Facts
    gates: Gatekeeper
    beliefs: Beliefs


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """Something not yet asked, with its cost; `id` is a finding, or the measure behind it."""

    id: str
    name: str
    kind: Literal["finding", "measure"]
    ask: str
    minutes: float
    position: str
    answerable: float
    asked: Asked
    levels: tuple[str, ...] = ()

    def answer_words(self, answer: int) -> str:
        """The engine's answer in words: absent, present, or the level of a measure."""
        if self.kind == "finding":
            return "present" if answer else "absent"
        return self.levels[answer] if answer < len(self.levels) else f"level {answer}"


@dataclass(frozen=True, eq=False)
class Survey:
    """Everything that could be asked now and what each answer would do; `rates`: worth for its minutes."""

    open: tuple[OpenQuestion, ...]
    found: Candidates
    gains: Numbers
    rates: Numbers

    @property
    def approximate(self) -> bool:
        """Was any of it worked out approximately?"""
        return self.found.approximate


def survey(side: Side) -> Survey:
    """All that may be asked or measured now, in one batch."""
    believed, knowledge = side.beliefs, side.facts.knowledge
    open_ = open_questions(side)
    weights = believed.compiled.entropy_weights
    limits = replace(LIMITS, live_bits=float(knowledge.policy.live_bits))
    found = candidates(believed.network, believed.evidence, [o.asked for o in open_], weights=weights, limits=limits)
    here = position_now(side.facts)
    moves = {p.id: p.change_minutes for p in knowledge.region.positions}
    costs = [worth_minutes(one.minutes, one.position, here, moves) for one in open_]
    gains = gain_bits(found, weights)
    rates = gains * np.array([o.answerable for o in open_]) / np.array(costs) if open_ else gains
    return Survey(open_, found, gains, rates)


def worth_minutes(minutes: float, position: str, here: str, moves: Mapping[str, float]) -> float:
    """What an act costs: its own minutes, turning to it, and moving the patient where that is needed."""
    moving = moves.get(position, 0.0) if position not in ("", here) else 0.0
    return minutes + _TURNING_MINUTES + moving


def next_questions(surveyed: Survey, changes: Mapping[str, str] | None = None) -> tuple[Question, ...]:
    """The best questions for their minutes, best first. `changes`: what an answer would change, by question id."""
    best: dict[str, Question] = {}
    rates: dict[str, float] = {}
    said = changes or {}
    for one, gain, rate in zip(surveyed.open, surveyed.gains, surveyed.rates, strict=True):
        if gain >= _LEAST_BITS and rate > rates.get(one.id, 0.0):
            rates[one.id] = float(rate)
            best[one.id] = Question(
                one.id, one.kind, one.ask, float(gain), one.minutes, one.position, changes=said.get(one.id, "")
            )
    ranked = sorted(best.values(), key=lambda q: -rates[q.id])
    return tuple(ranked[:MOST_QUESTIONS])


def open_questions(side: Side) -> tuple[OpenQuestion, ...]:
    """All that carries weight, is not answered yet, and may be done now."""
    return tuple(_unasked(side))


def _unasked(side: Side) -> Iterator[OpenQuestion]:
    """Findings and measures that carry weight here, are not answered on this side, and may be done now."""
    facts, knowledge = side.facts, side.facts.knowledge
    answered = {a.finding for a in facts.standing.values() if a.side in (*facts.sides, "none")}
    for finding in knowledge.findings.values():
        asked = side.beliefs.compiled.asked(finding.id)
        if asked is None or finding.kind == "composite" or finding.id in answered:
            continue
        if finding.retired or finding.general_for:
            continue
        if finding.measured is not None:
            yield from _unmeasured(side, finding, asked)
        elif side.gates.judge(finding.load_classes).open:
            yield OpenQuestion(
                finding.id, finding.name, "finding", finding.ask or finding.name, finding.minutes, finding.position,
                _answerable(knowledge, finding), asked,
            )  # fmt: skip


def _unmeasured(side: Side, finding: Finding, asked: Asked) -> Iterator[OpenQuestion]:
    assert finding.measured is not None
    facts = side.facts
    how = difference if finding.measured.of == "side_difference" else reading
    measure = facts.knowledge.measures[finding.measured.measure]
    if measure.derived or how(facts, measure.id, facts.sides[0]) is not None:
        return
    if side.gates.judge(measure.load_classes).open:
        yield OpenQuestion(
            measure.id, measure.name, "measure", measure.how or measure.name, measure.minutes, measure.position,
            _answerable(facts.knowledge, finding), asked, finding.measured.level_names,
        )  # fmt: skip


def _answerable(knowledge: Knowledge, finding: Finding) -> float:
    return 1.0 if finding.answerable is None else knowledge.number(finding.answerable)


def position_now(facts: Facts) -> str:
    """Where the patient is: the position of the last thing recorded that has one."""
    positions: Mapping[str, str] = {f.id: f.position for f in facts.knowledge.findings.values() if f.position}
    for answer in reversed(facts.answers):
        if answer.finding in positions:
            return positions[answer.finding]
    return ""
