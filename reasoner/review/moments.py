"""Beliefs after each answer, worked out again: what each answer moved, and where it turned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from reasoner.advice.beliefs import beliefs
from reasoner.case import events as ev
from reasoner.case.state import CaseState
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.review.reading import Reading
from reasoner.safety.screens import Screening

__all__ = ["Moment", "Move", "chances", "moments", "moves", "turning_points"]

_MOVED = 0.03  # chance: below it an answer is not said to have moved anything
_RANKED = ("restriction", "condition", "serious")
_TOLD = (ev.Answered, ev.BundleAnswered, ev.Measured, ev.AnswerWithdrawn, ev.Undone)


@dataclass(frozen=True, slots=True)
class Moment:
    """Chances after line `seq`, by hypothesis; `before`: the line of the moment before it (0: none)."""

    seq: int
    at: datetime
    chance: Mapping[str, float]
    before: int = 0


@dataclass(frozen=True, slots=True)
class Move:
    """What came between two moments: the hypothesis moved most, its chance before and after."""

    seq: int
    hypothesis: str
    before: float
    after: float

    @property
    def size(self) -> float:
        """How far it moved, without its direction."""
        return abs(self.after - self.before)


def chances(knowledge: Knowledge, state: CaseState, now: datetime) -> dict[str, float]:
    """Chance of every hypothesis on the first side of the case."""
    whole = Facts(knowledge, state, now)
    side = whole.case_sides[0]
    believed = beliefs(replace(whole, side=side), Screening(whole), side, reasons=False)
    return {h: believed.chance(h) for h in knowledge.hypotheses}


def moments(reading: Reading) -> tuple[Moment, ...]:
    """Beliefs after the events that can change them; in a long trail at some of them, the last always."""
    found: list[Moment] = []
    for one, state in reading.weighed:
        before = found[-1].seq if found else 0
        found.append(Moment(one.seq, one.at, chances(reading.knowledge, state, one.at), before))
    return tuple(found)


def moves(found: Sequence[Moment], knowledge: Knowledge) -> Iterator[Move]:
    """The largest move between each moment and the next, in the three lists that are ranked."""
    ranked = [h.id for h in knowledge.hypotheses.values() if h.list in _RANKED]
    for before, after in pairwise(found):
        most = max(ranked, key=lambda h: abs(after.chance[h] - before.chance[h]))
        if abs(after.chance[most] - before.chance[most]) >= _MOVED:
            yield Move(after.seq, most, before.chance[most], after.chance[most])


def turning_points(reading: Reading, found: Sequence[Moment], count: int = 3) -> tuple[Move, ...]:
    """The largest moves that an answer or a measure made, in the order they came. Age and setting turn nothing."""
    told = [r.seq for r in reading.recorded if isinstance(r.event, _TOLD)]
    turned = {m.seq for m in found if any(m.before < seq <= m.seq for seq in told)}
    made = (m for m in moves(found, reading.knowledge) if m.seq in turned)
    return tuple(sorted(sorted(made, key=lambda m: -m.size)[:count], key=lambda m: m.seq))
