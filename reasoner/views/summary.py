"""The case in a few lines: who (never a name), what was told, and the line at the bottom of the screen."""

from __future__ import annotations

from reasoner.case.events import Recorded, VisitOpened
from reasoner.case.state import Loop, Measurement
from reasoner.consult.describe import describe
from reasoner.consult.exam import exam_plan_now, plan_words
from reasoner.consult.irritability import judge_irritability
from reasoner.consult.judging import hides_view
from reasoner.consult.measuring import needs_retest
from reasoner.consult.noting import HEADINGS
from reasoner.consult.situation import Situation
from reasoner.consult.words import number, of_side
from reasoner.graph.knowledge import Knowledge
from reasoner.views.beliefs import lead
from reasoner.views.page import Block, Heading, Page, Para, Rows
from reasoner.visible import visible

__all__ = ["answers", "bottom_line", "summary", "timeline", "who"]

_MOST_MEASURES = 12
_WIDTH = 80


def who(case: Situation) -> str:
    """Side, setting, age band, weeks, last visit: enough to notice the wrong person, too little to name one."""
    context = case.state.context
    sides = {"left": "left", "right": "right", "both": "both sides"}
    parts: list[str] = [sides.get(context.side or "", "side not known")]
    if context.setting is not None and context.setting in case.knowledge.settings:
        parts.append(case.knowledge.settings[context.setting].name)
    if context.age is not None:
        parts.append(f"age {int(context.age) // 10 * 10}s")
    for anchor in ("surgery", "injury", "symptoms"):
        _, days = case.facts.days_since(anchor)
        if days is not None:
            parts.append(f"{days // 7} weeks since {anchor}" if days >= 14 else f"{days} days since {anchor}")
            break
    earlier = [v for v in case.state.visits if v.closed_at is not None and v.opened_at is not None]
    if earlier:
        parts.append(f"last visit {earlier[-1].opened_at:%d %b}")
    return ", ".join(parts)


def bottom_line(case: Situation) -> str:
    """Case, side, visit, screens met or open, lead: 80 columns at most."""
    state, advice = case.state, case.advice
    met = sum(s.state == "met" and not s.resolved for s in advice.screens)
    still = sum(s.state == "open" and not s.resolved for s in advice.screens)
    closed = "" if case.open_visit is not None else " closed"
    parts = [state.case, state.context.side or "side?", f"visit {state.visit}{closed}"]
    if state.kind != "real":
        parts.insert(0, "INVENTED PATIENT" if state.kind == "demo" else "PRACTICE")
    parts.append(f"{met} met, {still} open" if met else f"{still} open" if still else "none open")
    first = lead(advice)
    if advice.blocked:
        parts.append("STOP")
    elif first and not hides_view(case):
        parts.append(first)
    text = visible(" | ".join(parts))
    return text if len(text) <= _WIDTH else text[: _WIDTH - 3].rstrip() + "..."


def summary(case: Situation) -> Page:
    """What is known so far, without the tool's own view."""
    state, knowledge = case.state, case.knowledge
    blocks: list[Block] = [Heading(f"{state.case}, visit {state.visit}", who(case))]
    for heading in HEADINGS:
        told = [n for n in state.notes if n.heading == heading]
        if told:
            blocks.append(Para(f"{heading.replace('_', ' ')}: {told[-1].text}"))
    blocks += _course(case)
    if state.irritability is not None:
        i = state.irritability
        judged = judge_irritability(knowledge, i.effort, i.intensity, i.minutes)
        blocks.append(Para(f"irritability: {judged.level} ({', '.join(p for p in (i.activity, judged.inputs) if p)})"))
    rows = tuple(_measured(case, m) for m in state.measurements if m.measure in knowledge.measures)
    blocks += [Rows(rows[-_MOST_MEASURES:])] if rows else []
    blocks += [Para(_given(case, p)) for p in state.loops if needs_retest(knowledge.options.get(p.option))]
    return tuple(blocks)


def _course(case: Situation) -> list[Block]:
    """The plan of examination, orders heard, hand-over and ending, as far as there are any."""
    state, blocks = case.state, list[Block]()
    plan = exam_plan_now(case)
    if plan is not None:
        blocks += [Para(f"examination: {line}") for line in plan_words(case, plan)]
    blocks += [Para(f"order heard: {o.text} ({o.by}, {o.when})") for o in state.orders_heard]
    blocks += [Para(f"handed over to {h.to}, {h.when}") for h in state.handovers]
    if state.ending is not None:
        blocks.append(Para(f"care here ended, {state.ending.reason.replace('_', ' ')}: {state.ending.outcome}"))
    return blocks


def _measured(case: Situation, m: Measurement) -> tuple[str, str, str]:
    seen = "this visit" if m.visit == case.state.visit else f"from visit {m.visit}"
    after = ", after treatment" if m.phase == "retest" else ""
    name = case.knowledge.measures[m.measure].name + of_side(m.side)
    return name, " ".join(number(v) for v in m.values), seen + after


def _given(case: Situation, loop: Loop) -> str:
    option = case.knowledge.options.get(loop.option)
    ended = (loop.verdict or "").replace("_", " ") or "waits for its retest"
    if loop.excused:
        ended = f"no retest: {loop.excused}"
    return f"visit {loop.visit}: {' '.join((option.name if option else loop.option, loop.dose)).strip()}: {ended}"


def answers(case: Situation) -> Page:
    """Every answer that counts now, and those that have run out."""
    knowledge = case.knowledge
    rows = []
    for (ident, side), answer in case.facts.standing.items():
        name = knowledge.findings[ident].name + of_side(side)
        said = answer.value if answer.sure is None else f"sure {answer.sure:g}"
        rows.append((name, said, "" if answer.visit == case.state.visit else f"from visit {answer.visit}"))
    blocks: list[Block] = [Heading("Answers that count now")]
    blocks.append(Rows(tuple(sorted(rows)), first=44) if rows else Para("none yet"))
    gone = [f"{knowledge.findings[i].name}{of_side(s)}" for (i, s) in case.facts.expired]
    if gone:
        blocks += [Heading("Run out: to be asked again"), Para(", ".join(gone))]
    return tuple(blocks)


def timeline(knowledge: Knowledge, recorded: tuple[Recorded, ...]) -> Page:
    """What happened, one line an event."""
    blocks: list[Block] = []
    rows: list[tuple[str, ...]] = []
    for one in recorded:
        if isinstance(one.event, VisitOpened):
            blocks += [Rows(tuple(rows), first=5)] if rows else []
            blocks.append(Heading(f"Visit {one.event.number}", f"{one.at:%a %d %b %Y}"))
            rows = []
            continue
        rows.append((f"{one.at:%H:%M}", describe(knowledge, one.event)))
    blocks += [Rows(tuple(rows), first=5)] if rows else []
    return tuple(blocks)


