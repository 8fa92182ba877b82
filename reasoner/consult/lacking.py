"""What a visit still lacks that should have been there: agreement, what was said before it, limits kept, hand-over."""

from __future__ import annotations

from collections.abc import Iterator

from reasoner.consult import words
from reasoner.consult.carrying import no_progress
from reasoner.consult.exam import exam_plan_now, name_of
from reasoner.consult.judging import OWN_FIRST
from reasoner.consult.limits import is_high, provoked
from reasoner.consult.situation import Situation
from reasoner.consult.treating import COVERED, agreements

__all__ = ["lacking"]


def lacking(case: Situation) -> tuple[str, ...]:
    """Open items of this visit, in plain words."""
    return tuple(dict.fromkeys((*_agreement(case), *_limits(case), *_course(case))))


def _agreement(case: Situation) -> Iterator[str]:
    agreed = agreements(case.state)
    for loop in case.state.loops:
        option = case.knowledge.options.get(loop.option)
        if loop.visit != case.state.visit or option is None or option.lane == "ask_or_send":
            continue
        given = agreed.get(loop.number)
        if given is None:
            yield f"no agreement recorded for {option.name}"
            continue
        unsaid = words.covered_words(c for c in COVERED if c not in given.covered)
        if unsaid:
            yield f"not said before agreeing to {option.name}: {words.listed(unsaid)}"


def _limits(case: Situation) -> Iterator[str]:
    rules, done = case.knowledge.policy.visit_rules, provoked(case)
    if rules is not None and is_high(case) and len(done) > rules.most_provoking:
        yield f"{len(done)} provoking tests with irritability high or not known (at most {rules.most_provoking})"
    plan = exam_plan_now(case)
    if plan is not None:
        here = {a.finding for a in case.state.answers if a.visit == case.state.visit}
        here |= {m.measure for m in case.state.measurements if m.visit == case.state.visit}
        missed = [name_of(case, i) for i in plan.must if i not in here]
        if missed:
            yield f"planned as must and not done: {words.listed(missed, 4)}"


def _course(case: Situation) -> Iterator[str]:
    visit = case.state.visit
    made = [h for h in case.state.handovers if h.visit == visit]
    blocked = any(s.state == "met" and not s.resolved and s.send == "emergency" for s in case.danger.screens)
    if blocked and not made:
        yield "an emergency is not handed over"
    if made and not made[-1].phoned:
        yield "handed over, not by phone first"
    if no_progress(case):
        yield "no progress since the first visit, not answered"
    if case.stamp.role in OWN_FIRST and not any(j.visit == visit for j in case.state.judgements):
        yield "no judgement of your own committed"
