"""What must be asked before any technique, and what an open danger screen still needs. Danger first, always."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reasoner.advice.records import Question
from reasoner.facts.facts import Facts
from reasoner.graph.records import AlwaysAsk
from reasoner.options.gate import BEFORE_HANDS
from reasoner.safety.screens import Screening, ScreenResult

__all__ = ["BEFORE_HANDS", "ask_first", "context_question", "screening_complete", "unanswered"]

URGENCY = ("emergency", "same_day", "urgent", "routine")

# What to ask for a context fact that a rule names; the pack words everything clinical itself.
_CONTEXT_ASK = {
    "side": "Which side?",
    "age": "How old are they?",
    "sex": "Sex?",
    "setting": "How does it come: after what, or since when?",
    "surgery": "Was anything operated? If so what, and when?",
    "procedure": "Which operation was it?",
    "orders": "Have you seen the surgeon's orders?",
    "weight_bearing": "How much weight may they put on it?",
    "immobilised": "Cast or boot? How long, in what position?",
    "days_since.injury": "How long since the injury?",
    "days_since.surgery": "How long since the operation?",
    "days_since.cast_off": "How long since the cast or boot came off?",
    "days_since.union_on_film": "Has union been seen on a film, and how long ago?",
    "days_since.symptoms": "How long since the symptoms began?",
}


def _open_facts(bundle: AlwaysAsk, facts: Facts) -> list[str]:
    """Facts of one bundle without a definite answer on every side of the case."""
    missing = [facts.asked_for(f) for f in bundle.findings if facts.truth(f).unknown]
    return missing + [name for name in bundle.context if getattr(facts.state.context, name, None) is None]


def unanswered(facts: Facts) -> tuple[str, ...]:
    """Always-ask facts without a definite answer, in the order asked. Give Facts with side None."""
    found = (name for bundle in facts.knowledge.region.always_ask for name in _open_facts(bundle, facts))
    return tuple(dict.fromkeys(found))


def screening_complete(facts: Facts, screens: Iterable[ScreenResult]) -> bool:
    """Every bundle answered without unknown, and no emergency or same-day screen open."""
    still_open = any(s.state == "open" and s.closing and s.screen.send in BEFORE_HANDS for s in screens)
    return not unanswered(facts) and not still_open


def ask_first(facts: Facts, screening: Screening) -> tuple[Question, ...]:
    """Side and bundles not yet answered, then what open screens need, most urgent first. Each thing once."""
    asked: dict[str, Question] = {}
    if facts.state.context.side is None:
        asked["side"] = context_question("side")
    for bundle in facts.knowledge.region.always_ask:
        for question in _bundle_questions(bundle, facts):
            asked.setdefault(question.id, question)
    waiting = {f for b in facts.knowledge.region.always_ask if b.id in asked for f in (*b.findings, *b.context)}
    for question in _screen_questions(facts, screening):
        if question.id not in waiting:
            asked.setdefault(question.id, question)
    return tuple(asked.values())


def _bundle_questions(bundle: AlwaysAsk, facts: Facts) -> Iterator[Question]:
    missing = _open_facts(bundle, facts)
    if len(missing) == len(bundle.findings) + len(bundle.context) and not _said_yes(bundle, facts):
        yield Question(bundle.id, "screen", bundle.ask, 0.0, 0.25, why=bundle.why)
        return
    for name in missing:
        yield _question(name, facts, bundle.why)


def _said_yes(bundle: AlwaysAsk, facts: Facts) -> bool:
    """"Yes to one of these" was answered in this visit: they are then asked one by one."""
    said = [b for b in facts.state.bundles if b.bundle == bundle.id and b.visit == facts.state.visit]
    return bool(said) and said[-1].value != "absent"


def _screen_questions(facts: Facts, screening: Screening) -> Iterator[Question]:
    waiting = [
        r
        for r in screening.results()
        if r.state == "open" and r.resolution is None and (r.in_use or r.screen.send in BEFORE_HANDS)
    ]
    for result in sorted(waiting, key=lambda r: URGENCY.index(r.screen.send)):
        for name in result.missing:
            yield _question(name, facts, f"open: {result.screen.name}", result)


def _question(name: str, facts: Facts, why: str, result: ScreenResult | None = None) -> Question:
    finding = facts.knowledge.findings.get(name)
    if finding is not None:
        ask = finding.ask or finding.name
        return Question(name, "finding", ask, 0.0, finding.minutes, finding.position, why)
    measure = facts.knowledge.measures.get(name)
    if measure is not None:
        return Question(name, "measure", measure.how or measure.name, 0.0, measure.minutes, measure.position, why)
    return context_question(name, why)


def context_question(name: str, why: str = "") -> Question:
    """A question about who, when and what was done."""
    return Question(name, "screen", _CONTEXT_ASK.get(name, name.replace("_", " ")), 0.0, 0.25, why=why)
