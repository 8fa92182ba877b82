"""Beginning and taking up a practice case: the trail says from its start that it is practice, and on whom."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

from reasoner.advice.advise import advise
from reasoner.case.codec import encode
from reasoner.case.events import PatientSimulated
from reasoner.case.state import CaseState
from reasoner.consult.sitting import Adviser, Sitting, state_of_trail
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import Scenario
from reasoner.practice.patient import Patient
from reasoner.problems import InputRefused
from reasoner.trail.store import Trail

__all__ = ["MovedClock", "begin", "played", "take_up"]


@dataclass
class MovedClock:
    """A clock that also moves when told: days pass between the visits of a simulated patient."""

    base: Callable[[], datetime]
    ahead: timedelta = field(default_factory=timedelta)

    def __call__(self) -> datetime:
        return self.base() + self.ahead

    def wait(self, days: int) -> None:
        """Let days pass."""
        self.ahead += timedelta(days=days)

    def not_before(self, moment: datetime) -> None:
        """A case taken up again does not go back in time."""
        self.ahead += max(moment - self(), timedelta(0))


def begin(
    knowledge: Knowledge,
    home: Path,
    case: str,
    scenario: Scenario,
    digest: str,
    seed: int,
    *,
    clock: Callable[[], datetime],
    by: str,
    role: str,
    adviser: Adviser = advise,
) -> tuple[Sitting, Patient]:
    """A new practice case with its first visit open. `digest`: of the scenario as played."""
    sitting, _ = Sitting.begin(knowledge, home, case, "practice", clock=clock, by=by, role=role, adviser=adviser)
    line = encode(PatientSimulated(scenario.id, digest, seed))
    trail = sitting.trail
    trail.append(
        line.name,
        line.payload,
        at=clock(),
        by=by,
        role=role,
        knowledge=knowledge.digest,
        texts=line.texts,
        after=len(trail.entries),
    )
    sitting.state = state_of_trail(trail.entries)
    return sitting, Patient(scenario, knowledge, seed)


def take_up(
    knowledge: Knowledge, trail: Trail, scenario: Scenario, *, clock: MovedClock, by: str, role: str
) -> tuple[Sitting, Patient]:
    """A practice case that is there; the patient goes on as they would have.

    InputRefused if somebody else has it open.
    """
    clock.not_before(trail.entries[-1].at)
    sitting, outcome = Sitting.take_up(knowledge, trail, clock=clock, by=by, role=role)
    if outcome.refused:
        hint = "go on under that code (--by), or begin a new one: reasoner practise SCENARIO"
        raise InputRefused([replace(p, hint=hint) for p in outcome.problems])
    simulated = played(sitting.state)
    return sitting, Patient(scenario, knowledge, simulated.seed if simulated is not None else 0)


def played(state: CaseState) -> PatientSimulated | None:
    """On whom a practice case is played; None where it is not said."""
    found: Iterable[PatientSimulated] = (r.event for r in state.log if isinstance(r.event, PatientSimulated))
    return next(iter(found), None)
