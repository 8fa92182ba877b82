"""The first lines of a sitting: what the tool is for, which knowledge, which case, whether it is the right person."""

from __future__ import annotations

from reasoner.advice.signed import signed_lines
from reasoner.consult.situation import Situation
from reasoner.views.page import Block, Heading, Page, Para
from reasoner.views.summary import who

__all__ = ["opening"]

_FIRST = (
    "Supports your judgement, does not replace it. Local protocol, surgeon's orders and your licence come first."
)
_KINDS = {"real": "real", "demo": "demo: INVENTED PATIENT", "practice": "practice: INVENTED PATIENT"}


def opening(case: Situation, digest: str, says: tuple[str, ...], *, new: bool) -> Page:
    """`says`: what opening or resuming came to."""
    stamp = case.stamp
    aside = f"{case.state.region} {digest[:4]}, {stamp.now:%a %d %b}, {stamp.by}"
    blocks: list[Block] = [
        Para(_FIRST),
        Heading(f"  {'New case ' if new else ''}{case.state.case} ({_KINDS[case.state.kind]})", aside),
    ]
    if new:
        blocks.append(Para("Nothing here is a name; keep it that way."))
    else:
        blocks.append(Para(f"This person? {who(case)}. If not: quit"))
    blocks += [Para(said) for said in says if not new]
    blocks += [Para(line) for line in signed_lines(case.knowledge)]
    if stamp.by == "unsigned":
        blocks.append(Para("No clinician code: entries are unsigned (--by CODE).", tone="quiet"))
    return tuple(blocks)
