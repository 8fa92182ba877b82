"""What limits, what is injured, what must not be missed, how it hurts, what feeds it: in words, each in its own list.

Numbers are shown only where somebody asks why. What has a screen is shown by its state and next step.
"""

from __future__ import annotations

from collections.abc import Sequence

from reasoner.advice.records import Advice, HypothesisAdvice
from reasoner.consult.words import listed
from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.views.page import Block, Heading, Page, Para, Rows
from reasoner.views.screens import fact_name

__all__ = ["FEW", "TITLES", "heading_aside", "lead", "lists"]

TITLES = {
    "limits": "What limits",
    "injured_or_ill": "What is injured or ill",
    "must_not_miss": "Must not be missed",
    "pain_mechanism": "How it hurts",
    "feeds_it": "What feeds it",
}
FEW = 5  # answers that carry weight: below it the lists are mostly base rates, and say so
_MOST = 5
_LITTLE = 2


def heading_aside(advice: Advice) -> str:
    """How much the lists rest on."""
    if advice.informative < FEW:
        return f"mostly base rates ({advice.informative} of {advice.askable} answered)"
    return f"on {advice.informative} answers" + (", approximate" if advice.approximate else "")


def lists(advice: Advice, knowledge: Knowledge, only: str = "") -> Page:
    """The five lists, or one of them. With both sides, one block a side."""
    blocks: list[Block] = []
    if advice.impossible:
        names = listed(fact_name(knowledge, n) for n in advice.impossible)
        blocks.append(Para(f"These answers do not go together in any picture known here: {names}", tone="caution"))
    for side in dict.fromkeys(h.side for h in advice.hypotheses):
        here = [h for h in advice.hypotheses if h.side == side]
        aside = heading_aside(advice)
        for kind in LIST_NAMES.values():
            of_kind = [h for h in here if h.list == kind]
            if of_kind and only in ("", kind):
                title = TITLES[kind] + (f", {side}" if side else "")
                blocks.append(Heading(title, aside))
                aside = ""
                blocks += _urgent(of_kind) if kind == "must_not_miss" else _ranked(of_kind, knowledge)
    return tuple(blocks)


def lead(advice: Advice) -> str:
    """The first of what limits, for the bottom line; empty while it is mostly base rates or nothing stands out."""
    if advice.blocked or advice.informative < FEW:
        return ""
    limits = [h for h in advice.hypotheses if h.list == "limits"]
    return limits[0].name if limits and limits[0].words == "fits best" else ""


def _ranked(hypotheses: Sequence[HypothesisAdvice], knowledge: Knowledge) -> list[Block]:
    fitting = [h for h in hypotheses if h.words != "little for it"][:_MOST]
    others = [h for h in hypotheses if h not in fitting]
    rows = [(h.name, h.words, _for_against(h, knowledge)) for h in (*fitting, *others[:_LITTLE])]
    blocks: list[Block] = [Rows(tuple(rows))]
    if len(others) > _LITTLE:
        blocks.append(Para(f"and {len(others) - _LITTLE} more (list all)", tone="quiet"))
    return blocks


def _for_against(hypothesis: HypothesisAdvice, knowledge: Knowledge) -> str:
    parts = []
    if hypothesis.for_:
        parts.append("for: " + listed((fact_name(knowledge, n) for n in hypothesis.for_), 2))
    if hypothesis.against:
        parts.append("against: " + listed((fact_name(knowledge, n) for n in hypothesis.against), 2))
    return "; ".join(parts)


def _urgent(hypotheses: Sequence[HypothesisAdvice]) -> list[Block]:
    """By state of the screen, then by chance; the chance itself is never shown here."""
    order = {"met": 0, "open": 1}
    shown = sorted((h for h in hypotheses if h.screen_state in order), key=lambda h: order[h.screen_state or ""])
    blocks: list[Block] = []
    if shown:
        rows = tuple((h.name, h.words, f"next: {h.next_step}" if h.next_step else "") for h in shown)
        blocks.append(Rows(rows))
    raised = [h for h in hypotheses if h not in shown and h.words.startswith("more likely")]
    blocks += [Rows(tuple((h.name, h.words) for h in raised))] if raised else []
    rest = [h.name for h in hypotheses if h not in shown and h not in raised]
    if rest:
        blocks.append(Para(f"not excluded either: {listed(rest, 12)}", tone="quiet"))
    return blocks
