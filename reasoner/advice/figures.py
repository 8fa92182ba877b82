"""Which response figures of an option count for a case, and the links they make in the network."""

from __future__ import annotations

from typing import overload

import numpy as np

from reasoner.facts.facts import Facts
from reasoner.graph.records import Effect, OptionRecord
from reasoner.inference.network import Network, Numbers
from reasoner.inference.responses import CONTACT
from reasoner.options.drawn import ResponseDraws
from reasoner.options.value import Response, response

__all__ = ["effect_of", "figures_of", "links_of", "places_of"]


def figures_of(option: OptionRecord, facts: Facts) -> Response | None:
    """Figures on the sign that this case retests; else on the region's main measure; else the first stated."""
    effect = effect_of(option, facts)
    return None if effect is None else response(effect, facts.knowledge, len(option.acts_on))


def effect_of(option: OptionRecord, facts: Facts) -> Effect | None:
    """The effect on the sign this case retests; else on the region's main measure; else the first stated."""
    wanted = (*facts.state.retest_signs, facts.knowledge.region.main_measure)
    for sign in wanted:
        for effect in option.effects:
            if effect.sign == sign:
                return effect
    return option.effects[0] if option.effects else None


def links_of(option: OptionRecord, figures: Response, network: Network, *, touch_only: bool = False) -> Numbers:
    """(n,) chances that each cause brings the response: targets, and the hidden contact node."""
    links = np.zeros(len(network.causes))
    for place, c in places_of(option, figures, network, touch_only).items():
        links[place] = c
    return links


@overload
def places_of(option: OptionRecord, figures: Response, network: Network, touch_only: bool) -> dict[int, float]: ...
@overload
def places_of(
    option: OptionRecord, figures: ResponseDraws, network: Network, touch_only: bool
) -> dict[int, Numbers]: ...
def places_of(
    option: OptionRecord, figures: Response | ResponseDraws, network: Network, touch_only: bool
) -> dict[int, float] | dict[int, Numbers]:
    """The same by the cause's place; with drawn figures, each (count,)."""
    targets = [] if touch_only else [t for t in option.acts_on if t in network.cause_index]
    places = {network.cause_index[CONTACT]: figures.contact_c}
    return places | {network.cause_index[target]: figures.target_c for target in targets}  # type: ignore[return-value]
