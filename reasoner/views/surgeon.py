"""The question to the surgeon, drafted: what was done, how long ago, what is not known, what we would like to do."""

from __future__ import annotations

from reasoner.consult.situation import Situation
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
    lines.append("Until we hear from you the later of the published or usual limits holds here.")
    wanted = [o.id for o in case.advice.options if o.lane == "try_now" and o.relevant]
    classes = dict.fromkeys(c for ident in wanted for c in case.knowledge.options[ident].load_classes)
    held = _held(case)
    waiting = [case.knowledge.load_classes[c].name for c in classes if c in held]
    if waiting:
        lines.append(f"Waiting for your word: {'; '.join(waiting)}.")
    return (Heading("Draft to the surgeon's team", "send it outside this tool"), *(Para(line) for line in lines))


def _held(case: Situation) -> set[str]:
    """Load classes that a healing window of this operation, or the orders themselves, still close."""
    rules, knowledge = Screening(case.facts).rules, case.knowledge
    windows = (w for p in knowledge.protocols.values() if evaluate(p.applies_when, rules).verdict.certainly
               for w in p.windows)  # fmt: skip
    early = {w.load_class for w in windows if (case.facts.days_since(w.counted_from)[1] or 0) // 7 < w.later_weeks}
    by_orders = {
        c.id for c in knowledge.load_classes.values() if any("orders" in evaluate(b.when, rules).met_by for b in c.bars)
    }  # fmt: skip
    return early | by_orders


def _asks(case: Situation) -> list[str]:
    """The questions of every protocol that applies or may apply."""
    rules = Screening(case.facts).rules
    return [
        p.question_to_surgeon
        for p in case.knowledge.protocols.values()
        if p.question_to_surgeon and evaluate(p.applies_when, rules).verdict.possibly
    ]
