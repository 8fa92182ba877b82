"""The current question: one at a time, what may be typed, and where the patient has to be for it."""

from __future__ import annotations

from reasoner.consult.asks import Ask
from reasoner.graph.knowledge import Knowledge
from reasoner.views.page import Block, Gap, Heading, Page, Para

__all__ = ["question"]


def question(ask: Ask | None, knowledge: Knowledge, position: str = "", *, again: bool = False) -> Page:
    """The question; a change of position is said above it. `position`: where the patient is now.

    `again`: it was on the screen just before, so the plan it proposes is not repeated.
    """
    if ask is None:
        return (Para("Nothing more to ask. plan, or: close", tone="quiet"),)
    blocks: list[Block] = [Gap()]
    if ask.position and ask.position != position:
        names = {p.id: p.name for p in knowledge.region.positions}
        blocks.append(Heading(names.get(ask.position, ask.position).upper()))
    if ask.progress:
        blocks.append(Heading("  " + ask.progress, tone="quiet"))
    blocks.append(Para(ask.text, tone="strong"))
    more = ("as above",) if again and ask.more else ask.more
    blocks += [Para(line, indent=4) for line in more]
    if ask.hint:
        blocks.append(Para(ask.hint, indent=4, tone="quiet"))
    return tuple(blocks)
