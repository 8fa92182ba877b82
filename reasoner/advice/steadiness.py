"""How much hangs on the figures: every list asked again with each number drawn from its interval.

Of each list: does its first stay first, and if it does, did one answer alone put it there? Where drawing would cost
too much, nothing is claimed.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.advice.draws import Drawn
from reasoner.advice.records import Steadiness
from reasoner.advice.words import APART, HANGS, NARROWLY, STEADY
from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.inference.network import Numbers

__all__ = ["steadiness"]

_CLEAR = 0.8  # share of draws from which a lead that hangs on no single answer is called steady
_RIVAL = 0.1  # share of draws in which another leads before it is named


def steadiness(
    knowledge: Knowledge, believed: Beliefs, drawn_: Drawn | None, *, side: str | None
) -> tuple[Steadiness, ...]:
    """One line a list, in the order of the lists; none where nothing was drawn.

    What must not be missed has none: it is shown by its screens, and is no race.
    """
    if drawn_ is None:
        return ()
    lists: dict[str, list[str]] = {}
    for h in knowledge.hypotheses.values():
        if h.list != "serious":
            lists.setdefault(h.list, []).append(h.id)
    return tuple(
        _of_list(LIST_NAMES[name], lists[name], believed, drawn_.batch.chance, knowledge.policy.tell_apart, side)
        for name in LIST_NAMES
        if len(lists.get(name, ())) > 1
    )


def _of_list(
    name: str, ids: list[str], believed: Beliefs, chance: Numbers, apart: float, side: str | None
) -> Steadiness:
    places = [believed.network.cause_index[i] for i in ids]
    lead = int(np.argmax(believed.posterior.chance[places]))
    firsts = Counter(int(k) for k in np.argmax(chance[:, places], axis=1))
    held = firsts[lead] / len(chance)
    rivals = tuple(ids[k] for k, times in firsts.most_common() if k != lead and times / len(chance) >= _RIVAL)
    hangs = _hangs_on(believed, places, lead)
    if held < apart:
        words = APART
    elif hangs:
        words = HANGS
    else:
        words = STEADY if held >= _CLEAR else NARROWLY
    return Steadiness(name, ids[lead], held, words, rivals, hangs, side)


def _hangs_on(believed: Beliefs, places: list[int], lead: int) -> str:
    """The answer without which another would come first, by the widest margin; empty if there is none."""
    without = believed.without[:, places]
    if not len(without):
        return ""
    behind = without.max(axis=1) - without[:, lead]
    worst = int(np.argmax(behind))
    return believed.evidence.readings[worst].name if behind[worst] > 0 else ""
