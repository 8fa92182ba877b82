"""General words ("heel pain"): understood, never asked, and silent once a nearer finding is there or measured."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reasoner.advice.questions import open_questions
from reasoner.advice.side import side_views
from reasoner.case.state import Measurement, Side
from reasoner.facts.facts import Facts
from reasoner.facts.observations import observed
from reasoner.graph.knowledge import Knowledge
from tests.advice.ready import ready
from tests.build import NOW


def seen(knowledge: Knowledge, answers: dict[str, str], measured: bool = False) -> set[str]:
    """Findings that carry weight on the left."""
    taken = (_lunge("left", 4.0), _lunge("right", 9.0)) if measured else ()
    state = replace(ready(knowledge, answers), measurements=taken)
    return set(observed(Facts(knowledge, state, NOW, "left"), "left"))


def _lunge(side: Side, value: float) -> Measurement:
    return Measurement(measure="knee_to_wall", side=side, tool="tape", values=(value,), seq=900)


@pytest.mark.parametrize("nearer", ["pain_heel_back", "pain_heel_sole"])
def test_a_nearer_finding_takes_the_place_of_the_general_word(knowledge: Knowledge, nearer: str) -> None:
    assert "pain_heel" in seen(knowledge, {"pain_heel": "present"})
    assert "pain_heel" in seen(knowledge, {"pain_heel": "present", nearer: "absent"})
    assert "pain_heel" not in seen(knowledge, {"pain_heel": "present", nearer: "present"})


def test_a_measurement_takes_the_place_of_the_eye(knowledge: Knowledge) -> None:
    assert "dorsiflexion_less" in seen(knowledge, {"dorsiflexion_less": "present"})
    assert "dorsiflexion_less" not in seen(knowledge, {"dorsiflexion_less": "present"}, measured=True)


def test_a_general_word_is_never_asked(knowledge: Knowledge) -> None:
    """The nearer question is."""
    _, views = side_views(knowledge, ready(knowledge, {}), NOW)
    asked = {q.id for q in open_questions(views[0])}
    assert asked & {"pain_heel_back", "pain_heel_sole"}
    assert not asked & {f.id for f in knowledge.findings.values() if f.general_for}
