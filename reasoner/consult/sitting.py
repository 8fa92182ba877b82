"""One case open at the desk: commands in, decided, recorded, applied. What it returned as recorded is on the disk."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reasoner.advice.advise import advise as advise_now
from reasoner.advice.records import Advice
from reasoner.case.apply import apply, replay
from reasoner.case.codec import decode, encode
from reasoner.case.events import Event, Exported, Recorded
from reasoner.case.state import CaseState
from reasoner.consult.clock import clock_says
from reasoner.consult.commands import Command, OpenVisit, Resume
from reasoner.consult.decide import decide
from reasoner.consult.recall import recall_lines
from reasoner.consult.situation import Decision, Situation, Stamp
from reasoner.consult.words import together
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused, Problem
from reasoner.trail import archive
from reasoner.trail.store import OF_THE_RECORD, Entry, Trail
from reasoner.trail.store import Stamp as TrailStamp

__all__ = ["Outcome", "Sitting", "recorded_of", "state_of_trail"]

Adviser = Callable[[Knowledge, CaseState, datetime], Advice]
Clock = Callable[[], datetime]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a line: what was recorded and said, or why nothing was. All or nothing."""

    recorded: tuple[Recorded, ...] = ()
    says: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    needs: tuple[str, ...] = ()
    refused: bool = False


def recorded_of(entries: Iterable[Entry]) -> tuple[Recorded, ...]:
    """The events of a trail. Lines about the record itself are passed over."""
    return tuple(
        Recorded(e.seq, e.at, e.by, e.role, decode(e.event, e.payload, e.texts))
        for e in entries
        if e.event not in OF_THE_RECORD
    )


def state_of_trail(entries: Iterable[Entry]) -> CaseState:
    """The case a trail tells of."""
    return replay(recorded_of(entries))


