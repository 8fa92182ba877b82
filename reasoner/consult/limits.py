"""How much may be provoked in this visit: by irritability, by a flare, by resting pain. Limits are the pack's.

What was done can always be recorded; a test beyond the limit is said and stays an open item.
"""

from __future__ import annotations

from collections.abc import Sequence

from reasoner.case.state import Flare
from reasoner.consult.irritability import Irritable, judge_irritability
from reasoner.consult.situation import Situation
from reasoner.consult.words import number
from reasoner.graph.knowledge import Knowledge
from reasoner.measures.baseline import value

__all__ = [
    "beyond_limit", "ends_provoking", "flare_now", "irritable_now", "is_high", "is_overpressure", "is_provoking",
    "lowers_dose", "may_suggest", "provoked", "provoking_ended", "reassess", "room_left",
]  # fmt: skip


def is_provoking(knowledge: Knowledge, ident: str) -> bool:
    """Does this finding or measure provoke?"""
    record = knowledge.findings.get(ident) or knowledge.measures.get(ident)
    return record is not None and record.provokes


def is_overpressure(knowledge: Knowledge, ident: str) -> bool:
    """Does it push past the limit?"""
    record = knowledge.findings.get(ident) or knowledge.measures.get(ident)
    return record is not None and bool(set(record.load_classes) & set(knowledge.region.overpressure))


def irritable_now(case: Situation) -> Irritable:
    """Irritability as last stated; never stated counts as high."""
    said = case.state.irritability
    if said is None:
        return judge_irritability(case.knowledge, "unknown", None, None)
    return judge_irritability(case.knowledge, said.effort, said.intensity, said.minutes)


def is_high(case: Situation) -> bool:
    """High, not known, or a flare since the last visit."""
    return irritable_now(case).level.startswith("high") or lowers_dose(case)


# ------------------------------------------------------------------------------------------------ provoking tests


def provoked(case: Situation) -> tuple[str, ...]:
    """Provoking tests and measures done in this visit, each once."""
    state, visit = case.state, case.state.visit
    done = [a.finding for a in state.answers if a.visit == visit and a.value != "unknown"]
    done += [m.measure for m in state.measurements if m.visit == visit and m.phase == "baseline"]
    return tuple(i for i in dict.fromkeys(done) if is_provoking(case.knowledge, i))


def room_left(case: Situation) -> int | None:
    """Provoking tests still within the limit; None without one."""
    rules = case.knowledge.policy.visit_rules
    if rules is None or not is_high(case):
        return None
    return max(0, rules.most_provoking - len(provoked(case)))


def provoking_ended(case: Situation) -> str:
    """Why no more provoking tests are asked for in this visit; empty while they may be."""
    rose = _resting_pain_rose(case)
    if rose:
        return rose
    if room_left(case) == 0:
        return f"irritability {irritable_now(case).level}: {len(provoked(case))} provoking tests are enough"
    return ""


def _resting_pain_rose(case: Situation, *now: float) -> str:
    """Any rise of resting pain over its first value in this visit ends provoking. `now`: a value not yet recorded."""
    sign, visit = case.knowledge.region.resting_pain, case.state.visit
    taken = [value(m.values) for m in case.state.measurements if m.measure == sign and m.visit == visit]
    taken += now
    if not sign or len(taken) < 2 or taken[-1] <= taken[0]:
        return ""
    return f"resting pain rose from {number(taken[0])} to {number(taken[-1])}: no more provoking tests in this visit"


def ends_provoking(case: Situation, ident: str, values: Sequence[float]) -> tuple[str, ...]:
    """What to say when resting pain is recorded higher than at first in this visit."""
    if case.knowledge.policy.visit_rules is None or ident != case.knowledge.region.resting_pain:
        return ()
    rose = _resting_pain_rose(case, value(values))
    return (f"  mind: {rose}",) if rose else ()


def may_suggest(case: Situation, ident: str) -> bool:
    """May this test be suggested, as far as irritability goes? Gates come on top."""
    knowledge = case.knowledge
    if knowledge.policy.visit_rules is None:
        return True
    if is_provoking(knowledge, ident) and provoking_ended(case) and ident not in provoked(case):
        return False
    return not (is_overpressure(knowledge, ident) and is_high(case))


def beyond_limit(case: Situation, ident: str) -> tuple[str, ...]:
    """What to say when a test is recorded that should not have been asked for. Empty if it is within the limit."""
    if case.knowledge.policy.visit_rules is None or ident in provoked(case):
        return ()
    if is_provoking(case.knowledge, ident):
        why = provoking_ended(case)
        return (f"  mind: {why}",) if why else ()
    return ()


# ------------------------------------------------------------------------------------------------ flare


def flare_now(case: Situation) -> Flare | None:
    """What was said in this visit about how it was after the last one."""
    said = [f for f in case.state.flares if f.visit == case.state.visit]
    return said[-1] if said else None


def lowers_dose(case: Situation) -> bool:
    """Was it worse for longer than the pack lets pass?"""
    rules, flare = case.knowledge.policy.visit_rules, flare_now(case)
    long = rules is not None and flare is not None and flare.hours is not None and flare.hours > rules.lower_dose_hours
    return long or reassess(case)


def reassess(case: Situation) -> bool:
    """Worse for so long, or swelling new, that the picture is taken afresh before anything is given."""
    rules, flare = case.knowledge.policy.visit_rules, flare_now(case)
    if rules is None or flare is None:
        return False
    return flare.swelling == "present" or (flare.hours is not None and flare.hours > rules.reassess_hours)
