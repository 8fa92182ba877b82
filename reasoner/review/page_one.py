"""Page one of a review, as data: who, what was overridden, skipped, claimed, left open, and where it turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reasoner.advice.records import Question
from reasoner.case import events as ev
from reasoner.case.state import CaseState
from reasoner.review.counted import Fault, Idea, counted, first_idea, hands_on, in_order, stopped_loops
from reasoner.review.moments import Moment, Move, moments, turning_points
from reasoner.review.reading import Reading

__all__ = ["PageOne", "not_asked", "page_one"]

MOST_TELLING = 8  # questions looked at when the examination began
_PAUSE = 20.0  # minutes between two lines beyond which nobody was at the desk


@dataclass(frozen=True)
class PageOne:
    """What a mentor sees first. `minutes`: at the desk, pauses left out. `not_asked`: would have told most."""

    reading: Reading
    clinician: str
    role: str
    minutes: int
    faults: tuple[Fault, ...]
    idea: Idea | None
    turning: tuple[Move, ...]
    not_asked: tuple[Question, ...]
    asked_of: tuple[int, int]  # of those that would have told most when the examination began: asked, of how many
    moments: tuple[Moment, ...]
    treated: int
    retested: int
    stopped: int  # retests left out because a danger screen was met
    sampled: bool  # beliefs at some moments only

    @property
    def loops(self) -> str:
        """How many techniques were given and retested, in words."""
        stopped = f", {self.stopped} excused: a danger screen stopped it" if self.stopped else ""
        return f"{self.treated} given, {self.retested} retested{stopped}"

    def of(self, code: str) -> tuple[Fault, ...]:
        """Faults of one kind."""
        return tuple(f for f in self.faults if f.code == code)


def page_one(reading: Reading, missed: Sequence[Fault] = ()) -> PageOne:
    """Everything on page one. Beliefs are worked out again with the knowledge of the reading.

    `missed`: dangers known from the truth of a practice case that is over; the record alone does not show them.
    """
    found = moments(reading)
    missing, asked = not_asked(reading)
    first = reading.state.visits[0] if reading.state.visits else None
    loops = [p for p in reading.state.loops if hands_on(reading.knowledge, p.option)]
    changes = sum(m.before != 0 for m in found)
    return PageOne(
        reading=reading,
        clinician=first.clinician if first is not None else reading.recorded[0].by,
        role=first.role if first is not None else reading.recorded[0].role,
        minutes=_minutes(reading),
        faults=in_order((*missed, *counted(reading, found))),
        idea=first_idea(reading, found),
        turning=turning_points(reading, found),
        not_asked=missing,
        asked_of=asked,
        moments=found,
        treated=len(loops),
        retested=sum(p.retested for p in loops),
        stopped=len({p.number for p in loops if not p.retested} & stopped_loops(reading)),
        sampled=changes + 1 < _evidence_lines(reading),
    )


def not_asked(reading: Reading, most: int = 4) -> tuple[tuple[Question, ...], tuple[int, int]]:
    """What would have told most when the first decision fell and was not asked in that visit.

    And, of the questions that would have told most when the examination began, how many were asked, of how many.
    """
    seq, state = _decision(reading)
    best = reading.questions_at(seq)
    told = {a.finding for a in reading.state.answers if a.visit == state.visit}
    told |= {m.measure for m in reading.state.measurements if m.visit == state.visit}
    missing = tuple(q for q in best if q.id not in told)
    start = _examination_begins(reading, seq)
    ranked = reading.questions_at(start)[:MOST_TELLING]
    return missing[:most], (sum(q.id in told for q in ranked), len(ranked))


def _examination_begins(reading: Reading, decided: int) -> int:
    """The line before the first answer that is not one of the stop-now questions; at the latest the decision."""
    always = {f for b in reading.knowledge.region.always_ask for f in b.findings}
    for one in reading.recorded:
        if isinstance(one.event, ev.Answered) and one.event.finding not in always:
            return min(max(one.seq - 1, 1), decided)
    return decided


def _decision(reading: Reading) -> tuple[int, CaseState]:
    """The first own judgement or technique; without either the end."""
    for one, state in reading.turns:
        treated = isinstance(one.event, ev.Treated) and hands_on(reading.knowledge, one.event.option)
        if treated or isinstance(one.event, ev.Judged):
            return one.seq, state
    last, state = reading.turns[-1]
    return last.seq, state


def _minutes(reading: Reading) -> int:
    gaps: Sequence[float] = [
        (after.at - before.at).total_seconds() / 60 for before, after in pairwise(reading.recorded)
    ]
    return round(sum(g for g in gaps if 0 < g <= _PAUSE))


def _evidence_lines(reading: Reading) -> int:
    kinds = (ev.Answered, ev.BundleAnswered, ev.Measured)
    return sum(isinstance(r.event, kinds) for r in reading.recorded)
