"""A trail opened for reading: verified first, refused with the line if it is not as recorded; states at any moment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from pathlib import Path

from reasoner.advice.advise import advise
from reasoner.advice.asking import BEFORE_HANDS
from reasoner.advice.questions import next_questions, survey
from reasoner.advice.records import Advice, Question
from reasoner.advice.side import side_views
from reasoner.case import events as ev
from reasoner.case.apply import apply
from reasoner.case.events import Recorded
from reasoner.case.state import CaseState
from reasoner.consult.sitting import recorded_of
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused, Problem
from reasoner.safety.screens import Screening, ScreenResult
from reasoner.trail.line import Entry
from reasoner.trail.verify import anchor_of, examine

__all__ = ["EVIDENCE", "MOST_MOMENTS", "Reading", "verified"]

MOST_MOMENTS = 48  # beyond it they are spread evenly over the trail, and the reader is told
_LONG, _FEW = 800, 12  # of a trail of so many lines fewer are worked out: each looks back over all of it
EVIDENCE = (
    ev.Answered, ev.BundleAnswered, ev.AnswerWithdrawn, ev.Measured, ev.ContextStated, ev.AnchorStated,
    ev.ImmobilisedStated, ev.SurgeryStated, ev.Undone, ev.AssessmentOpened, ev.VisitOpened,
)  # fmt: skip
"""Events that can change a belief."""


_TURNS = (ev.VisitOpened, ev.VisitClosed, ev.Treated, ev.Retested, ev.RetestExcused, ev.Noted, ev.Judged)


def verified(path: Path, home: Path) -> tuple[Entry, ...]:
    """The lines of a trail, if they are what was recorded. InputRefused with each bad line, or the missing end."""
    entries, problems = examine(path, anchor_of(home, path))
    bad = [p for p in problems if p.level == "error"]
    if bad:
        hint = "compare it with a copy; reasoner trail verify"
        raise InputRefused([*bad, Problem("", "not as recorded, so it is not reviewed", hint, str(path))])
    return tuple(entries)


@dataclass(frozen=True)
class Reading:
    """One trail with the knowledge it is read with. `then`: that is the knowledge it was recorded with."""

    path: Path
    entries: tuple[Entry, ...]
    recorded: tuple[Recorded, ...]
    knowledge: Knowledge
    anchored: bool = True  # a missing end would have been seen
    _screenings: dict[tuple[int, datetime], Screening] = field(default_factory=dict, repr=False, compare=False)

    @classmethod
    def of(cls, path: Path, home: Path, entries: Sequence[Entry], knowledge: Knowledge) -> Reading:
        """From verified lines."""
        return cls(path, tuple(entries), recorded_of(entries), knowledge, anchor_of(home, path) is not None)

    @classmethod
    def of_sitting(cls, knowledge: Knowledge, path: Path, entries: Sequence[Entry]) -> Reading:
        """A case that is still on the desk."""
        return cls(path, tuple(entries), recorded_of(entries), knowledge)

    @property
    def then(self) -> bool:
        """Read with the knowledge it was recorded with?"""
        return self.entries[-1].knowledge == self.knowledge.digest

    @property
    def case(self) -> str:
        """The case's name."""
        return self.state.case or self.path.stem

    @cached_property
    def state(self) -> CaseState:
        """The case at the end of the trail."""
        return self.turns[-1][1]

    @property
    def over(self) -> bool:
        """Has a visit been closed? Until then the truth of a practice case is told to nobody."""
        return any(v.closed_at is not None for v in self.state.visits)

    @property
    def ended(self) -> datetime:
        """When the last line was written."""
        return self.recorded[-1].at

    def states(self) -> Iterator[tuple[Recorded, CaseState]]:
        """Every event with the case after it."""
        state = CaseState()
        for one in self.recorded:
            state = apply(state, one)
            yield one, state

    @cached_property
    def turns(self) -> tuple[tuple[Recorded, CaseState], ...]:
        """The acts, ends and words of the trail with the case after each, and the last line; folded once."""
        last = self.recorded[-1]
        return tuple(pair for pair in self._kept if isinstance(pair[0].event, _TURNS) or pair[0] is last)

    @cached_property
    def weighed(self) -> tuple[tuple[Recorded, CaseState], ...]:
        """The moments at which beliefs are worked out, with the case then."""
        chosen = self._weighed_lines
        return tuple(pair for pair in self._kept if pair[0].seq in chosen)

    @cached_property
    def _weighed_lines(self) -> frozenset[int]:
        most = MOST_MOMENTS if len(self.recorded) <= _LONG else _FEW
        return frozenset(_spread([r.seq for r in self.recorded if isinstance(r.event, EVIDENCE)], most))

    @cached_property
    def _kept(self) -> tuple[tuple[Recorded, CaseState], ...]:
        """What the other two are picked from: the trail is folded once."""
        last, chosen = self.recorded[-1], self._weighed_lines
        return tuple(
            (r, state) for r, state in self.states() if isinstance(r.event, _TURNS) or r.seq in chosen or r is last
        )

    def state_at(self, seq: int) -> CaseState:
        """The case after line `seq`. InputRefused where there is none."""
        last = self.recorded[-1].seq
        if not 1 <= seq <= last:
            raise InputRefused([Problem("", f"there is no line {seq}", f"lines 1 to {last}", str(self.path))])
        state = CaseState()
        for one in self.recorded:
            if one.seq > seq:
                break
            state = apply(state, one)
        return state

    def at(self, seq: int) -> Recorded:
        """The event of line `seq`, or the last one before it (a line that only records a removal holds none)."""
        return [r for r in self.recorded if r.seq <= max(seq, 1)][-1]

    def advice_at(self, seq: int) -> Advice:
        """What the tool would say after line `seq`, worked out again."""
        return advise(self.knowledge, self.state_at(seq), self.at(seq).at)

    def questions_at(self, seq: int) -> tuple[Question, ...]:
        """What would have told most after line `seq`, best first; worked out again, without the rest of the advice."""
        _, views = side_views(self.knowledge, self.state_at(seq), self.at(seq).at)
        return next_questions(survey(views[0]))

    def urgent(self, state: CaseState, now: datetime) -> tuple[ScreenResult, ...]:
        """The emergency and same-day screens of a state of this trail."""
        screening = self.screening(state, now)
        return tuple(screening.result(s.id) for s in self.knowledge.screens.values() if s.send in BEFORE_HANDS)

    def screening(self, state: CaseState, now: datetime) -> Screening:
        """The danger screens of a state of this trail; worked out once for a line and a time."""
        known = self._screenings.get((state.seq, now))
        if known is None:
            known = self._screenings[state.seq, now] = Screening(Facts(self.knowledge, state, now))
        return known


def _spread(seqs: Sequence[int], most: int) -> Sequence[int]:
    """At most `most` of them, evenly, the last always."""
    if len(seqs) <= most:
        return seqs
    step = (len(seqs) - 1) / (most - 1)
    return sorted({seqs[round(n * step)] for n in range(most)})
