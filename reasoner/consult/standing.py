"""Which danger screens still stand: met at any visit and never resolved, whatever a later visit answered.

Danger answers end with their visit, so a later visit without the sign does not close what an earlier one opened.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from reasoner.advice.asking import URGENCY
from reasoner.case.apply import replay
from reasoner.case.events import Recorded, ScreenResolved, VisitOpened
from reasoner.case.state import CaseState
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Screen
from reasoner.safety.screens import Screening, ScreenResult

__all__ = ["LEVEL_WORDS", "Standing", "highest", "results_at", "standing"]

LEVEL_WORDS = {
    "emergency": "EMERGENCY: to be seen now",
    "same_day": "SAME DAY: to be seen today",
    "urgent": "URGENT: to be seen within days",
    "routine": "",
}


@dataclass(frozen=True, slots=True)
class Standing:
    """A screen met and not resolved: at which visit last, when, and by which answers."""

    screen: Screen
    visit: int
    at: datetime
    met_by: tuple[str, ...]


def results_at(knowledge: Knowledge, state: CaseState, now: datetime) -> tuple[ScreenResult, ...]:
    """Every screen over all sides; no beliefs, so it is quick."""
    return Screening(Facts(knowledge, state, now)).results()


def standing(knowledge: Knowledge, state: CaseState, now: datetime) -> tuple[Standing, ...]:
    """Most urgent first; of one screen the latest visit that met it."""
    found: dict[str, Standing] = {}
    for visit, part, at in _visits(state, now):
        for result in results_at(knowledge, part, at):
            if result.state == "met" and result.resolution is None and not _resolved_after(state, result, part.seq):
                found[result.screen.id] = Standing(result.screen, visit, at, result.met_by)
    return tuple(sorted(found.values(), key=lambda s: URGENCY.index(s.screen.send)))


def _visits(state: CaseState, now: datetime) -> Iterator[tuple[int, CaseState, datetime]]:
    """(number, state, time) at the end of each visit; the last one as it stands."""
    log: Sequence[Recorded] = state.log
    starts = [n for n, r in enumerate(log) if isinstance(r.event, VisitOpened)]
    for number, (_, after) in enumerate(pairwise(starts), 1):
        yield number, replay(log[:after]), log[after - 1].at
    yield state.visit, state, now


def _resolved_after(state: CaseState, result: ScreenResult, seq: int) -> bool:
    return any(
        isinstance(r.event, ScreenResolved) and r.event.screen == result.screen.id and r.seq > seq for r in state.log
    )


def highest(found: Sequence[Standing]) -> str:
    """The urgency of the whole: that of the most urgent screen standing; routine if there is none."""
    return found[0].screen.send if found else "routine"
