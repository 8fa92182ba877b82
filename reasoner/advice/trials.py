"""Treating as a question: what the response to an option would tell about what limits, for its minutes.

The response counts as if a true one could be told from drift; the error of the retest leaves less of it. One option for
each set of targets, and none where that set was tried in this assessment: only a first response is evidence.
"""

from __future__ import annotations

from collections.abc import Sequence

from reasoner.advice.figures import figures_of, links_of
from reasoner.advice.questions import position_now, worth_minutes
from reasoner.advice.records import OptionAdvice, Question
from reasoner.advice.side import SideView
from reasoner.inference.questions import candidates, gain_bits

__all__ = ["MOST_TRIALS", "trials"]

MOST_TRIALS = 3
_LEAST_BITS = 0.005


def trials(view: SideView, options: Sequence[OptionAdvice]) -> tuple[Question, ...]:
    """Open options whose response would tell most for its minutes, best first."""
    knowledge, believed = view.facts.knowledge, view.beliefs
    tried = _tried(view)
    network, ids = believed.network, []
    for advised in options:
        option = knowledge.options[advised.id]
        figures = figures_of(option, view.facts)
        if (
            advised.side == view.label and advised.lane == "try_now" and advised.relevant
            and advised.state in ("offered", "caution") and figures is not None
            and frozenset(option.acts_on) not in tried and option.acts_on
        ):  # fmt: skip
            network = network.with_node(_node(option.id), links_of(option, figures, network)[:, None], [figures.leak])
            ids.append(option.id)
    if not ids or believed.posterior.impossible:
        return ()
    weights = believed.compiled.entropy_weights
    found = candidates(network, believed.evidence, [_node(i) for i in ids], weights=weights)
    here = position_now(view.facts)
    moves = {p.id: p.change_minutes for p in knowledge.region.positions}
    made: dict[frozenset[str], tuple[float, Question]] = {}
    for ident, gain in zip(ids, gain_bits(found, weights), strict=True):
        option = knowledge.options[ident]
        rate = float(gain) / worth_minutes(option.minutes, option.position, here, moves)
        targets = frozenset(option.acts_on)
        if gain >= _LEAST_BITS and rate > made.get(targets, (0.0, None))[0]:
            asked = Question(ident, "response", option.name, float(gain), option.minutes, option.position)
            made[targets] = (rate, asked)
    best = sorted(made.values(), key=lambda pair: -pair[0])
    return tuple(question for _, question in best[:MOST_TRIALS])


def _node(option: str) -> str:
    return f"response to {option}"


def _tried(view: SideView) -> set[frozenset[str]]:
    """Sets of targets treated in this assessment."""
    options, state = view.facts.knowledge.options, view.facts.state
    return {
        frozenset(options[loop.option].acts_on)
        for loop in state.loops
        if loop.assessment == state.assessment and loop.option in options
    }
