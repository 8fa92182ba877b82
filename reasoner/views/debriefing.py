"""The debrief of a practice case on the screen: the truth, what was counted, and what is left to the mentor."""

from __future__ import annotations

from reasoner.graph.knowledge import Knowledge
from reasoner.review.calibration import Row
from reasoner.review.counted import Fault
from reasoner.review.debrief import LEFT_TO_THE_MENTOR, Debrief
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["calibration_page", "debrief_page"]

_NAMED = 5


def debrief_page(told: Debrief, knowledge: Knowledge) -> Page:
    """Everything counted, each with what could have happened and what to do now."""
    names = knowledge.hypotheses
    enriched = (
        " This scenario was put in because it is serious: not how often it is met."
        if "enriched" in told.scenario.labels
        else ""
    )
    blocks: list[Block] = [Heading("Debrief", "counted; nobody is graded"), Para(f"{told.scenario.name}.{enriched}")]
    blocks.append(Heading("What was true"))
    blocks.append(Rows(tuple((names[p.hypothesis].name, _place(p.own_place)) for p in told.places)))
    others = [names[h].name for h in told.scenario.truth if h not in {p.hypothesis for p in told.places}]
    if others:
        blocks.append(Para(f"and: {', '.join(others)}", tone="quiet"))
    blocks += _said(told, knowledge)
    blocks.append(Heading("What was counted"))
    blocks += [block for fault in told.faults for block in _fault(fault)] or [Para("nothing that is counted here")]
    blocks += _heard(told)
    missing = told.page.not_asked
    asked, best = told.page.asked_of
    blocks.append(Heading("What would have told most"))
    blocks.append(Para(f"when the examination began: {asked} of the {best} most telling were asked"))
    blocks.append(Para("when you decided, not asked:" if missing else "when you decided: nothing that was left out"))
    blocks.append(Rows(tuple((q.id.replace("_", " "), q.ask) for q in missing), indent=4) if missing else Gap())
    blocks.append(Heading("For the talk with your mentor"))
    blocks += [Para(question) for question in LEFT_TO_THE_MENTOR]
    if told.scenario.teaches:
        blocks.append(Para(f"This patient was made for: {told.scenario.teaches}", tone="quiet"))
    return tuple(blocks)


def calibration_page(rows: tuple[Row, ...], cases: int) -> Page:
    """Share of first judgements that were right, by the word used for the confidence."""
    blocks: list[Block] = [Heading("Your own confidence", f"{cases} practice cases; simulated truths only")]
    if not rows:
        return (*blocks, Para("no own judgement has been written in a practice case yet"))
    told = tuple((r.word, f"{r.right} of {r.judged} right",
                  f"{100 * r.low:.0f} to {100 * r.high:.0f} of 100 (95 % interval)") for r in rows)  # fmt: skip
    blocks.append(Rows(told))
    blocks.append(Para("Few cases give wide intervals; a word means what it comes to over many.", tone="quiet"))
    return tuple(blocks)


def _place(place: int | None) -> str:
    return "not in your last judgement" if place is None else f"place {place} in your last judgement"


def _said(told: Debrief, knowledge: Knowledge) -> list[Block]:
    if not told.said:
        return [Para("No own judgement was written down.", tone="caution")]
    names = knowledge.hypotheses
    rows = [(f"line {s.seq}", names[s.hypothesis].name if s.hypothesis in names else s.hypothesis,
             f"{s.confidence}: {'is true here' if s.right else 'is not true here'}") for s in told.said]  # fmt: skip
    return [Heading("Your own judgement, beside the truth"), Rows(tuple(rows))]


def _fault(fault: Fault) -> list[Block]:
    blocks: list[Block] = [Para(f"{fault.title}, line {fault.seq}: {fault.what}", tone="caution")]
    if fault.could:
        blocks.append(Para(f"could have happened: {fault.could}", indent=4))
    if fault.now:
        blocks.append(Para(f"now: {fault.now}", indent=4))
    return blocks


def _heard(told: Debrief) -> list[Block]:
    blocks: list[Block] = []
    if told.not_told:
        blocks.append(
            Para(f"told only when asked alone, and never heard: {', '.join(told.not_told[:_NAMED])}", tone="caution")
        )
    if told.unheard:
        blocks.append(
            Para(f"kept to themselves at first, and not asked again: {', '.join(told.unheard)}", tone="caution")
        )
    if told.provoked > told.bears:
        blocks.append(
            Para(f"provoking acts: {told.provoked}; it bears {told.bears} before it grows sore", tone="caution")
        )
    return blocks
