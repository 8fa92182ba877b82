"""The first response to each set of targets in this assessment, as evidence about what limits.

A response is one finding more: its causes are what the option acts on and the hidden "responds to any hands-on
contact". What was measured is weighed by two densities (`inference.responses.response_pair`): the change of a true
response, and that of drift alone. A verdict "worse" is an absent response. Where an effect is stated in words only, a
true response is taken to be about the smallest worthwhile change, or what is beyond drift if that is more, with half
of it as its spread: common practice of this tool, no study's figure.
"""

from __future__ import annotations

from reasoner.advice.figures import effect_of, figures_of, links_of
from reasoner.case.state import Loop
from reasoner.facts.facts import Facts
from reasoner.facts.responded import change_over, first_loops
from reasoner.graph.records import Effect, Measure
from reasoner.inference.evidence import Evidence
from reasoner.inference.network import Network
from reasoner.inference.responses import response_pair, response_reading
from reasoner.options.value import drift_limit, true_spread

__all__ = ["gain_of", "response_name", "with_responses"]

_SPREAD = 0.5  # of a gain that no study gives


def with_responses(facts: Facts, network: Network, evidence: Evidence) -> tuple[Network, Evidence]:
    """The network with a finding for each first response, and what was seen of it; as it was without any."""
    for loop in first_loops(facts):
        option = facts.knowledge.options[loop.option]
        effect, figures = effect_of(option, facts), figures_of(option, facts)
        if effect is None or figures is None:
            continue
        pair = _pair(facts, loop, effect)
        if pair is None:
            continue
        name = response_name(option.name)
        if name in network.node_index:
            continue
        network = network.with_node(name, links_of(option, figures, network)[:, None], [figures.leak])
        evidence = evidence.plus(response_reading(name, name, pair))
    return network, evidence


def response_name(option: str) -> str:
    """What the finding is called."""
    return f"response to {option}"


def _pair(facts: Facts, loop: Loop, effect: Effect) -> tuple[float, float] | None:
    """(weight of a true response, weight of none); None where the option's sign was not retested or has no figures."""
    if loop.verdict == "worse":
        return 0.0, 1.0
    measure = facts.knowledge.measures[effect.sign]
    changed, gain = change_over(facts, loop, effect.sign), gain_of(effect, measure, facts)
    if changed is None or gain is None or measure.drift is None:
        return None
    return response_pair(
        changed.change, gain=gain[0], gain_sd=gain[1], drift=measure.drift.mean, drift_sd=measure.drift.sd,
        sem=changed.sem,
    )  # fmt: skip


def gain_of(effect: Effect, measure: Measure, facts: Facts) -> tuple[float, float] | None:
    """(mean, spread of true changes) of a response on this sign; None where the measure states no drift."""
    if measure.drift is None:
        return None
    if effect.gain is not None and effect.sd is not None:
        return effect.gain, true_spread(effect, measure)
    limit = drift_limit(measure)
    worthwhile = limit if measure.worthwhile is None else facts.knowledge.number(measure.worthwhile)
    gain = max(limit, worthwhile)
    return gain, _SPREAD * abs(gain)
