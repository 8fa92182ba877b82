"""How a simulated patient's measures move: warm-up, touch, treatment, soreness, natural recovery, home exercise.

Everything is worked out from the record so far, so that a case taken up again goes on as it would have.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from reasoner.case.state import CaseState, Loop
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import Scenario
from reasoner.practice.hidden import Hidden

__all__ = ["Course"]

_WARMS_BY = 0.5  # of the whole warm-up, each time it is moved
_AGAIN = 0.3  # of the first time: a second go at the same visit
_DAYS = 7.0


@dataclass(frozen=True)
class Course:
    """The true value of every measure now, and how sore they are. Pure: the record in, numbers out."""

    scenario: Scenario
    knowledge: Knowledge
    hidden: Hidden

    def value(self, state: CaseState, measure: str, side: str, now: datetime) -> float:
        """The true value, in the measure's unit, without any error of measuring."""
        value = self.hidden.values[measure, side]
        moved = self._earlier_moves(state)
        value += self.scenario.warm_up.get(measure, 0.0) * (1 - _WARMS_BY**moved)
        if side in (self.scenario.person.side, "none"):
            value += self._between(state, measure, now)
            value += self._treated(state, measure)
            value += self._per_point(measure) * (self.soreness(state) + self._carried(state))
        low, high = self.knowledge.measures[measure].possible
        return min(max(value, low), high)

    # ------------------------------------------------------------------------------------------ soreness

    def provoked(self, state: CaseState, visit: int | None = None) -> int:
        """Acts in a visit that provoke: tests, and measures that are pushed to the end."""
        visit = state.visit if visit is None else visit
        tests = sum(
            a.visit == visit and self._provokes_finding(a.finding) and a.value != "unknown" for a in state.answers
        )
        taken = sum(
            m.visit == visit and m.measure in self.knowledge.measures and self.knowledge.measures[m.measure].provokes
            and m.side == self.scenario.person.side
            for m in state.measurements
        )  # fmt: skip
        return tests + taken

    def soreness(self, state: CaseState, visit: int | None = None) -> float:
        """Points of ten above what they came with."""
        strain = self.scenario.strain
        return max(0, self.provoked(state, visit) - strain.bears) * strain.each

    def had_enough(self, state: CaseState) -> bool:
        """They let nothing more that provokes be done today."""
        stops = self.scenario.strain.stops_at
        return stops > 0 and self.provoked(state) >= stops

    def _carried(self, state: CaseState) -> float:
        if state.visit < 2:
            return 0.0
        return self.soreness(state, state.visit - 1) * self.scenario.strain.carries

    def _per_point(self, measure: str) -> float:
        region = self.knowledge.region
        usual = {region.pain_sign: 1.0, region.function_sign: -1.0}.get(measure, 0.0)
        return self.scenario.strain.per_point.get(measure, usual)

    def _provokes_finding(self, finding: str) -> bool:
        record = self.knowledge.findings.get(finding)
        return record is not None and record.provokes

    def _earlier_moves(self, state: CaseState) -> int:
        return sum(m.visit == state.visit and self.knowledge.measures[m.measure].provokes
                   for m in state.measurements if m.measure in self.knowledge.measures)  # fmt: skip

    # ------------------------------------------------------------------------------------------ treatment

    def _treated(self, state: CaseState, measure: str) -> float:
        here = [p for p in state.loops if p.visit == state.visit and self._hands(p)]
        gain = self.scenario.sham.get(measure, 0.0) if here else 0.0
        given: dict[str, int] = {}
        for loop in here:
            times = given.get(loop.option, 0)
            gain += self.gain(loop.option, measure) * (1.0 if times == 0 else _AGAIN)
            given[loop.option] = times + 1
        return gain

    def gain(self, option: str, measure: str) -> float:
        """What an option changes in them: as the scenario states, else the pack's figure if it acts on a cause."""
        for response in self.scenario.responses:
            if option in response.options:
                return response.gain.get(measure, 0.0)
        record = self.knowledge.options.get(option)
        if record is None or not set(record.acts_on) & set(self.scenario.truth):
            return 0.0
        return next((e.gain for e in record.effects if e.sign == measure and e.gain is not None), 0.0)

    def _hands(self, loop: Loop) -> bool:
        record = self.knowledge.options.get(loop.option)
        return record is not None and record.lane == "try_now"

    # ------------------------------------------------------------------------------------------ between visits

    def _between(self, state: CaseState, measure: str, now: datetime) -> float:
        """Natural recovery, what was kept of earlier gains, and home exercise as really done."""
        if state.visit < 2 or not state.visits or state.visits[0].opened_at is None:
            return 0.0
        weeks = max((now - state.visits[0].opened_at).days, 0) / _DAYS
        change = self.scenario.recovery_a_week.get(measure, 0.0) * weeks
        if any(n.heading == "home" and n.visit < state.visit for n in state.notes):
            home = self.scenario.home
            change += home.gain_a_week.get(measure, 0.0) * home.keeps_to * weeks
        return change + sum(self._kept(state, measure))

    def _kept(self, state: CaseState, measure: str) -> Iterator[float]:
        before = {p.option for p in state.loops if p.visit < state.visit and self._hands(p)}
        for option in sorted(before):
            yield self.gain(option, measure) * self.scenario.keeps