class Sitting:
    """A case with its trail, state and advice. The only place where a session writes."""

    def __init__(
        self, knowledge: Knowledge, trail: Trail, *, clock: Clock, by: str, role: str, adviser: Adviser = advise_now
    ) -> None:
        """Use `Sitting.begin` or `Sitting.take_up`. `by` is a clinician's code."""
        self.knowledge, self.trail = knowledge, trail
        self.clock, self.by, self.role = clock, by, role
        self.state = state_of_trail(trail.entries)
        self.read_only = False
        self._adviser = adviser
        self._advised: tuple[CaseState, datetime, Advice] | None = None
        self._recalled: tuple[str, ...] = ()

    @classmethod
    def begin(
        cls, knowledge: Knowledge, home: Path, case: str, kind: str, *, clock: Clock, by: str, role: str,
        adviser: Adviser = advise_now,
    ) -> tuple[Sitting, Outcome]:
        """A new case and its first visit. InputRefused if it exists or cannot be written."""
        if knowledge.files:
            archive.keep(home, knowledge.digest, knowledge.files)
        stamp = TrailStamp(clock(), by, role, knowledge.digest)
        trail = Trail.create(home, case, kind=kind, header={"region": knowledge.region.id}, stamp=stamp)
        sitting = cls(knowledge, trail, clock=clock, by=by, role=role, adviser=adviser)
        return sitting, sitting.submit([OpenVisit()])

    @classmethod
    def take_up(
        cls, knowledge: Knowledge, trail: Trail, *, clock: Clock, by: str, role: str, adviser: Adviser = advise_now,
        take_over: bool = False, read_only: bool = False,
    ) -> tuple[Sitting, Outcome]:
        """A case that is there. An open visit goes on; after a closed one the next has to be opened.

        A visit somebody else has open is refused in the outcome unless `take_over`; `read_only`: nothing is recorded.
        """
        region = trail.header.get("region")
        if region != knowledge.region.id:
            message = f"the case belongs to the region {region!r}, loaded is {knowledge.region.id!r}"
            raise InputRefused([Problem("", message, f"add: --region {region}")])
        sitting = cls(knowledge, trail, clock=clock, by=by, role=role, adviser=adviser)
        sitting.read_only = read_only
        if read_only:
            return sitting, Outcome(says=("read only: nothing is recorded",))
        if knowledge.files:
            archive.keep(trail.home, knowledge.digest, knowledge.files)
        return sitting, sitting.submit([Resume(take_over)])

    # ---------------------------------------------------------------------------------------------- looking

    @property
    def advice(self) -> Advice:
        """What the tool would say now; worked out once a state."""
        return self._advice_on(self.state, self.clock())

    @property
    def situation(self) -> Situation:
        """The case as decisions and views see it."""
        now = self.clock()
        return self._situation(self.state, now)

    def _situation(self, state: CaseState, now: datetime) -> Situation:
        return Situation(self.knowledge, state, lambda: self._advice_on(state, now), Stamp(now, self.by, self.role))

    def _advice_on(self, state: CaseState, now: datetime) -> Advice:
        known = self._advised
        if known is None or known[0] is not state or abs((now - known[1]).total_seconds()) > _ADVICE_HOLDS:
            self._advised = known = (state, now, self._adviser(self.knowledge, state, now))
        return known[2]

    # ---------------------------------------------------------------------------------------------- recording

    def submit(self, commands: Sequence[Command]) -> Outcome:
        """Decide and record the commands of one line: all of them, or none if one is refused.

        InputRefused if they cannot be written; then the state is what the trail holds.
        """
        if self.read_only:
            refused = Problem("", "open for reading only", f"to record: reasoner session {self.state.case}")
            return Outcome(problems=(refused,), refused=True)
        now, known = self.clock(), len(self.trail.entries)
        state, events, said = self.state, list[Event](), list[tuple[tuple[str, ...], tuple[str, str] | None]]()
        for command in commands:
            decision = self._decide(state, command, now)
            if decision.refused:
                return Outcome((), decision.says, decision.problems, decision.needs, refused=True)
            for event in decision.events:
                state = apply(state, self._as_recorded(event, len(self.trail.entries) + len(events) + 1, now))
                events.append(event)
            said.append((decision.says, decision.brief))
        odd = clock_says(self.knowledge, self.trail.entries[-1].at, now) if events else ()
        try:
            recorded = tuple(self._write(event, now) for event in events)
        except InputRefused:
            self.state = state_of_trail(self.trail.entries)  # what stands on the disk, lines of another window included
            if {e.event for e in self.trail.entries[known:]} in _HARMLESS:
                return self.submit(commands)
            raise
        self.state = state
        return Outcome(recorded, (*odd, *together(said), *self._newly_recalled(now)))

    def _newly_recalled(self, now: datetime) -> tuple[str, ...]:
        """Documents that left the room and no longer hold: each said when it is so, not again until that changes."""
        before, self._recalled = self._recalled, ()
        if any(isinstance(r.event, Exported) for r in self.state.log):
            advice = self._advice_on(self.state, now)
            self._recalled = recall_lines(self.knowledge, self.state, advice, now, waiting=False)
        return tuple(line for line in self._recalled if line not in before)

    def _decide(self, state: CaseState, command: Command, now: datetime) -> Decision:
        return decide(
            self.knowledge, state, lambda: self._advice_on(state, now), command, Stamp(now, self.by, self.role)
        )

    def _as_recorded(self, event: Event, seq: int, now: datetime) -> Recorded:
        return Recorded(seq, now, self.by, self.role, event)

    def _write(self, event: Event, now: datetime) -> Recorded:
        line = encode(event)
        entry = self.trail.append(
            line.name, line.payload, at=now, by=self.by, role=self.role, knowledge=self.knowledge.digest,
            texts=line.texts, after=len(self.trail.entries),
        )
        return self._as_recorded(event, entry.seq, now)


_HARMLESS = ({"exported"},)  # a document printed from another window changes nothing that was decided on
_ADVICE_HOLDS = 300.0  # seconds: answers expire with time, so advice does too
