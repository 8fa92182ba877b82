"""The danger screens: what is met, what is open and why, what was resolved; never a number, never a reassurance."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from reasoner.advice.danger import Danger
from reasoner.advice.records import Advice, ScreenAdvice
from reasoner.consult.words import listed, number
from reasoner.graph.knowledge import Knowledge
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows

__all__ = ["SEND", "alert", "board", "fact_name", "is_begun", "noticed", "screens_line", "stops"]

SEND = {
    "emergency": "emergency: send now",
    "same_day": "same day",
    "urgent": "urgent",
    "routine": "routine",
}
HANDS = {
    "nothing": "nothing is done to this joint meanwhile",
    "protect_only": "only protection meanwhile",
    "active_pain_free": "only active, pain-free movement meanwhile",
    "unrestricted": "what may be done meanwhile is not limited by it",
}


def fact_name(knowledge: Knowledge, name: str) -> str:
    """A finding, measure, screen or context fact in words; "finding@side" keeps its side, "finding=absent" its no."""
    name, _, value = name.partition("=")
    ident, _, side = name.partition("@")
    record = knowledge.findings.get(ident) or knowledge.measures.get(ident) or knowledge.screens.get(ident)
    said = record.name if record is not None else ident.replace("days_since.", "days since ").replace("_", " ")
    said = f"{said} {side}" if side in ("left", "right") else said
    return f"no: {said}" if value == "absent" else said


def is_begun(screen: ScreenAdvice, knowledge: Knowledge) -> bool:
    """Open, and not only because nobody has asked yet: an answer that is present stands behind it."""
    told = any(name.partition("@")[0] in knowledge.findings for name in screen.met_by)
    return screen.state == "open" and told and not screen.resolved


def stops(advice: Advice | Danger) -> tuple[ScreenAdvice, ...]:
    """The screens that interrupt: emergency or same-day, and met."""
    return tuple(s for s in _standing(advice, "met") if s.send in ("emergency", "same_day"))


def alert(advice: Advice | Danger, knowledge: Knowledge) -> Page:
    """The one interrupting message: an emergency or same-day screen is met. Empty if none is."""
    blocks: list[Block] = []
    for screen in stops(advice):
        blocks.append(Heading(f"STOP  {screen.name}: criteria met", SEND[screen.send], "danger"))
        if screen.say:
            blocks.append(Para(screen.say))
        blocks.append(Para(f"by: {listed(fact_name(knowledge, n) for n in screen.met_by)}"))
        blocks.append(Para(f"next: {screen.next_step}", tone="strong"))
        blocks.append(Para(HANDS[screen.hands]))
        if knowledge.screens[screen.id].resolve_by:
            blocks.append(Para(f"answered by: {knowledge.screens[screen.id].resolve_by}"))
    return tuple(blocks)


def noticed(advice: Advice | Danger, knowledge: Knowledge, ids: Collection[str]) -> Page:
    """Those of `ids` that are met, in a few lines each: lesser ones, and stops after the one that has interrupted."""
    blocks: list[Block] = []
    stopping = {s.id for s in stops(advice)}
    for screen in _standing(advice, "met"):
        if screen.id not in ids:
            continue
        loud = screen.id in stopping
        name = f"ALSO  {screen.name}" if loud else screen.name
        blocks.append(Heading(f"{name}: criteria met", SEND[screen.send], "danger" if loud else "caution"))
        blocks.append(Para(f"{screen.say} next: {screen.next_step}".strip()))
        if loud:
            blocks.append(Para(HANDS[screen.hands]))
    return tuple(blocks)


def board(advice: Advice, knowledge: Knowledge) -> Page:
    """All screens by state."""
    blocks: list[Block] = [*alert(advice, knowledge)]
    blocks += noticed(advice, knowledge, {s.id for s in advice.screens} - {s.id for s in stops(advice)})
    for send, words in SEND.items():
        still = [s for s in _standing(advice, "open") if s.send == send]
        if still:
            blocks += [Gap(), Heading("Open: not excluded, answers missing", words)]
            blocks.append(Rows(tuple((s.name, _missing(s, knowledge)) for s in still), first=34))
    resolved = [s for s in advice.screens if s.resolved]
    if resolved:
        blocks += [Gap(), Heading("Resolved for now; any new or worse sign arms them again")]
        rows = ((s.name, f"not excluded: {s.not_excluded}" if s.not_excluded else "") for s in resolved)
        blocks.append(Rows(tuple(rows)))
    not_met = [s for s in advice.screens if s.state == "not_met" and not s.resolved]
    if not_met:
        blocks += [Gap(), Heading("Criteria not met on these answers; not excluded")]
        blocks.append(Para(listed((s.name + _score(s) for s in not_met), 30)))
    away = [s.name for s in advice.screens if s.state == "does_not_apply" and not s.resolved]
    if away:
        blocks += [Gap(), Heading("Do not apply here, which says nothing either way", tone="quiet")]
        blocks.append(Para(listed(away, 30), tone="quiet"))
    return tuple(blocks)


def screens_line(advice: Advice | Danger, knowledge: Knowledge) -> Page:
    """A short reading once nothing stands in the way: what these answers do not exclude."""
    if advice.blocked:
        return alert(advice, knowledge)
    if not advice.screening_complete:
        return ()
    text = "No stop-now criteria met on these answers. That excludes none of them: why SCREEN tells what each misses."
    still = [s.name for s in _standing(advice, "open")]
    blocks: list[Block] = [Para(text)]
    if still:
        blocks.append(Para(f"Still to look at: {listed(still, 5)} (screens)."))
    return tuple(blocks)


def _standing(advice: Advice | Danger, state: str) -> list[ScreenAdvice]:
    order = ("emergency", "same_day", "urgent", "routine")
    found = (s for s in advice.screens if s.state == state and not s.resolved)
    return sorted(found, key=lambda s: order.index(s.send))


def _missing(screen: ScreenAdvice, knowledge: Knowledge) -> str:
    first = {name for b in knowledge.region.always_ask for name in (*b.findings, *b.context)}
    if set(screen.missing) <= first:
        return "stop-now questions" + _score(screen)
    return listed(_unique(fact_name(knowledge, n) for n in screen.missing), 2) + _score(screen)


def _unique(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _score(screen: ScreenAdvice) -> str:
    if screen.score is None:
        return ""
    low, high = screen.score
    points = number(low) if low == high else f"{number(low)} to {number(high)}"
    return f" (score {points}; no value of it opens anything)"
