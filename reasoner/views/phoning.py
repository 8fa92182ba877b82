"""What to say on the phone, before anything else is written: the same sentences as on the hand-over sheet."""

from __future__ import annotations

from reasoner.consult.situation import Situation
from reasoner.reports.document import Steps
from reasoner.reports.dossier import Dossier
from reasoner.reports.handover import handover
from reasoner.views.page import Heading, Page, Para, Rows

__all__ = ["page"]


def page(case: Situation) -> Page:
    """Sentences to read out, numbered."""
    now, stamp = case.stamp.now, case.stamp
    dossier = Dossier(case.knowledge, case.state, case.advice, now, now, stamp.by, stamp.role, 0, "", "")
    said = [block for block in handover(dossier).sections[0].blocks if isinstance(block, Steps)]
    if not said:
        return (Para("No danger screen stands as met on these answers; there is nothing to phone about."),)
    rows = tuple((str(n), sentence) for n, sentence in enumerate(said[0].items, 1))
    return (Heading("Say this on the phone", "then: handover phoned, to ...", "strong"), Rows(rows, first=3))
