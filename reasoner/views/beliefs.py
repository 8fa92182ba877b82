"""What limits, what is injured, what must not be missed, how it hurts, what feeds it: in words, each in its own list.

Numbers are shown only where somebody asks why. What has a screen is shown by its state and next step.
"""

from __future__ import annotations

from collections.abc import Sequence

from reasoner.advice.records import Advice, Conflict, HypothesisAdvice
from reasoner.advice.words import APART, HANGS
from reasoner.consult.words import listed
from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.views.page import Block, Heading, Page, Para, Rows
from reasoner.views.screens import fact_name, is_begun

__all__ = ["FEW", "TITLES", "conflict_words", "heading_aside", "lead", "lists", "stop_line"]

TITLES = {
    "limits": "What limits",
    "injured_or_ill": "What is injured or ill",
    "must_not_miss": "Must not be missed",
    "pain_mechanism": "How it hurts",
    "feeds_it": "What feeds it",
}
FEW = 5  # answers that carry weight: below it the lists are mostly base rates, and say so
_MOST = 3  # shown of a list unless all are asked for
_MOST_REST = 6  # dangers not met, by name; `screens` has them all
_LITTLE = 1


def heading_aside(advice: Advice) -> str:
    """How much the lists rest on."""
    if advice.informative < FEW:
        return f"mostly base rates ({advice.informative} of {advice.askable} answered)"
    return f"on {advice.informative} answers" + (", approximate" if advice.approximate else "")


def lists(advice: Advice, knowledge: Knowledge, only: str = "", *, everything: bool = False) -> Page:
    """The five lists, or one of them; `everything`: no list cut short. With both sides, one block a side."""
    blocks: list[Block] = []
    if advice.impossible:
        names = listed(fact_name(knowledge, n) for n in advice.impossible)
        blocks.append(Para(f"These answers do not go together in any picture known here: {names}", tone="caution"))
    blocks += [Para(conflict_words(c, knowledge), tone="caution") for c in advice.conflicts]
    for side in dict.fromkeys(h.side for h in advice.hypotheses):
        here = [h for h in advice.hypotheses if h.side == side]
        aside = heading_aside(advice)
        for kind in LIST_NAMES.values():
            of_kind = [h for h in here if h.list == kind]
            if of_kind and only in ("", kind):
                title = TITLES[kind] + (f", {side}" if side else "")
                blocks.append(Heading(title, aside))
                aside = ""
                ranked = _urgent(of_kind, advice, knowledge) if kind == "must_not_miss" else None
                blocks += ranked if ranked is not None else _ranked(of_kind, knowledge, everything)
                blocks += _steady(kind, side, advice, knowledge)
    return tuple(blocks)


def conflict_words(found: Conflict, knowledge: Knowledge) -> str:
    """That no combination known here brings these answers together, and which goes least with the rest."""
    where = f" on the {found.side}" if found.side else ""
    name = fact_name(knowledge, found.value)
    return (
        f"These answers{where} fit no combination known here well. Least in keeping with the rest: {name}. "
        "Ask or test that again, and think of what is not in these lists."
    )


def stop_line(advice: Advice) -> list[Block]:
    """Said once more than base rates are behind it: no answer that is left would move what comes first."""
    if not advice.nothing_changes or advice.informative < FEW:
        return []
    return [Para("no single remaining question changes the first option or a screen", tone="quiet")]


def lead(advice: Advice) -> str:
    """The first of what limits, for the bottom line; empty while it rests on base rates or nothing stands out."""
    if advice.blocked or advice.informative < FEW:
        return ""
    limits = [h for h in advice.hypotheses if h.list == "limits"]
    return limits[0].name if limits and limits[0].words == "fits best" and limits[0].for_ else ""


def _ranked(hypotheses: Sequence[HypothesisAdvice], knowledge: Knowledge, everything: bool) -> list[Block]:
    """Most likely first: what has something for it, and at least the first two."""
    fitting = [h for place, h in enumerate(hypotheses) if place < _LITTLE or not h.words.startswith("little")]
    shown = list(hypotheses) if everything else fitting[:_MOST]
    blocks: list[Block] = [Rows(tuple((h.name, h.words, _for_against(h, knowledge)) for h in shown), first=38)]
    if len(shown) < len(hypotheses):
        blocks.append(Para(f"and {len(hypotheses) - len(shown)} more (list all)", tone="quiet"))
    return blocks


def _steady(kind: str, side: str | None, advice: Advice, knowledge: Knowledge) -> list[Block]:
    """Whether its first stays first; nothing while the list is mostly base rates."""
    found = next((s for s in advice.steadiness if s.list == kind and s.side == side), None)
    if advice.informative < FEW or kind == "must_not_miss":
        return []
    if found is None:
        return [] if advice.drawn else [Para("steadiness not worked out here", tone="quiet")]
    text = found.words
    if found.words == APART:
        names = (found.lead, *found.rivals)
        text += f": {listed((knowledge.hypotheses[i].name for i in names), 3)}"
    elif found.words == HANGS:
        text += f": {fact_name(knowledge, found.hangs_on)}"
    elif found.rivals:
        text += f", before {listed((knowledge.hypotheses[i].name for i in found.rivals), 2)}"
    return [Para(text, tone="quiet")]


def _for_against(hypothesis: HypothesisAdvice, knowledge: Knowledge) -> str:
    parts = []
    if hypothesis.for_:
        parts.append("for: " + listed((fact_name(knowledge, n) for n in hypothesis.for_), 2))
    if hypothesis.against:
        parts.append("against: " + listed((fact_name(knowledge, n) for n in hypothesis.against), 2))
    return "; ".join(parts)


def _urgent(hypotheses: Sequence[HypothesisAdvice], advice: Advice, knowledge: Knowledge) -> list[Block]:
    """By state of the screen; the chance itself is never shown here. Those nobody has asked about yet in one line."""
    begun = {h for s in advice.screens if is_begun(s, knowledge) for h in _stands_for(s.id, knowledge)}
    met = [h for h in hypotheses if h.screen_state == "met"]
    partly = [h for h in hypotheses if h.screen_state == "open" and h.id in begun]
    still = [h for h in hypotheses if h.screen_state == "open" and h not in partly]
    raised = [h for h in hypotheses if h not in (*met, *partly, *still) and h.words.startswith("more likely")]
    rest = [h for h in hypotheses if h not in (*met, *partly, *still, *raised)]
    blocks: list[Block] = []
    for h in (*met, *partly):
        blocks.append(Para(f"{h.name}: {h.words}" + (f"; next: {h.next_step}" if h.next_step else "")))
    blocks += [Para(f"{h.name}: {h.words}") for h in raised]
    if still:
        names = listed((h.name for h in still), 20)
        blocks.append(Para(f"open, not excluded, answers missing (screens): {names}"))
    if rest:
        blocks.append(Para(f"not excluded either: {listed((h.name for h in rest), _MOST_REST)}", tone="quiet"))
    return blocks


def _stands_for(screen: str, knowledge: Knowledge) -> set[str]:
    """Hypotheses a screen stands for, whichever of the two names the other."""
    record = knowledge.screens.get(screen)
    own = set(record.hypotheses) if record is not None else set()
    return own | {h.id for h in knowledge.hypotheses.values() if screen in h.screens}
