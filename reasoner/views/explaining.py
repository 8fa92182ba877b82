"""Why something is said: the sections of an explanation, the only page with chances on it."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.advice.explanation import Explanation
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["page"]


def page(explanations: Iterable[Explanation]) -> Page:
    """One block a side."""
    blocks: list[Block] = []
    for explanation in explanations:
        blocks.append(Heading(f"Why: {explanation.name}", explanation.kind))
        for section in explanation.sections:
            blocks += [Gap(), Para(section.title, tone="strong"), Rows(section.rows, indent=4)]
        blocks.append(Gap())
    return tuple(blocks[:-1])
