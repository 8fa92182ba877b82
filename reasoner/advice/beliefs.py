"""Beliefs on one side: the network for this setting and person, what was observed, the posterior and its reasons."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from math import log

import numpy as np

from reasoner.advice.records import Contribution, HypothesisAdvice
from reasoner.advice.responded import with_responses
from reasoner.advice.words import STRENGTH, fit_words, likely_words, must_not_miss_words
from reasoner.case.state import Side
from reasoner.facts.facts import Facts
from reasoner.facts.measured import graded
from reasoner.facts.observations import observed
from reasoner.facts.observed import Observed
from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.graph.records import Hypothesis
from reasoner.inference.compile import Compiled, compile_network
from reasoner.inference.evidence import Evidence
from reasoner.inference.explain import leave_one_out
from reasoner.inference.kernel import Posterior, posterior
from reasoner.inference.network import Network, Numbers
from reasoner.inference.observe import weights
from reasoner.safety.rules import RuleContext, evaluate
from reasoner.safety.screens import Screening, ScreenResult

__all__ = ["Beliefs", "beliefs", "contributions", "hypotheses_advice"]

NO_STANDARD = "no reference standard"
_NOTICEABLE = 0.05  # nats: below it an answer is not named as for or against


@dataclass(frozen=True)
class Beliefs:
    """One side: network, evidence in the order recorded, posterior, and each reading's effect."""

    side: Side
    compiled: Compiled
    network: Network
    evidence: Evidence
    posterior: Posterior
    without: Numbers  # (readings, causes): posterior if that reading alone were unknown
    said: Mapping[str, str]  # reading -> its name, with `=absent` where that was the answer

    def chance(self, hypothesis: str) -> float:
        """P(hypothesis | what was observed)."""
        return float(self.posterior.chance[self.network.cause_index[hypothesis]])

    def base(self, hypothesis: str) -> float:
        """Its base rate here, modifiers included."""
        return float(self.network.prior[self.network.cause_index[hypothesis]])


def beliefs(facts: Facts, screening: Screening, side: Side, *, reasons: bool = True) -> Beliefs:
    """Beliefs about one side. `facts` look at that side; screens read both.

    `reasons` False: only the chances, without each reading's effect (a row a reading; most of the work).
    """
    knowledge = facts.knowledge
    rules = screening.rules_for(facts)
    compiled = compile_network(knowledge, facts.state.context.setting or "not_stated", _modifiers(knowledge, rules))
    seen = {**observed(facts, side), **_composites(knowledge, screening, rules)}
    evidence = weights(compiled, seen, {k: (q.value, q.se) for k, q in graded(facts, side).items()})
    network, evidence = with_responses(facts, compiled.network, evidence)
    said = {name: f"{name}=absent" for name, one in seen.items() if one.value == "absent" and one.sure is None}
    without = leave_one_out(network, evidence) if reasons else np.zeros((0, len(network.causes)))
    return Beliefs(side, compiled, network, evidence, posterior(network, evidence), without, said)


def _modifiers(knowledge: Knowledge, rules: RuleContext) -> frozenset[tuple[str, int]]:
    """(hypothesis, place in its list) of every modifier whose fact certainly holds; unknown adds no factor."""
    return frozenset(
        (h.id, place)
        for h in knowledge.hypotheses.values()
        for place, modifier in enumerate(h.modifiers)
        if evaluate(modifier.fact, rules).verdict.certainly
    )


def _composites(knowledge: Knowledge, screening: Screening, rules: RuleContext) -> dict[str, Observed]:
    """Rules and scores as findings: met is present, not met is absent, else no observation."""
    found = {}
    for finding in knowledge.findings.values():
        if finding.composite is None:
            continue
        rule = finding.composite
        if isinstance(rule, dict) and set(rule) == {"screen"}:
            state = screening.result(rule["screen"]).state
            if state in ("met", "not_met"):
                found[finding.id] = Observed("present" if state == "met" else "absent")
            continue
        verdict = evaluate(finding.id, rules).verdict
        if not verdict.unknown:
            found[finding.id] = Observed("present" if verdict.certainly else "absent")
    return found


