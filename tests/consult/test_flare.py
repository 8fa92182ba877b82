"""Worse after the last visit: over a day a lower dose, over three or swollen anew the picture afresh."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.case import events as ev
from reasoner.consult import commands as c
from reasoner.graph.knowledge import Knowledge
from tests.visit import MEASURED, TREATED, Visit, begin, of, said


@pytest.fixture
def second(tiny_knowledge: Knowledge, knowledge: Knowledge, tmp_path: Path) -> Visit:
    """The visit after a treatment, with everything asked and measured again; how it was meanwhile is not said yet."""
    visit = begin(replace(tiny_knowledge, policy=knowledge.policy), tmp_path)
    visit.script(*TREATED, "excuse because out of time", "close")
    visit.clock.wait(days=7)
    visit.script("new visit", *MEASURED[1:])
    return visit


def lacks(visit: Visit, dose: str) -> str:
    """What giving the same technique at this dose is refused with; empty where it is recorded."""
    outcome = visit.submit(c.Consent("back_glide", "given"), c.Treat("back_glide", dose))
    return said(outcome) if outcome.refused else ""


@pytest.mark.parametrize(
    ("told", "dose", "lacking"),
    [
        # 24 and 72 hours: knowledge/policy.yaml, visit_rules (common practice); "over" them, not from them on
        ("flare no", "", ""), ("flare 24 h", "", ""), ("flare 25 h", "", "what lower dose is given?"),
        ("flare 25 h", "2x30 s", ""), ("flare 72 h", "2x30 s", ""), ("flare 73 h", "2x30 s", "reassess first"),
        ("flare 1 h, new swelling", "2x30 s", "reassess first"), ("flare no, new swelling", "", "reassess first"),
    ],
)  # fmt: skip
def test_how_long_it_flared_decides_what_has_to_come_first(
    told: str, dose: str, lacking: str, second: Visit
) -> None:
    second.script(told)
    refused = lacks(second, dose)
    assert lacking in refused
    assert bool(refused) == bool(lacking)


def test_afresh_is_irritability_and_a_plan_both_stated_after_the_flare(second: Visit) -> None:
    second.script("irritability stairs, much, 2/10, 5 min", "exam must ktw; active only", "flare 4 days")
    assert "reassess first" in lacks(second, "2x30 s")  # both were said before it was told
    second.script("irritability stairs, some, 5/10, 5 min")
    assert "reassess first" in lacks(second, "2x30 s")
    second.script("exam must ktw; active only")
    assert lacks(second, "2x30 s") == ""
    assert len(of(second.events, ev.Treated)) == 2
