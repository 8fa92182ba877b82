"""What was observed on one side, as the engine reads it: answers before treatment, with sureness and masking."""

from __future__ import annotations

from reasoner.case.state import Answer, Side
from reasoner.facts.facts import Facts
from reasoner.facts.measured import graded
from reasoner.facts.observed import Observed

__all__ = ["observed"]


def observed(facts: Facts, side: Side) -> dict[str, Observed]:
    """Finding id -> observation, in the order recorded. Unknown answers are left out: they carry no weight.

    Within one assessment a re-test after treatment never replaces what was seen before it. A general word ("heel pain")
    is left out where one of the nearer findings it stands for is present or measured: they would count twice.
    """
    hidden = _masks(facts, side)
    found: dict[str, Observed] = {}
    for answer in _before_treatment(facts, side):
        if answer.value != "unknown":
            masked = hidden.get(answer.finding) if answer.value == "absent" else None
            found[answer.finding] = Observed(answer.value, answer.sure, masked)
    nearer = {f for f, seen in found.items() if seen.value == "present"} | set(graded(facts, side))
    return {f: seen for f, seen in found.items() if not nearer & set(facts.knowledge.findings[f].general_for)}


def _before_treatment(facts: Facts, side: Side) -> list[Answer]:
    """The standing answers of this side, each as it was before the first loop of this assessment."""
    loops = [loop.seq for loop in facts.state.loops if loop.assessment == facts.state.assessment]
    first_loop = min(loops, default=None)
    kept: dict[str, Answer] = {}
    for answer in facts.answers:
        if answer.side not in (side, "none") or facts.answer(answer.finding, side) is None:
            continue
        earlier = kept.get(answer.finding)
        after = first_loop is not None and answer.seq > first_loop
        same = earlier is not None and earlier.assessment == answer.assessment and earlier.value != "unknown"
        if not (after and same):
            kept[answer.finding] = answer
    return sorted(kept.values(), key=lambda a: a.seq)


def _masks(facts: Facts, side: Side) -> dict[str, float]:
    """Finding id -> chance that a present sign is hidden now."""
    found: dict[str, float] = {}
    for masking in facts.knowledge.maskings.values():
        answer = facts.answer(masking.when, side)
        if answer is not None and answer.value == "present":
            for finding in masking.hides:
                found[finding] = max(found.get(finding, 0.0), facts.knowledge.number(masking.mu))
    return found
