"""Intervals of figures: as stated, as their word has them, or, of a judgement that states none, by the policy.

A number that is common practice or from memory and states no interval is no more exact than a word: its odds may be
off by `policy.judgement_odds` either way, about the width of the words of scales.yaml. A published figure without an
interval is taken as it stands, for want of anything better; it does not vary.
"""

from __future__ import annotations

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Figure
from reasoner.inference.accuracy import odds_interval

__all__ = ["interval_of", "judged"]


def interval_of(knowledge: Knowledge, figure: Figure) -> tuple[float, float] | None:
    """The interval of a chance; None where a published figure states none."""
    stated = knowledge.interval(figure)
    return stated if stated is not None else judged(knowledge, knowledge.number(figure), figure.basis)


def judged(knowledge: Knowledge, value: float, basis: str) -> tuple[float, float] | None:
    """The interval of a bare chance with this basis."""
    factor = knowledge.policy.judgement_odds
    return None if basis == "published" or factor <= 1 or not 0 < value < 1 else odds_interval(value, factor)
