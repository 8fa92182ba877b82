"""Chances of what was not stated, from the same network the tool reasons with, given the hidden truth."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from random import Random

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Finding, Modifier
from reasoner.graph.scenario import Scenario
from reasoner.inference.compile import Compiled, compile_network

__all__ = ["Chances"]

_FACT_RATE = 0.05  # of a fact that nothing in the pack gives a chance for


@dataclass(frozen=True)
class Chances:
    """One scenario with one seed: every draw about the same thing comes out the same."""

    scenario: Scenario
    knowledge: Knowledge
    seed: int

    @cached_property
    def compiled(self) -> Compiled:
        """The network of the setting they come from."""
        return compile_network(self.knowledge, self.scenario.person.setting)

    def random(self, *about: object) -> Random:
        """A source of its own for each thing drawn."""
        return Random(":".join(str(part) for part in (self.scenario.id, self.seed, *about)))

    def below(self, node: str, *, quiet: bool = False) -> list[float]:
        """P(level < l | truth) for l = 1, 2, ...; `quiet`: without the leak, so only a true cause brings it."""
        network = self.compiled.network
        place = network.place(node)
        on = [network.cause_index[h] for h in self.scenario.truth]
        leak = network.leak[place] * (0.0 if quiet else 1.0)
        return [float(b) for b in (1.0 - leak) * (1.0 - network.reach[place][on]).prod(axis=0)]

    def level(self, node: str, attempt: int, *, quiet: bool = False) -> int:
        """A level drawn from P(level | truth)."""
        chance = self.random("node", node, attempt).random()
        return sum(chance >= b for b in self.below(node, quiet=quiet))

    def severity(self, node: str) -> int:
        """The level of a measured finding. All are drawn as one: stiff by every measure of it or by none."""
        chance = self.random("severity").random()
        return sum(chance >= b for b in self.below(node))

    def is_quiet(self, finding: Finding) -> bool:
        """A danger sign or stop-now fact without a cause comes by chance only where noise is on."""
        asked = any(finding.id in b.findings for b in self.knowledge.region.always_ask)
        return (finding.danger or asked) and not self.scenario.noise

    def of(self, ident: str) -> float:
        """P(present | truth) of a finding that is neither composed nor measured."""
        if ident in self.compiled.accounted_for:
            return 1.0
        node = self.compiled.node(ident)
        if node is None:
            return self.of_fact(self.knowledge.findings[ident])
        there = 1.0 - self.below(node)[0]
        member = self.compiled.members.get(ident)
        return there if member is None else there * member.when_present + (1 - there) * member.when_absent

    def of_fact(self, finding: Finding) -> float:
        """A fact about the person: rarer or commoner than usual as it changes the base rate of what is true."""
        if self.is_quiet(finding):
            return 0.0
        rate = self.knowledge.number(finding.leak) if finding.leak is not None else _FACT_RATE
        odds = rate / (1 - rate)
        for h in self.scenario.truth:
            for m in self.knowledge.hypotheses[h].modifiers:
                odds *= _ratio(m) if m.fact == finding.id else 1.0
        return odds / (1 + odds)


def _ratio(modifier: Modifier) -> float:
    return modifier.odds_ratio or modifier.risk_ratio or 1.0
