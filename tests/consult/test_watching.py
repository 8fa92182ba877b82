"""What a fresh number asks one to notice in a visit: a goal in numbers, exchanged sides, a gain that is none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.case.events import GoalSet
from reasoner.consult.commands import Measure, OpenVisit, SetGoal
from reasoner.consult.watching import look_exchanged
from reasoner.graph.knowledge import Knowledge
from tests.strategies import CALM
from tests.visit import MEASURED, Visit, begin, of, said

tenths = st.integers(-100, 200).map(lambda n: n / 10)


@pytest.fixture
def visit(tiny_knowledge: Knowledge, tmp_path: Path) -> Visit:
    """A visit with both sides measured: left 3 3.5 3.5, right 9 9 9.5."""
    made = begin(tiny_knowledge, tmp_path)
    made.script(*MEASURED)
    return made


def test_a_goal_in_numbers_is_recorded_and_the_latest_stands(visit: Visit) -> None:
    assert "goal: knee to wall left 8 cm: ladders" in " ".join(visit.script("aim ktw L 80mm: ladders"))
    visit.script("aim ktw L 7")
    both = [GoalSet("knee_to_wall", "left", 8.0, "ladders"), GoalSet("knee_to_wall", "left", 7.0)]
    assert of(visit.events, GoalSet) == both
    (goal,) = visit.sitting.state.goals
    assert goal.value == 7.0
    assert "goal: knee to wall left 7" in " ".join(visit.script("timeline"))


def test_a_goal_that_cannot_be_is_refused(visit: Visit) -> None:
    assert visit.submit(SetGoal("knee_to_wall", 99.0, "left")).refused
    before = len(visit.events)
    assert "not possible" in said(visit.submit(SetGoal("knee_to_wall", 99.0)))
    assert len(visit.events) == before


def test_sides_that_look_exchanged_are_asked_about(visit: Visit) -> None:
    visit.script("close")
    visit.clock.wait(days=7)
    visit.submit(OpenVisit())
    visit.submit(Measure("knee_to_wall", (9.0, 9.0, 9.2), "left"))
    assert "exchanged" in said(visit.submit(Measure("knee_to_wall", (3.2, 3.4, 3.4), "right")))
    assert "exchanged" not in said(visit.submit(Measure("knee_to_wall", (9.0, 9.2, 9.4), "right")))


def test_a_gain_that_is_none_is_said_at_once(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    rule = {"measure": "knee_to_wall", "of": "side_difference", "below": -2}
    lunge = replace(tiny_knowledge.measures["knee_to_wall"], watch=({"when": rule, "say": "More is no gain here."},))
    knowledge = replace(tiny_knowledge, measures={**tiny_knowledge.measures, "knee_to_wall": lunge})
    made = begin(knowledge, tmp_path)
    made.script(*MEASURED)
    assert "More is no gain" in said(made.submit(Measure("knee_to_wall", (12.0, 12.0, 12.0), "left")))
    assert "More is no gain" not in said(made.submit(Measure("knee_to_wall", (5.0, 5.0, 5.0), "left")))


@CALM
@given(tenths, tenths, tenths, tenths, st.floats(0.5, 4))
def test_the_question_is_the_same_seen_from_either_side(a: float, b: float, c: float, d: float, mdc: float) -> None:
    assert look_exchanged((a, b), (c, d), mdc) == look_exchanged((b, a), (d, c), mdc)
    assert not look_exchanged((a, b), (a, b), mdc)
    if abs(a - b) > 2 * mdc:
        assert look_exchanged((a, b), (b, a), mdc)
