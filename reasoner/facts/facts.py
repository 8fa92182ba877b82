"""What holds now, three-valued: answers with their shelf life, context, and bounds on measures.

One `Facts` looks at a case from one side (`left`, `right`, or both at once for the screens).
Unknown, expired and not asked all read as unknown; a sureness strictly between 0 and 1 does too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise

from reasoner.case.state import Anchor, Answer, CaseState, Measurement, Side
from reasoner.facts.verdict import FALSE, TRUE, UNKNOWN, Verdict, any_of
from reasoner.graph.knowledge import Knowledge

__all__ = ["BOUND_Z", "Facts"]

BOUND_Z = 1.64  # one-sided 95 %: a measure bound is false only this many standard errors beyond the cut
_DAY = timedelta(days=1)
_CLOCK_SLACK = timedelta(hours=1)  # a clock set right by less than this says nothing about weeks


@dataclass(frozen=True)
class Facts:
    """Facts of one case at `now`, seen from `side` (None: every side of the case)."""

    knowledge: Knowledge
    state: CaseState
    now: datetime
    side: Side | None = None

    # ---------------------------------------------------------------------------------------------- sides

    @cached_property
    def case_sides(self) -> tuple[Side, ...]:
        """Sides the case is about: ("left",), ("left", "right"), or ("none",) while it is not known."""
        side = self.state.context.side
        return ("left", "right") if side == "both" else (side or "none",)

    @cached_property
    def sides(self) -> tuple[Side, ...]:
        """Sides considered here."""
        return (self.side,) if self.side is not None else self.case_sides

    def on(self, side: Side) -> Facts:
        """The same facts seen from one side. What stands does not depend on the side, and is not worked out again."""
        return self._with(replace(self, side=side))

    def read_with(self, knowledge: Knowledge) -> Facts:
        """The same answers with other knowledge, in which every finding holds and is called as in this one."""
        return self._with(replace(self, knowledge=knowledge))

    def _with(self, other: Facts) -> Facts:
        for name in ("answers", "_recorded", "_latest", "standing", "_by_finding"):
            vars(other)[name] = getattr(self, name)  # where a cached property keeps its value
        return other

    # ---------------------------------------------------------------------------------------------- answers

    @cached_property
    def answers(self) -> tuple[Answer, ...]:
        """Every answer of the case; what an old trail calls by a former id has the id of now."""
        named = self.knowledge.now_called
        if named.keys().isdisjoint(f for f, _ in self._recorded):
            return self.state.answers
        return tuple(replace(a, finding=named[a.finding]) if a.finding in named else a for a in self.state.answers)

    @cached_property
    def _recorded(self) -> dict[tuple[str, Side], Answer]:
        """The last answer by (finding, side), as it was called when recorded."""
        return {(a.finding, a.side): a for a in self.state.answers}

    @cached_property
    def _latest(self) -> dict[tuple[str, Side], Answer]:
        """The last answer by (finding, side): it alone decides what stands."""
        same = self.answers is self.state.answers
        return self._recorded if same else {(a.finding, a.side): a for a in self.answers}

    @cached_property
    def standing(self) -> dict[tuple[str, Side], Answer]:
        """Latest unexpired answer by (finding, side), in the order recorded."""
        held = sorted((a for a in self._latest.values() if self._holds(a)), key=lambda a: a.seq)
        return {(a.finding, a.side): a for a in held}

    @cached_property
    def expired(self) -> dict[tuple[str, Side], Answer]:
        """Latest answer by (finding, side) that no longer counts: shown only after the new one is given."""
        return {key: answer for key, answer in self._latest.items() if key not in self.standing}

    def _holds(self, answer: Answer) -> bool:
        finding = self.knowledge.findings.get(answer.finding)
        if finding is None:
            return False
        if finding.holds_for == "lasting":
            return True
        age = self.now - answer.at if answer.at is not None else timedelta(0)
        if finding.holds_for == "visit":
            fresh = answer.visit == self.state.visit and age <= timedelta(hours=self.knowledge.policy.visit_hours)
            return fresh and (finding.danger or answer.assessment == self.state.assessment)
        days = int(finding.holds_for.split()[0])
        return age <= timedelta(days=days)

    def answer(self, finding: str, side: Side) -> Answer | None:
        """Standing answer on one side; an answer recorded without a side counts for every side."""
        return self.standing.get((finding, side)) or self.standing.get((finding, "none"))

    def truth(self, finding: str) -> Verdict:
        """Is it present on a side considered? With `side` None a present answer on any side counts.

        A retired finding without an answer is read from the one asked in its place; one that nobody has from some age
        on is absent from then on, unless a present answer says otherwise.
        """
        if finding not in self._truths:
            self._truths[finding] = self._truth(self.asked_for(finding))
        return self._truths[finding]

    @cached_property
    def _truths(self) -> dict[str, Verdict]:
        """What has been looked at: dozens of rules read the same findings."""
        return {}

    def _truth(self, finding: str) -> Verdict:
        verdict = any_of(_verdict(self.answer(finding, side)) for side in self.sides)
        if verdict.unknown and self._outgrown(finding):
            return FALSE
        if self.side is None and any(_verdict(a).certainly for a in self._by_finding.get(finding, ())):
            return TRUE
        return verdict

    def _outgrown(self, finding: str) -> bool:
        """Is the patient of an age at which nobody has it any more?"""
        record, age = self.knowledge.findings.get(finding), self.state.context.age
        return record is not None and record.absent_from_age is not None and age is not None and (
            age >= record.absent_from_age
        )  # fmt: skip

    @cached_property
    def _by_finding(self) -> dict[str, tuple[Answer, ...]]:
        """Standing answers by finding, whatever the side."""
        found: dict[str, tuple[Answer, ...]] = {}
        for (finding, _), answer in self.standing.items():
            before = found.get(finding)
            found[finding] = (answer,) if before is None else (*before, answer)
        return found

    def asked_for(self, finding: str) -> str:
        """The finding to ask for: itself, or the one asked in its place once it is retired and has no answer."""
        record = self.knowledge.findings.get(finding)
        if record is None or not (record.retired and record.instead):
            return finding
        answered = any(a.value != "unknown" for a in self._by_finding.get(finding, ()))
        return finding if answered else record.instead

    # ---------------------------------------------------------------------------------------------- context

    def days_since(self, event: str) -> tuple[Verdict, int | None]:
        """(did it happen, whole days since, moved on by the time passed). Days None: not known."""
        anchor = self.state.context.days_since.get(event)
        if anchor is None:
            if event == "surgery" and self.state.context.surgery is not None and self.state.context.surgery.none:
                return FALSE, None
            if event == "cast_off" and self._never_immobilised:
                return FALSE, None
            return UNKNOWN, None
        if anchor.none:
            return FALSE, None
        if anchor.days is None:
            return UNKNOWN, None
        if self._clock_leapt(anchor):
            return TRUE, None
        passed = (self.now - anchor.stated_at) // _DAY if anchor.stated_at is not None else 0
        return (TRUE, anchor.days + passed) if passed >= 0 else (TRUE, None)

    def _clock_leapt(self, anchor: Anchor) -> bool:
        """Did the clock run backwards, or leap, since this was stated? Then nobody can count weeks from it.

        Stating it again makes it good. A gap of more than the pack's days is taken for a leap.
        """
        rules = self.knowledge.policy.visit_rules
        if rules is None or anchor.stated_at is None:
            return False
        times = [anchor.stated_at, *(r.at for r in self.state.log if r.seq > anchor.seq), self.now]
        steps = [later - earlier for earlier, later in pairwise(times)]
        return any(step < -_CLOCK_SLACK or step > timedelta(days=rules.gap_days) for step in steps)

    @property
    def _never_immobilised(self) -> bool:
        immobilised = self.state.context.immobilised
        return immobilised is not None and immobilised.none

    # ---------------------------------------------------------------------------------------------- measures

    def baseline(self, measure: str, side: Side) -> Measurement | None:
        """Latest measurement before treatment in this assessment on one side."""
        unsided = not self.knowledge.measures[measure].sided
        found = None
        for m in self.state.measurements:
            if (
                m.measure == measure
                and (m.side == side or unsided)
                and m.phase == "baseline"
                and m.assessment == self.state.assessment
            ):
                found = m
        return found


def _verdict(answer: Answer | None) -> Verdict:
    if answer is None or answer.value == "unknown":
        return UNKNOWN
    if answer.sure is not None and 0 < answer.sure < 1:
        return UNKNOWN
    return TRUE if answer.value == "present" else FALSE
