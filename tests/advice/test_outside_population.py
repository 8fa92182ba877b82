"""People the pack does not cover, or of whom it is not known: protection, education and referral only."""

from __future__ import annotations

from dataclasses import replace

from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge
from tests.advice.ready import ready
from tests.advice.test_shipped_safety import OPEN, option_states, touches


def handled(knowledge: Knowledge, state: CaseState) -> list[str]:
    """Open options that load or handle the joint."""
    return [o for o, s in option_states(knowledge, state).items() if s in OPEN and touches(knowledge, o)]


def aged(knowledge: Knowledge, age: int | None) -> CaseState:
    """Everything answered and nothing found; this age."""
    state = ready(knowledge, {"loss_of_protective_sensation": "absent"})
    return replace(state, context=replace(state.context, age=age))


def test_the_same_answers_in_an_adult_do_open(knowledge: Knowledge) -> None:
    """Or the tests below would hold of anything."""
    assert handled(knowledge, aged(knowledge, 34))
    assert handled(knowledge, ready(knowledge, {"loss_of_protective_sensation": "absent"}))


def test_a_child_is_offered_protection_and_referral_only(knowledge: Knowledge) -> None:
    for age in (4, 9, 15):
        assert handled(knowledge, aged(knowledge, age)) == []


def test_an_age_nobody_gave_opens_nothing(knowledge: Knowledge) -> None:
    assert handled(knowledge, aged(knowledge, None)) == []


def test_a_foot_without_feeling_is_offered_protection_and_referral_only(knowledge: Knowledge) -> None:
    assert handled(knowledge, ready(knowledge, {"loss_of_protective_sensation": "present"})) == []


def test_feeling_nobody_asked_about_opens_nothing(knowledge: Knowledge) -> None:
    for answers in ("removed", "unknown"):
        state = ready(knowledge, {"loss_of_protective_sensation": "unknown"})
        if answers == "removed":
            kept = tuple(a for a in state.answers if a.finding != "loss_of_protective_sensation")
            state = replace(state, answers=kept)
        assert handled(knowledge, state) == []
