"""What to ask next: danger first, then the story, then what tells most; always one thing, never the only one allowed.

The order is a suggestion. Nothing here records anything; a question that was skipped stays visible as missing.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace
from itertools import chain

from reasoner.advice.records import Question
from reasoner.case import events as ev
from reasoner.consult import agenda_course as course
from reasoner.consult import words
from reasoner.consult.asks import Ask, context_ask, of_question
from reasoner.consult.commands import ChooseSigns, Close, OpenVisit, TakeAdvice
from reasoner.consult.exam import exam_plan_now
from reasoner.consult.gates import may_ask, stays_shut
from reasoner.consult.judging import judgement_due
from reasoner.consult.limits import may_suggest
from reasoner.consult.measuring import baseline_of, needs_retest, sign_name, signs
from reasoner.consult.noting import HEADINGS
from reasoner.consult.setting_up import setup_wanted
from reasoner.consult.situation import Situation
from reasoner.consult.treating import open_loop

__all__ = ["Ask", "all_asks", "ask_on", "next_ask", "unfinished"]

Steps = Callable[[Situation], Iterator[Ask]]

_WORTH_ASKING = 0.005  # bits: below it no remaining question is suggested
_STORY = ("problem",)
_MORE_STORY = ("day", "goal", "worries")
_AFTERWARDS = ("straight_after", "that_night", "next_day")  # may be told in one line
_SINCE_LAST = (*_AFTERWARDS, "unwanted", "home_done", "health_change")
_PLAN = ("conclusion", "home", "next_visit", "return_if")  # the plan, in parts: not asked again as a whole


def next_ask(case: Situation, skipped: Collection[str] = ()) -> Ask | None:
    """The next thing worth asking; None when nothing is left."""
    return next((ask for ask in all_asks(case) if ask.id not in skipped), None)


def all_asks(case: Situation) -> Iterator[Ask]:
    """Everything still worth asking, in order."""
    if case.open_visit is None:
        number = case.state.visit + 1 if case.state.visits else 1
        text = f"No visit is open. Open visit {number}?"
        yield Ask("visit.open", "confirm", "visit", text, "y opens it", accepts=OpenVisit())
        return
    ending = case.state.ending
    if ending is not None and ending.visit == case.state.visit:  # nothing is left to find out here
        yield from course.blocked(case)
        yield from _texts(case, ("conclusion",))
        yield Ask("close", "confirm", "close", "Care here has ended. Close the visit?", "y closes it", accepts=Close())
        return
    yield from chain.from_iterable(step(case) for step in _STEPS)


# ------------------------------------------------------------------------------------------------ danger


def _intake(case: Situation) -> Iterator[Ask]:
    """Side first: nothing can be recorded for a side that is not known; then how and when it started."""
    context = case.state.context
    if context.side is None:
        text = "Which side, how did it start, when, anything done to it?"
        yield Ask("context.side", "context", "side", text, "for example: left, sprain, 6 weeks ago, no surgery")
    known = {
        "setting": context.setting is not None,
        "days_since.injury": bool({"injury", "symptoms"} & set(context.days_since)),
        "surgery": context.surgery is not None,
        "immobilised": context.immobilised is not None,
    }
    for name, is_known in known.items():
        if not is_known and name not in context.unknown:
            yield context_ask(case, name)
    if context.surgery is not None and not context.surgery.none:
        for name, there in (
            ("days_since.surgery", "surgery" in context.days_since),
            ("orders", context.surgery.orders != "unknown"),
        ):
            if not there:
                yield context_ask(case, name)


def _stop_now(case: Situation) -> Iterator[Ask]:
    """The always-ask set and what an emergency or same-day screen still needs."""
    urgent = [q for q in case.advice.ask_first if q.id != "side" and not _later(case, q)]
    asks = [ask for q in urgent if (ask := of_question(case, q)) is not None]
    for left, ask in zip(range(len(asks), 0, -1), asks, strict=True):
        yield replace(ask, progress=f"stop-now, {left} to go" if left > 1 else "stop-now, the last one")


def _other_screens(case: Situation) -> Iterator[Ask]:
    """What an urgent or routine screen still needs: after the story."""
    for question in case.advice.ask_first:
        if _later(case, question):
            ask = of_question(case, question)
            if ask is not None:
                yield ask


def _other_told(case: Situation) -> Iterator[Ask]:
    """Of those the ones that can be told, or are about who and when: before hands are used."""
    for ask in _other_screens(case):
        finding = case.knowledge.findings.get(ask.name)
        if ask.kind == "context" or (finding is not None and finding.kind == "told"):
            yield ask


def _later(case: Situation, question: Question) -> bool:
    first = {
        name
        for s in case.advice.screens
        if s.state == "open" and not s.resolved and s.send in ("emergency", "same_day")
        for name in s.missing
    }
    bundled = {name for b in case.knowledge.region.always_ask for name in (b.id, *b.findings, *b.context)}
    return question.id not in first and question.id not in bundled


# ------------------------------------------------------------------------------------------------ story


def _written(case: Situation, heading: str) -> bool:
    return any(n.heading == heading and n.visit == case.state.visit for n in case.state.notes)


def _texts(case: Situation, headings: tuple[str, ...]) -> Iterator[Ask]:
    for heading in headings:
        if not _written(case, heading):
            also = tuple(h for h in _AFTERWARDS[1:] if not _written(case, h)) if heading == _AFTERWARDS[0] else ()
            together = "; at once: " + "; ".join(h.replace("_", " ") for h in (heading, *also)) if also else ""
            hint = f"their words; skip leaves it open{together}"
            yield Ask(f"text.{heading}", "text", heading, HEADINGS[heading], hint, also=also)


def _since_last(case: Situation) -> Iterator[Ask]:
    if case.state.visit > 1:
        yield from course.flare(case)
        yield from _texts(case, _SINCE_LAST)


def _committed_after_story(case: Situation) -> Iterator[Ask]:
    if judgement_due(case) == "story":
        yield from course.judgement(case)


def _story(case: Situation) -> Iterator[Ask]:
    first = case.state.visit == 1
    if first:
        yield from _texts(case, _STORY)
    yield from _signs(case)
    if first and case.state.irritability is None:
        yield Ask(
            "irritability", "irritability", "irritability",
            "What sets it off, how much of that, how bad 0-10, how long to settle?",
            "for example: ten stairs, some, 5/10, 5 min   (how much: little, some, much)",
        )
    if first:
        yield from _texts(case, _MORE_STORY)


def _signs(case: Situation) -> Iterator[Ask]:
    """The retest signs: a plan that may be accepted as it stands, then their values before treatment."""
    region = case.knowledge.region
    usual = tuple(s for s in dict.fromkeys((region.function_sign, region.pain_sign, region.main_measure)) if s)
    usual = tuple(s for s in usual if not _shut(case, s))
    if not case.state.retest_signs and usual:
        names = words.listed(case.knowledge.measures[s].name for s in usual)
        spoken = _function_words(case)
        text = f"Retest every time: {names}?" + (f' Function: "{spoken}".' if spoken else "")
        hint = "[enter] takes these; or: signs ..."
        yield Ask("signs", "signs", "signs", text, hint, accepts=ChooseSigns(usual, spoken))
    for sign in (region.function_sign, region.pain_sign):
        if sign and sign in (case.state.retest_signs or usual):
            yield from _baseline(case, sign)


def _shut(case: Situation, sign: str) -> bool:
    """A sign that may not be tested for now whatever is answered is not proposed for every retest."""
    record = case.knowledge.measures[sign]
    return stays_shut(case, record.load_classes, case.one_side(None, record.sided) or "none")


def _function_words(case: Situation) -> str:
    """The first clause of the problem as they told it."""
    told = [n.text for n in case.state.notes if n.heading == "problem"]
    return told[-1].split(",")[0].split(";")[0].strip()[:60] if told else ""


def _baseline(case: Situation, sign: str) -> Iterator[Ask]:
    record = case.knowledge.measures[sign]
    side = case.one_side(None, record.sided)
    if side is None or baseline_of(case, sign, side) is not None or not may_ask(case, record.load_classes, side):
        return
    text = record.how or f"{record.name}?"
    if sign == case.knowledge.region.function_sign and case.state.function_words:
        text = f'"{case.state.function_words}": how well now, 0-10?'
    low, high = (words.number(v) for v in record.possible)
    hint = f"{low} to {high}" if record.possible == (0.0, 10.0) else f"{record.name} L ... R ..."
    yield Ask(f"measure.{sign}", "measure", sign, text, hint, position=record.position, more=setup_wanted(record))


# ------------------------------------------------------------------------------------------------ examination


def _retest(case: Situation) -> Iterator[Ask]:
    loop = open_loop(case)
    if loop is None or loop.visit != case.state.visit:
        return
    parts = []
    for sign in signs(case):
        record = case.knowledge.measures[sign]
        side = loop.side if record.sided else "none"
        taken = baseline_of(case, sign, side)
        if taken is not None:
            parts.append(f"{sign_name(case, sign)} (was {words.number(sum(taken.values) / len(taken.values))})")
    text = f"Again now: {', '.join(parts) or 'nothing was measured before'}"
    yield Ask("retest", "retest", "retest", text, "retest ...; add: new symptom, swelling or worse gait if so")


def _examination(case: Situation) -> Iterator[Ask]:
    """The plan and what is planned; without a plan the main measure and what tells most."""
    if _advised_here(case):
        return
    yield from course.plan(case)
    if exam_plan_now(case) is not None:
        yield from course.planned(case)
        return
    if case.knowledge.region.main_measure:
        yield from _baseline(case, case.knowledge.region.main_measure)
    yield from _telling(case)


def ask_on(case: Situation, skipped: Collection[str] = ()) -> Ask | None:
    """The question that tells most, also after the options were looked at; None if none is worth asking."""
    return next((ask for ask in _telling(case) if ask.id not in skipped), None)


def _telling(case: Situation) -> Iterator[Ask]:
    for question in case.advice.questions:
        if question.gain_bits < _WORTH_ASKING:
            continue
        ask = of_question(case, question)
        if ask is not None and ask.id not in ("context.side",) and may_suggest(case, ask.name):
            yield ask


def _advised_here(case: Situation) -> bool:
    """Were the options looked at in this visit?"""
    for recorded in reversed(case.state.log):
        if isinstance(recorded.event, ev.VisitOpened):
            return False
        if isinstance(recorded.event, ev.Advised):
            return True
    return False


def _treatment(case: Situation) -> Iterator[Ask]:
    yield from course.stalled(case)
    yield from course.judgement(case)
    if not _advised_here(case):
        hint = "[enter] or: options; skip goes on to the plan"
        yield Ask("options", "act", "options", "Look at the options?", hint, accepts=TakeAdvice())
        return
    given = [p for p in case.state.loops if p.visit == case.state.visit and _counts(case, p.option)]
    if not given:
        yield Ask("act", "act", "treat", "Treat, ask on, or plan?", "treat NAME dose; next; plan: ...")


def _counts(case: Situation, option: str) -> bool:
    return needs_retest(case.knowledge.options.get(option))


def _ending(case: Situation) -> Iterator[Ask]:
    yield from _texts(case, _PLAN)
    hint = "y closes it; where care here ends: finish REASON; outcome ...; self-management ...; return if ..."
    yield Ask("close", "confirm", "close", "Close the visit?", hint, accepts=Close())


_STEPS: tuple[Steps, ...] = (
    course.blocked, _retest, _intake, course.dates, _since_last, _stop_now, _story, course.gate_facts, _other_told,
    course.told, _committed_after_story, _examination, _other_screens, _treatment, _ending,
)


def unfinished(case: Situation, skipped: Collection[str]) -> tuple[str, ...]:
    """Texts of skipped questions that are still open: they stay visible."""
    return tuple(ask.text for ask in all_asks(case) if ask.id in skipped)
