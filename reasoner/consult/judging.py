"""The clinician's own judgement, committed before the tool's is seen: after the story, and again before treatment."""

from __future__ import annotations

from typing import Literal

from reasoner.consult.situation import Decision, Situation, refuse

__all__ = ["OWN_FIRST", "hides_view", "judgement_due", "judgement_first"]

OWN_FIRST = ("graduate",)  # roles for which it is on


def judgement_due(case: Situation) -> Literal["", "story", "treatment"]:
    """Which of the two is lacking; empty for other roles, and once both are there.

    `story`: nothing judged in the first visit. `treatment`: nothing judged since something was seen, tested or
    measured in this visit.
    """
    if case.stamp.role not in OWN_FIRST:
        return ""
    state, visit = case.state, case.state.visit
    judged = [j.seq for j in state.judgements if j.visit == visit]
    examined = _first_examined(case)
    if not judged and visit == 1 and examined is None:
        return "story"
    if not judged or (examined is not None and judged[-1] < examined):
        return "treatment"
    return ""


def _first_examined(case: Situation) -> int | None:
    """Place in the record of the first thing seen, tested or measured by hand in this visit."""
    state, visit, knowledge = case.state, case.state.visit, case.knowledge
    asked_first = {name for bundle in knowledge.region.always_ask for name in bundle.findings}
    found = [
        a.seq
        for a in state.answers
        if a.visit == visit
        and a.finding not in asked_first
        and a.finding in knowledge.findings
        and knowledge.findings[a.finding].kind in ("seen", "tested")
    ]
    found += [
        m.seq
        for m in state.measurements
        if m.visit == visit and m.measure in knowledge.measures
        and knowledge.measures[m.measure].kind not in ("pain", "function")
    ]
    return min(found, default=None)


def judgement_first(case: Situation) -> Decision | None:
    """Refuses the tool's view before one's own is committed."""
    if not judgement_due(case):
        return None
    return refuse(
        "before the tool's view, yours: what limits, most likely first, how sure, what would change your mind?",
        "write: judge FIRST > SECOND; fairly sure; would change if ...   (or: judge not sure)",
        needs=("judgement",),
    )


def hides_view(case: Situation) -> bool:
    """Is the tool's own ranking kept back for now? Danger never is."""
    return case.open_visit is not None and bool(judgement_due(case))
