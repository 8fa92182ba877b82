"""Before somebody goes back to full activity: the published domains, and what is known about cut-offs."""

from __future__ import annotations

from reasoner.consult.words import listed
from reasoner.graph.knowledge import Knowledge
from reasoner.views.page import Heading, Page, Para, Rows

__all__ = ["page"]


def page(knowledge: Knowledge) -> Page:
    """All domains at once, never one of them alone."""
    record = knowledge.region.return_to_activity
    if record is None:
        return (Para("this knowledge has nothing on the return to activity"),)
    rows = tuple((d.name, d.look_at) for d in record.domains)
    source = f"{record.basis}: {listed(record.evidence)}"
    return (
        Heading("Back to full activity: look at all of these together", source), Rows(rows, first=18),
        Para(record.cut_offs), Para(record.note, tone="quiet"),
    )  # fmt: skip
