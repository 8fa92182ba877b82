"""Why something is said: the sections of an explanation, the only page with chances on it."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.advice.explanation import Explanation, Section
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["page"]


def page(explanations: Iterable[Explanation]) -> Page:
    """One block a side."""
    blocks: list[Block] = []
    for explanation in explanations:
        blocks.append(Heading(f"Why: {explanation.name}", explanation.kind))
        for section in explanation.sections:
            blocks += [Gap(), Para(section.title, tone="strong"), *_rows(section)]
        blocks.append(Gap())
    return tuple(blocks[:-1])


def _rows(section: Section) -> list[Block]:
    """A table, or running text where a row has one cell only."""
    rows = [tuple(cell for cell in row if cell) for row in section.rows]
    table = tuple(row for row in rows if len(row) > 1)
    text: list[Block] = [Para(row[0], indent=4) for row in rows if len(row) == 1]
    return [*text, Rows(table, indent=4)] if table else text
