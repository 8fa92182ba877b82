"""Taking up a practice case."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.practice.begin import MovedClock, begin, take_up
from reasoner.problems import InputRefused
from reasoner.trail.store import Trail
from tests.practice.players import scenario
from tests.visit import START


def test_a_practice_visit_somebody_else_has_open_is_not_taken_up(knowledge: Knowledge, tmp_path: Path) -> None:
    played = scenario("hill_walker", knowledge)
    clock = MovedClock(lambda: START)
    begin(knowledge, tmp_path, "oak-heron-17", played, "digest", 1, clock=clock, by="KM", role="physio")
    before = len(Trail.open(tmp_path, "oak-heron-17").entries)
    with pytest.raises(InputRefused, match="is open, by KM") as refused:
        take_up(knowledge, Trail.open(tmp_path, "oak-heron-17"), played, clock=clock, by="LS", role="physio")
    assert "--by" in refused.value.problems[0].hint
    assert len(Trail.open(tmp_path, "oak-heron-17").entries) == before
    again, _ = take_up(knowledge, Trail.open(tmp_path, "oak-heron-17"), played, clock=clock, by="KM", role="physio")
    assert again.state.visits[-1].clinician == "KM"
