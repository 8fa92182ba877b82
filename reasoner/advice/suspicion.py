"""What a chance may add: a caution where something serious is likelier than its limit though no screen says so.

A chance never opens anything and bars nothing. While a screen of it is met or open the screen itself speaks.
"""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.advice.beliefs import Beliefs
from reasoner.graph.knowledge import Knowledge
from reasoner.options.gate import Barrier
from reasoner.safety.screens import ScreenResult

__all__ = ["suspicions"]


def suspicions(knowledge: Knowledge, believed: Beliefs, results: Iterable[ScreenResult]) -> tuple[Barrier, ...]:
    """A caution for each hypothesis above its `suspected_above` none of whose screens is met or open."""
    closing = {r.screen.id for r in results if r.closing}
    said = []
    for ident, limit in knowledge.suspected_above.items():
        hypothesis, chance = knowledge.hypotheses[ident], believed.chance(ident)
        own = {*hypothesis.screens, *(s.id for s in knowledge.screens.values() if ident in s.hypotheses)}
        if chance >= limit and not own & closing:
            words = f"{hypothesis.name}: no criteria met, yet its chance {chance:.2f} is above {limit:g}; look again"
            said.append(Barrier("caution", words))
    return tuple(said)
