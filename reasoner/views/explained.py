"""An explanation as a page: the only page that shows chances as numbers."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.advice.explanation import Explanation
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["explained"]


def explained(explanations: Iterable[Explanation]) -> Page:
    """Sections one under the other. Rows of one cell are running text."""
    blocks: list[Block] = []
    for explanation in explanations:
        if blocks:
            blocks.append(Gap())
        blocks.append(Heading(explanation.name, f"why this {explanation.kind}"))
        for section in explanation.sections:
            blocks.append(Para(section.title, tone="strong"))
            rows = [tuple(cell for cell in row if cell) for row in section.rows]
            for row in rows:
                if len(row) == 1:
                    blocks.append(Para(row[0], indent=4))
            several = tuple(row for row in rows if len(row) > 1)
            if several:
                blocks.append(Rows(several, indent=4, first=36))
    return tuple(blocks)
