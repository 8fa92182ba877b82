"""The set-up of a measure is shown with the question and asked for where a number comes without it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.case.events import Measured
from reasoner.consult.agenda import next_ask
from reasoner.consult.commands import Measure, OpenVisit
from reasoner.consult.setting_up import setup_wanted
from reasoner.graph.knowledge import Knowledge
from tests.visit import CALM_CASE, Visit, begin, of, said

KEEP = ("heel held down", "arch not let down", "knee over the second toe")


@pytest.fixture
def visit(tiny_knowledge: Knowledge, tmp_path: Path) -> Visit:
    """A calm case whose lunge names what to keep the same."""
    lunge = replace(tiny_knowledge.measures["knee_to_wall"], setup=KEEP)
    made = begin(replace(tiny_knowledge, measures={**tiny_knowledge.measures, "knee_to_wall": lunge}), tmp_path)
    made.script(*CALM_CASE)
    return made


def test_a_number_without_its_set_up_is_asked_for_it_once(visit: Visit) -> None:
    told = said(visit.submit(Measure("knee_to_wall", (3.0, 3.5), "left")))
    assert "set-up not said (heel held down; arch not let down; knee over the second toe)" in told
    assert "set-up" not in said(visit.submit(Measure("knee_to_wall", (9.0, 9.0), "right")))


def test_said_with_the_numbers_it_is_recorded_and_not_asked(visit: Visit) -> None:
    told = " ".join(visit.script("ktw L 3 3.5 heel down R 9 9"))
    assert "set-up not said" not in told
    assert {m.setup for m in of(visit.events, Measured)} == {"heel down"}  # type: ignore[attr-defined]


def test_undone_and_typed_again_it_is_recorded(visit: Visit) -> None:
    visit.script("ktw L 3 3.5", "undo", "ktw L 3 3.5 heel down")
    (taken,) = visit.sitting.state.measurements
    assert taken.setup == "heel down"


def test_the_next_visit_is_told_how_it_was_last_time(visit: Visit) -> None:
    visit.script("ktw L 3 3.5 heel down arch", "close")
    visit.clock.wait(days=7)
    visit.submit(OpenVisit())
    assert "set-up not said (on visit 1 it was: heel down arch)" in said(
        visit.submit(Measure("knee_to_wall", (4.0, 4.0), "left"))
    )


def test_the_question_says_what_to_keep(visit: Visit) -> None:
    visit.script("problem: stairs", "signs ktw: coming down stairs")
    seen = set()
    while (ask := next_ask(visit.sitting.situation, seen)) is not None and ask.id not in seen:
        if ask.id == "measure.knee_to_wall":
            assert ask.more == ("keep, and say after the numbers: " + "; ".join(KEEP),)
            return
        seen.add(ask.id)
    pytest.fail("the lunge was never asked for")


def test_what_is_told_in_numbers_has_no_set_up(knowledge: Knowledge) -> None:
    for record in knowledge.measures.values():
        assert bool(setup_wanted(record)) == (record.kind in ("range", "girth", "balance", "strength"))
