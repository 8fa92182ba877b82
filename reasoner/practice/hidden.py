"""What is true of a simulated patient: every finding on both legs and every measure, one coherent set from a seed.

Drawn from the same network the tool reasons with, given the hidden truth: a finding's level from its causes and leak,
a group's members from one latent sign, a measure from the level it was drawn at. Rules and scores are drawn first and
their items redrawn until they agree with them; what cannot be true of one person gives way. What the scenario states
is kept as stated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Finding
from reasoner.graph.scenario import Scenario
from reasoner.practice.chances import Chances
from reasoner.practice.coherent import coherent, seen
from reasoner.practice.person import OTHER
from reasoner.practice.values import true_values
from reasoner.safety.rules import evaluate

__all__ = ["Hidden", "draw"]

_TRIES = 60


@dataclass(frozen=True)
class Hidden:
    """The truth beneath the answers. `present`: (finding, side or "none"). `values`: (measure, side or "none")."""

    present: Mapping[tuple[str, str], bool]
    values: Mapping[tuple[str, str], float]
    mismatched: tuple[str, ...] = ()  # rules whose items could not be made to agree, or that stated facts break

    def is_present(self, finding: str, side: str) -> bool:
        """Is it there?"""
        return self.present.get((finding, side), self.present.get((finding, "none"), False))


def draw(scenario: Scenario, knowledge: Knowledge, seed: int) -> Hidden:
    """The whole set: the same scenario, knowledge and seed always give the same."""
    return _Draw(scenario, knowledge, Chances(scenario, knowledge, seed)).made()


@dataclass
class _Draw:
    scenario: Scenario
    knowledge: Knowledge
    chances: Chances

    def made(self) -> Hidden:
        stated = set(self.scenario.answers)
        wanted = {
            f.id: self.chances.level(f.id, 0) > 0
            for f in self._composites()
            if self._linked(f.id) and not self._items(f.id) & stated  # else it follows from what is stated
        }
        best: tuple[dict[str, bool], tuple[str, ...]] | None = None
        redrawn: frozenset[str] = frozenset()
        for attempt in range(_TRIES):
            drawn = self._findings(attempt, redrawn, best[0] if best is not None else {})
            found, broken = coherent(self.scenario, self.knowledge, drawn, self.chances.of)
            disagreeing = sorted(self._disagreeing(found, wanted))
            wrong = (*disagreeing, *broken)
            if best is None or len(wrong) < len(best[1]):
                best = (found, wrong)
            redrawn = frozenset(i for c in disagreeing for i in self._items(c))
            if not redrawn:
                break
        assert best is not None
        return Hidden(self._both_legs(best[0]), true_values(self.chances, best[0]), best[1])

    def _composites(self) -> Iterator[Finding]:
        return (f for f in self.knowledge.findings.values() if f.composite is not None)

    def _linked(self, finding: str) -> bool:
        """Does a true cause bear on it? Else it is what its items make it."""
        network = self.chances.compiled.network
        if finding not in network.node_index:
            return False
        reach = network.reach[network.place(finding)]
        return any(reach[network.cause_index[h], 0] > 0 for h in self.scenario.truth)

    def _findings(self, attempt: int, redrawn: frozenset[str], before: Mapping[str, bool]) -> dict[str, bool]:
        found: dict[str, bool] = {}
        for finding in self.knowledge.findings.values():
            stated = self.scenario.answers.get(finding.id)
            if stated is not None and stated.value != "unknown":
                found[finding.id] = stated.value == "present"
            elif finding.composite is None and finding.measured is None:
                again = attempt if finding.id in redrawn else 0
                kept = before.get(finding.id) if attempt and not again else None
                found[finding.id] = self._one(finding, again) if kept is None else kept
        return found

    def _one(self, finding: Finding, attempt: int) -> bool:
        chances, compiled = self.chances, self.chances.compiled
        if finding.id in compiled.accounted_for:
            return True
        node, quiet = compiled.node(finding.id), chances.is_quiet(finding)
        if node is None:
            return chances.random("fact", finding.id).random() < chances.of_fact(finding)
        level = chances.level(node, attempt if node == finding.id else 0, quiet=quiet)
        member = compiled.members.get(finding.id)
        if member is None:
            return level > 0
        chance = member.when_present if level else 0.0 if quiet else member.when_absent
        return chances.random("member", finding.id, attempt).random() < chance

    def _items(self, composite: str) -> set[str]:
        rule: Any = self.knowledge.findings[composite].composite
        if isinstance(rule, dict) and set(rule) == {"screen"}:
            rule = self.knowledge.screens[rule["screen"]].rule
        return {name for name in _names(rule) if name in self.knowledge.findings}

    def _disagreeing(self, found: Mapping[str, bool], wanted: Mapping[str, bool]) -> set[str]:
        """Rules and scores that come out other than drawn. One that does not apply here disagrees with nothing."""
        if not wanted:
            return set()
        screening = seen(self.scenario, self.knowledge, found)
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
