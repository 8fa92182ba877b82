"""The question to the surgeon, drafted: what was done, how long ago, what is not known, what we would like to do."""

from __future__ import annotations

from reasoner.consult.situation import Situation
from reasoner.consult.words import listed
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening
from reasoner.views.page import Heading, Page, Para

__all__ = ["page"]

_ORDERS = {
    "known": "The orders are recorded as known.",
    "not_seen": "We have not seen your orders.",
    "conflicting": "The orders we have contradict each other; we keep to the stricter until we hear from you.",
    "unknown": "We do not know whether there are orders.",
}


def page(case: Situation) -> Page:
    """A draft without a name; add the identity on paper."""
    surgery = case.state.context.surgery
    if surgery is None or surgery.none:
        return (Para("no operation is recorded, so there is nothing to ask a surgeon"),)
    names = {p.id: p.name for p in case.knowledge.region.procedures}
    what = names.get(surgery.procedure or "", "an operation whose kind we do not know")
    _, days = case.facts.days_since("surgery")
    when = f"{days} days ago ({days // 7} weeks)" if days is not None else "on a day we do not know"
    side = case.state.context.side or "side not known"
    lines = [f"Your patient (identity on the paper): {what}, {side}, {when}.", _ORDERS[surgery.orders]]
    if surgery.weight_bearing is None:
        lines.append("How much weight may they put on it?")
    lines += _asks(case)
    lines += [f"Heard by word of mouth: {o.text} ({o.by}, {o.when}). Is that so?" for o in case.state.orders_heard]
    lines.append("Until we hear from you the later published limits hold here.")
    waiting = [o.name for o in case.advice.options if o.lane == "try_now" and o.relevant and o.state == "not_yet"]
    if waiting:
        lines.append(f"Waiting for your word: {listed(dict.fromkeys(waiting), 4)}.")
    return (Heading("Draft to the surgeon's team", "send it outside this tool"), *(Para(line) for line in lines))


def _asks(case: Situation) -> list[str]:
    """The questions of every protocol that applies or may apply."""
    rules = Screening(case.facts).rules
    return [
        p.question_to_surgeon
        for p in case.knowledge.protocols.values()
        if p.question_to_surgeon and evaluate(p.applies_when, rules).verdict.possibly
    ]
