"""Steps of a visit beyond danger and story: dates said again, a flare, the plan of examination, no progress, a stop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from reasoner.advice.records import Question
from reasoner.consult import words
from reasoner.consult.asks import Ask, asked_already, context_ask, of_question
from reasoner.consult.carrying import no_progress
from reasoner.consult.commands import Close
from reasoner.consult.exam import exam_plan_now, gates_lack, may_do, name_of, plan_words, suggested_plan
from reasoner.consult.following import DATED, date_doubtful, dates_to_say, stall_text
from reasoner.consult.judging import judgement_due
from reasoner.consult.limits import flare_now, may_suggest, reassess
from reasoner.consult.measuring import baseline_of
from reasoner.consult.situation import Situation

__all__ = ["blocked", "dates", "flare", "gate_facts", "judgement", "plan", "planned", "stalled", "told"]

_MOST_TOLD = 3  # questions about what can be told, before hands are used
_WORTH_ASKING = 0.005  # bits
_MOST_FACTS = 9
_SAME = "; or: same as before"


def dates(case: Situation) -> Iterator[Ask]:
    """What healing windows count from, said again at each visit; asked afresh where the clock cannot be relied on."""
    for anchor in (*DATED, "injury"):
        if date_doubtful(case, anchor):
            ask = context_ask(case, f"days_since.{anchor}")
            yield replace(ask, text=f"The clock ran backwards or leapt: weeks are not known. {ask.text}")
    for name, days, confirm in dates_to_say(case):
        text = f"{days} days since {name} ({days // 7} weeks): right?"
        hint = f"y, or say it anew: {confirm.anchor.replace('_', ' ')} 8 weeks ago"
        yield Ask(f"date.{confirm.anchor}", "date", confirm.anchor, text, hint, accepts=confirm)


def flare(case: Situation) -> Iterator[Ask]:
    """From the second visit on: was it worse afterwards, how long, swelling new?"""
    if case.state.visit > 1 and flare_now(case) is None:
        text = "Worse after last time: how long? New swelling since?"
        yield Ask("flare", "flare", "flare", text, "no; or for example: 36 h; 4 days, swelling; ? not known")
    if reassess(case) and not _restated(case):
        yield Ask(
            "irritability", "irritability", "irritability",
            "Reassess: what sets it off now, how much of that, how bad 0-10, how long to settle?",
            "for example: ten stairs, some, 5/10, 5 min   (how much: little, some, much)",
        )  # fmt: skip


def _restated(case: Situation) -> bool:
    said = case.state.irritability
    return said is not None and said.visit == case.state.visit


def blocked(case: Situation) -> Iterator[Ask]:
    """A stop: by phone first, then who took it, then the end of the visit."""
    if not case.danger.blocked:
        return
    met = [s for s in case.danger.screens if s.state == "met" and not s.resolved]
    hint = f"or, if it has been dealt with: resolve {met[0].name}: done ..." if met else ""
    if not any(h.visit == case.state.visit for h in case.state.handovers):
        yield Ask(
            "handover", "handover", "handover", "Phone first (words: phone). Who took it, when, how do they travel?",
            "phoned, to WHO; at WHEN; travel HOW; told WHAT   " + hint,
        )  # fmt: skip
    yield Ask("close", "confirm", "close", "End this visit here?", "y closes it; " + hint, accepts=Close())


# ------------------------------------------------------------------------------------------------ before hands


def told(case: Situation) -> Iterator[Ask]:
    """The few questions whose answers can be told and tell most: several at once as one, each with its words."""
    asks = []
    for question in case.advice.questions:
        finding = case.knowledge.findings.get(question.id)
        if finding is not None and finding.kind == "told" and question.gain_bits >= _WORTH_ASKING:
            ask = of_question(case, question)
            asks += [ask] if ask is not None else []
    asks = asks[: max(0, _MOST_TOLD - _told_here(case))]
    if len(asks) < 2:
        yield from asks
        return
    yield Ask(
        "told", "facts", ",".join(a.name for a in asks), "Asked one by one, any of these?",
        "n none of them; or name those: NAME +; ? not known",
        more=tuple(f"{name_of(case, a.name)}: {a.text}" for a in asks),
    )  # fmt: skip


def _told_here(case: Situation) -> int:
    """Told findings answered in this visit that bear on what limits or is injured, and are no danger question."""
    first = {name for b in case.knowledge.region.always_ask for name in b.findings}
    bearing = {link.finding for h in case.knowledge.hypotheses.values() for link in h.produces} - first
    found = {
        a.finding
        for a in case.state.answers
        if a.visit == case.state.visit and a.finding in bearing and a.finding in case.knowledge.findings
        and case.knowledge.findings[a.finding].kind == "told" and not case.knowledge.findings[a.finding].danger
    }
    return len(found)


def gate_facts(case: Situation) -> Iterator[Ask]:
    """What most options wait for, as one question: medicines, blood, bone. `n` records each of them as absent."""
    wanted = _waited_for(case)
    if len(wanted) < 2:
        return
    idents = [i for i, _ in wanted.most_common(_MOST_FACTS)]
    names = words.listed((case.knowledge.findings[i].name for i in idents), _MOST_FACTS)
    opens = sum(
        o.relevant and o.lane == "try_now" and bool(set(o.missing) & set(idents)) for o in case.advice.options
    )
    yield Ask(
        "facts", "facts", ",".join(idents), f"Any of these? {names}?",
        "n none of them; or name those: NAME +; ? not known", f"{opens} options wait for them",
    )  # fmt: skip


def _waited_for(case: Situation) -> Counter[str]:
    """Told facts that try-now options wait for or are cautioned by, with how many of them."""
    first = {name for b in case.knowledge.region.always_ask for name in b.findings}
    missing = Counter(
        name
        for o in case.advice.options
        if o.lane == "try_now" and o.relevant and o.state in ("not_yet", "caution")
        for name in o.missing
    )
    return Counter({
        name: count
        for name, count in missing.items()
        if name in case.knowledge.findings and name not in first
        and case.knowledge.findings[name].kind == "told" and not asked_already(case, name)
    })


def judgement(case: Situation) -> Iterator[Ask]:
    """One's own, before the tool's: after the story, and again before treatment."""
    due = judgement_due(case)
    if due:
        yield Ask(
            f"judgement.{due}", "judgement", "judgement",
            "Before mine: what limits, most likely first, how sure, what would change your mind?",
            "FIRST > SECOND; fairly sure; would change if ...   or: not sure" + _SAME * bool(case.state.judgements),
        )  # fmt: skip


# ------------------------------------------------------------------------------------------------ examination


def plan(case: Situation) -> Iterator[Ask]:
    """The plan of examination, to be taken up, changed or left."""
    if exam_plan_now(case) is not None or any(p.visit == case.state.visit for p in case.state.loops):
        return
    suggested = suggested_plan(case)
    if suggested.must or suggested.should:
        yield Ask(
            "exam", "exam", "exam", "Plan the examination: must, should, leave for today?",
            "[enter] takes this; or: exam must ...; should ...; leave ...; to first pain",
            accepts=suggested, more=plan_words(case, suggested),
        )  # fmt: skip


def planned(case: Situation) -> Iterator[Ask]:
    """What was planned and not done yet, in blocks by position, so that they turn over as seldom as can be."""
    made = exam_plan_now(case)
    if made is None:
        return
    opened = (i for i in gates_lack(case) if i not in made.leave)  # could not be done yet when it was planned
    wanted = dict.fromkeys((*made.must, *made.should, *opened))
    open_ = [i for i in wanted if not _done(case, i) and may_suggest(case, i)]
    order = [p.id for p in case.knowledge.region.positions]
    asks = [ask for ident in may_do(case, open_) if (ask := _planned_ask(case, ident)) is not None]
    yield from sorted(asks, key=lambda a: order.index(a.position) if a.position in order else -1)


def _done(case: Situation, ident: str) -> bool:
    record = case.knowledge.measures.get(ident)
    if record is not None:
        side = case.one_side(None, record.sided)
        return side is not None and baseline_of(case, ident, side) is not None
    return any(a.finding == ident and a.visit == case.state.visit for a in case.facts.standing.values())


def _planned_ask(case: Situation, ident: str) -> Ask | None:
    finding, measure = case.knowledge.findings.get(ident), case.knowledge.measures.get(ident)
    if finding is not None:
        ask, minutes, position = finding.ask or finding.name, finding.minutes, finding.position
        return of_question(case, Question(ident, "finding", ask, 0.0, minutes, position, "planned"))
    if measure is not None:
        ask = measure.how or measure.name
        return of_question(case, Question(ident, "measure", ask, 0.0, measure.minutes, measure.position, "planned"))
    return None


def stalled(case: Situation) -> Iterator[Ask]:
    """No progress by the stated visit or week."""
    if no_progress(case):
        yield Ask(
            "stalled", "stall", "stalled", stall_text(case),
            "changed hypothesis: ... | imaging question: ... | second opinion: ...",
        )  # fmt: skip