def contributions(believed: Beliefs, hypothesis: str) -> tuple[Contribution, ...]:
    """Effect of each reading on one hypothesis if it alone were unknown, strongest first, in nats of log odds."""
    place = believed.network.cause_index[hypothesis]
    now = _logit(believed.chance(hypothesis))
    made = []
    for row, reading in enumerate(believed.evidence.readings):
        alone = float(believed.without[row, place])
        said = believed.said.get(reading.name, reading.name)
        made.append(Contribution(reading.name, said, now - _logit(alone), alone))
    return tuple(sorted(made, key=lambda c: -abs(c.nats)))


def hypotheses_advice(
    knowledge: Knowledge,
    believed: Beliefs,
    screens: Iterable[ScreenResult],
    *,
    side: str | None,
    ranges: Mapping[str, tuple[float, float]] | None = None,
    apart: Collection[str] = (),
) -> tuple[HypothesisAdvice, ...]:
    """Every hypothesis, list by list, most likely first.

    ranges: of each chance under draws. apart: lists (printed names) in which nothing leads, so that nothing fits best.
    """
    by_screen = {r.screen.id: r for r in screens}
    screens_of = {h: _screens_of(knowledge, h) for h in knowledge.hypotheses}
    said = [believed.said.get(r.name, r.name) for r in believed.evidence.readings]
    nats = _logits(believed.posterior.chance) - _logits(believed.without)
    order = np.argsort(-np.abs(nats), axis=0, kind="stable")
    made = []
    for name in LIST_NAMES:
        ranked = sorted(
            (h for h in knowledge.hypotheses.values() if h.list == name), key=lambda h: -believed.chance(h.id)
        )
        for place, h in enumerate(ranked):
            states = [by_screen[s].state for s in screens_of[h.id] if s in by_screen]
            chance, base = believed.chance(h.id), believed.base(h.id)
            cause = believed.network.cause_index[h.id]
            reasons = [(said[row], nats[row, cause]) for row in order[:, cause]]
            made.append(
                HypothesisAdvice(
                    id=h.id,
                    name=h.name,
                    list=LIST_NAMES[name],
                    chance=chance,
                    base=base,
                    words=must_not_miss_words(states, chance, base)
                    if name == "serious"
                    else _words(
                        h, chance, base, place == 0 and LIST_NAMES[name] not in apart, knowledge.policy.words_fit_best
                    ),
                    for_=tuple(value for value, moved in reasons if moved > _NOTICEABLE),
                    against=tuple(value for value, moved in reasons if moved < -_NOTICEABLE),
                    range=None if ranges is None else ranges.get(h.id),
                    side=side,
                    screen_state=min(states, key=STRENGTH.index) if states else None,
                    next_step=h.next_step,
                )
            )
    return tuple(made)


def _words(h: Hypothesis, chance: float, base: float, leads: bool, best: float) -> str:
    """What no test establishes only fits or does not; the rest is likely or not."""
    if h.establish == NO_STANDARD:
        return fit_words(chance, base, leads, best)
    return likely_words(chance, base, best)


def _screens_of(knowledge: Knowledge, hypothesis: str) -> tuple[str, ...]:
    named = [s.id for s in knowledge.screens.values() if hypothesis in s.hypotheses]
    return tuple(dict.fromkeys((*knowledge.hypotheses[hypothesis].screens, *named)))


def _logits(chance: Numbers) -> Numbers:
    clipped = np.clip(chance, 1e-12, 1 - 1e-12)
    return np.asarray(np.log(clipped) - np.log1p(-clipped))


def _logit(chance: float) -> float:
    clipped = min(max(chance, 1e-12), 1 - 1e-12)
    return log(clipped / (1 - clipped))
