"""A pack whose conditions shift base rates and whose variants exclude each other, through everything advice does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reasoner.advice.advise import advise
from reasoner.advice.side import side_views
from reasoner.advice.why import why
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Shift
from tests.advice.ready import ready
from tests.build import NOW
from tests.oracles import by_library


@pytest.fixture(scope="module")
def linked(knowledge: Knowledge) -> Knowledge:
    """The shipped pack with two links of our own making, for the test alone; no clinical claim."""
    known = dict(knowledge.hypotheses)
    worn = Shift(by="ankle_osteoarthritis", odds_ratio=4.0, basis="practice")
    known["front_bony_block"] = replace(known["front_bony_block"], shifted_by=(worn,))
    for one in ("lateral_ligament_sprain", "medial_ligament_injury"):
        known[one] = replace(known[one], one_of="ligament", base_rate={
            setting: replace(figure, value=0.2, word=None, range=None, evidence=(), derived="", basis="practice")
            for setting, figure in known[one].base_rate.items()
        })  # fmt: skip
    return replace(knowledge, hypotheses=known)


ANSWERS = {"front_pinch": "present", "swelling": "present", "morning_stiffness": "present", "grinds": "absent"}


def test_beliefs_equal_the_library(linked: Knowledge) -> None:
    (view,) = side_views(linked, ready(linked, ANSWERS), NOW)[1]
    believed = view.beliefs
    assert believed.network.coupling is not None
    assert believed.network.coupling.states == 6
    assert not believed.posterior.approximate
    assert believed.posterior.chance == pytest.approx(by_library(believed.network, believed.evidence.weights), abs=1e-9)


def test_advice_is_whole(linked: Knowledge) -> None:
    """Questions, options, draws and the stop line are worked out as ever; variants together stay below 1."""
    advice = advise(linked, ready(linked, ANSWERS), NOW)
    assert advice.questions
    assert advice.drawn
    assert not advice.approximate
    assert any(o.value is not None for o in advice.options)
    variants = [h.chance for h in advice.hypotheses if linked.hypotheses[h.id].one_of == "ligament"]
    assert len(variants) == 2
    assert sum(variants) <= 1


def test_why_names_them(linked: Knowledge) -> None:
    case = ready(linked, ANSWERS)
    (driven,) = why(linked, case, NOW, "front_bony_block")
    (base,) = (s for s in driven.sections if s.title == "base rate")
    name = linked.hypotheses["ankle_osteoarthritis"].name
    assert any(row[0] == f"where there is {name}" and row[1].startswith("odds times 4") for row in base.rows)
    (variant,) = why(linked, case, NOW, "lateral_ligament_sprain")
    (base,) = (s for s in variant.sections if s.title == "base rate")
    assert ("never together with", linked.hypotheses["medial_ligament_injury"].name) in base.rows
