"""What is true of a simulated patient: every finding on both legs and every measure, one coherent set from a seed.

Drawn from the same network the tool reasons with, given the hidden truth: a finding's level from its causes and leak,
a group's members from one latent sign, a measure from the level it was drawn at. Rules and scores are drawn first and
their items redrawn until they agree with them. What the scenario states is kept as stated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from random import Random
from typing import Any, Literal

from reasoner.case.state import Anchor, Answer, CaseState, Context, Immobilised, Side, Surgery
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Finding, Modifier
from reasoner.graph.scenario import Scenario
from reasoner.inference.compile import Compiled, compile_network
from reasoner.measures.derived import derived_value, terms
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["ANCHORS", "OTHER", "Hidden", "context_of", "draw"]

OTHER: Mapping[str, Literal["left", "right"]] = {"left": "right", "right": "left"}
ANCHORS = ("injury", "surgery", "cast_off", "union_on_film", "symptoms")
_FACT_RATE = 0.05  # of a fact that nothing in the pack gives a chance for
_TRIES = 60


@dataclass(frozen=True)
class Hidden:
    """The truth beneath the answers. `present`: (finding, side or "none"). `values`: (measure, side or "none")."""

    present: Mapping[tuple[str, str], bool]
    values: Mapping[tuple[str, str], float]
    mismatched: tuple[str, ...] = ()  # rules whose items could not be made to agree with them

    def is_present(self, finding: str, side: str) -> bool:
        """Is it there?"""
        return self.present.get((finding, side), self.present.get((finding, "none"), False))


def draw(scenario: Scenario, knowledge: Knowledge, seed: int) -> Hidden:
    """The whole set: the same scenario, knowledge and seed always give the same."""
    return _Draw(scenario, knowledge, seed).made()


def context_of(scenario: Scenario, at: datetime) -> Context:
    """Who and how, as it would stand in the record if all of it had been asked."""
    p = scenario.person
    days = {a: Anchor(p.days_since.get(a), at, none=a not in p.days_since) for a in ANCHORS}
    cast = (
        Immobilised(none=True)
        if p.immobilised_weeks is None
        else Immobilised(False, p.immobilised_weeks, p.immobilised_position or None)
    )
    surgery = (
        Surgery(none=True) if not p.procedure else Surgery(False, p.procedure, None, p.weight_bearing or None, p.orders)
    )
    return Context(p.side, float(p.age), p.sex, p.setting, days, cast, surgery)


@dataclass
class _Draw:
    scenario: Scenario
    knowledge: Knowledge
    seed: int

    def made(self) -> Hidden:
        compiled = compile_network(self.knowledge, self.scenario.person.setting)
        stated = set(self.scenario.answers)
        wanted = {
            f.id: self._level(compiled, f.id, 0) > 0
            for f in self._composites()
            if self._linked(compiled, f.id) and not self._items(f.id) & stated  # else it follows from what is stated
        }
        best: tuple[dict[str, bool], tuple[str, ...]] | None = None
        redrawn: frozenset[str] = frozenset()
        for attempt in range(_TRIES):
            found = self._findings(compiled, attempt, redrawn, best[0] if best is not None else {})
            wrong = tuple(sorted(self._disagreeing(found, wanted)))
            if best is None or len(wrong) < len(best[1]):
                best = (found, wrong)
            if not wrong:
                break
            redrawn = frozenset(i for c in wrong for i in self._items(c))
            if not redrawn:
                break
        assert best is not None
        return Hidden(self._both_legs(best[0]), self._values(compiled), best[1])

    def _random(self, *about: object) -> Random:
        return Random(":".join(str(part) for part in (self.scenario.id, self.seed, *about)))

    # ------------------------------------------------------------------------------------------ findings

    def _composites(self) -> Iterator[Finding]:
        return (f for f in self.knowledge.findings.values() if f.composite is not None)

    def _linked(self, compiled: Compiled, finding: str) -> bool:
        """Does a true cause bear on it? Else it is what its items make it."""
        if finding not in compiled.network.node_index:
            return False
        reach = compiled.network.reach[compiled.network.place(finding)]
        return any(reach[compiled.network.cause_index[h], 0] > 0 for h in self.scenario.truth)

    def _findings(
        self, compiled: Compiled, attempt: int, redrawn: frozenset[str], before: Mapping[str, bool]
    ) -> dict[str, bool]:
        found: dict[str, bool] = {}
        for finding in self.knowledge.findings.values():
            stated = self.scenario.answers.get(finding.id)
            if stated is not None and stated.value != "unknown":
                found[finding.id] = stated.value == "present"
            elif finding.composite is None and finding.measured is None:
                again = attempt if finding.id in redrawn else 0
                kept = before.get(finding.id) if attempt and not again else None
                found[finding.id] = self._one(compiled, finding, again) if kept is None else kept
        return found

    def _one(self, compiled: Compiled, finding: Finding, attempt: int) -> bool:
        if finding.id in compiled.accounted_for:
            return True
        node = compiled.node(finding.id)
        if node is None:
            return self._random("fact", finding.id).random() < self._fact_chance(finding)
        level = self._level(compiled, node, attempt if node == finding.id else 0, quiet=self._quiet(finding))
        member, quiet = compiled.members.get(finding.id), self._quiet(finding)
        if member is None:
            return level > 0
        chance = member.when_present if level else 0.0 if quiet else member.when_absent
        return self._random("member", finding.id, attempt).random() < chance

    def _level(self, compiled: Compiled, node: str, attempt: int, *, quiet: bool = False) -> int:
        """A level drawn from P(level | truth); `quiet`: without the leak, so only a true cause brings it."""
        network = compiled.network
        place = network.place(node)
        chance = self._random("node", node, attempt).random()
        on = [network.cause_index[h] for h in self.scenario.truth]
        leak = network.leak[place] * (0.0 if quiet else 1.0)
        below = (1.0 - leak) * (1.0 - network.reach[place][on]).prod(axis=0)
        return sum(chance >= float(b) for b in below)

    def _quiet(self, finding: Finding) -> bool:
        """A danger sign or stop-now fact without a cause comes by chance only where noise is on."""
        asked = any(finding.id in b.findings for b in self.knowledge.region.always_ask)
        return (finding.danger or asked) and not self.scenario.noise

    def _fact_chance(self, finding: Finding) -> float:
        """A fact about the person: rarer or commoner than usual as it changes the base rate of what is true."""
        if self._quiet(finding):
            return 0.0
        rate = self.knowledge.number(finding.leak) if finding.leak is not None else _FACT_RATE
        odds = rate / (1 - rate)
        for h in self.scenario.truth:
            for m in self.knowledge.hypotheses[h].modifiers:
                odds *= _ratio(m) if m.fact == finding.id else 1.0
        return odds / (1 + odds)

    def _items(self, composite: str) -> set[str]:
        rule: Any = self.knowledge.findings[composite].composite
        if isinstance(rule, dict) and set(rule) == {"screen"}:
            rule = self.knowledge.screens[rule["screen"]].rule
        return {name for name in _names(rule) if name in self.knowledge.findings}

    def _disagreeing(self, found: Mapping[str, bool], wanted: Mapping[str, bool]) -> set[str]:
        """Rules and scores that come out other than drawn. One that does not apply here disagrees with nothing."""
        if not wanted:
            return set()
        now = datetime(2026, 1, 1, tzinfo=UTC)
        side: Side = self.scenario.person.side
        answers = tuple(
            Answer(f, side if self.knowledge.findings[f].sided else "none", "present" if there else "absent", at=now)
            for f, there in found.items()
        )
        state = CaseState(context=context_of(self.scenario, now), answers=answers)
        screening = Screening(Facts(self.knowledge, state, now))
        wrong = set()
        for ident, present in wanted.items():
            rule = self.knowledge.findings[ident].composite
            if isinstance(rule, dict) and set(rule) == {"screen"}:
                comes: bool | None = {"met": True, "not_met": False}.get(screening.result(rule["screen"]).state)
            else:
                verdict = evaluate(ident, screening.rules).verdict
                comes = None if verdict.unknown else verdict.certainly
            if comes is not None and comes != present:
                wrong.add(ident)
        return wrong

    def _both_legs(self, found: Mapping[str, bool]) -> dict[tuple[str, str], bool]:
        side, other = self.scenario.person.side, OTHER[self.scenario.person.side]
        both: dict[tuple[str, str], bool] = {}
        for ident, there in found.items():
            if not self.knowledge.findings[ident].sided:
                both[ident, "none"] = there
                continue
            stated = self.scenario.answers.get(ident)
            both[ident, side] = there
            both[ident, other] = stated is not None and stated.other_side == "present"
        return both

    # ------------------------------------------------------------------------------------------ measures

    def _values(self, compiled: Compiled) -> dict[tuple[str, str], float]:
        """True values before treatment. A derived measure follows from its parts."""
        values: dict[tuple[str, str], float] = {}
        for measure in self.knowledge.measures.values():
            if not measure.derived:
                for side in ("left", "right") if measure.sided else ("none",):
                    values[measure.id, side] = self._usual(measure.id, side)
        for finding in self.knowledge.findings.values():
            if finding.measured is not None and not self.knowledge.measures[finding.measured.measure].derived:
                self._worsen(compiled, finding, values)
        self._fit_derived(compiled, values)
        self._ratings(values)
        for ident, sides in self.scenario.measures.items():
            for side, value in sides.items():
                values[ident, side] = value
        return values

    def _usual(self, measure: str, side: str) -> float:
        record = self.knowledge.measures[measure]
        low, high = record.usual or record.possible
        if record.kind == "pain":
            return 0.0
        if record.kind == "function" and record.usual is None:
            return high if record.better == "higher" else low
        shared, own = self._random("usual", measure), self._random("usual", measure, side)
        return low + (high - low) * (0.6 + 0.1 * shared.random() + 0.02 * own.random())

    def _worsen(self, compiled: Compiled, finding: Finding, values: dict[tuple[str, str], float]) -> None:
        """The affected side falls short of the other by a difference drawn inside the level drawn."""
        assert finding.measured is not None
        how, side = finding.measured, self.scenario.person.side
        record = self.knowledge.measures[how.measure]
        if finding.id not in compiled.network.node_index or not record.sided:
            return
        d = self._difference(compiled, finding, 0)
        sign = -1.0 if record.better == "higher" else 1.0
        if how.of == "side_difference":
            values[record.id, side] = values[record.id, OTHER[side]] + sign * d
        else:
            values[record.id, side] = d

    def _difference(self, compiled: Compiled, finding: Finding, attempt: int) -> float:
        assert finding.measured is not None
        how = finding.measured
        level = self._level(compiled, finding.id, 0)
        turn = 1.0 if how.worse == "higher" else -1.0
        cuts = [turn * c for c in how.cuts]
        width = max(how.healthy.sd, 0.1)
        low = turn * how.healthy.mean - width if level == 0 else cuts[level - 1]
        high = cuts[level] if level < len(cuts) else cuts[-1] + 2 * width
        return turn * (low + (high - low) * self._random("value", finding.id, attempt).random())

    def _fit_derived(self, compiled: Compiled, values: dict[tuple[str, str], float]) -> None:
        """Parts of a derived measure are redrawn, within their levels, until it falls into the level drawn for it."""
        side = self.scenario.person.side
        for finding in self.knowledge.findings.values():
            how = finding.measured
            if how is None or not self.knowledge.measures[how.measure].derived:
                continue
            if finding.id not in compiled.network.node_index or how.of != "side_difference":
                continue
            record = self.knowledge.measures[how.measure]
            parts = [name for _, name in terms(record.derived)]
            owners = [f for f in self.knowledge.findings.values() if f.measured and f.measured.measure in parts]
            wanted = self._level(compiled, finding.id, 0)
            for attempt in range(_TRIES):
                trial = dict(values)
                for owner in owners:
                    assert owner.measured is not None
                    part = self.knowledge.measures[owner.measured.measure]
                    sign = -1.0 if part.better == "higher" else 1.0
                    short = self._difference(compiled, owner, attempt)
                    trial[part.id, side] = trial[part.id, OTHER[side]] + sign * short
                this, other = (
                    derived_value(record.derived, {p: trial[p, s] for p in parts}) for s in (side, OTHER[side])
                )
                if this is None or other is None:
                    break
                d = (other - this) if record.better == "higher" else (this - other)
                if sum(d >= cut for cut in how.cuts) == wanted:
                    values.update(trial)
                    break

    def _ratings(self, values: dict[tuple[str, str], float]) -> None:
        """The person's own ratings follow from how bad it gets."""
        region, side, bad = self.knowledge.region, self.scenario.person.side, self.scenario.intensity
        for ident, value in ((region.pain_sign, bad), (region.function_sign, 10.0 - bad - 1.0)):
            if ident in self.knowledge.measures:
                where = side if self.knowledge.measures[ident].sided else "none"
                values[ident, where] = min(max(value, 0.0), 10.0)


def _ratio(modifier: Modifier) -> float:
    return modifier.odds_ratio or modifier.risk_ratio or 1.0


def _names(rule: Any) -> Iterator[str]:
    """Every text in a rule."""
    if isinstance(rule, str):
        yield rule
    elif isinstance(rule, dict):
        for value in rule.values():
            yield from _names(value)
    elif isinstance(rule, list | tuple):
        for value in rule:
            yield from _names(value)
