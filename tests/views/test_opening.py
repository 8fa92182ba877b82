"""The first lines of a case that is opened again: enough to notice the wrong person, too little to name one."""

from __future__ import annotations

from pathlib import Path

from reasoner.graph.knowledge import Knowledge
from reasoner.views.opening import opening
from reasoner.views.render import plain_lines
from reasoner.views.summary import bottom_line
from tests.visit import CALM_CASE, begin


def test_a_case_opened_again_asks_whether_it_is_this_person(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script(*CALM_CASE, "note walks with a stick", "close")
    case = visit.again(tiny_knowledge).sitting.situation
    shown = " ".join(line.strip() for line in plain_lines(opening(case, "ab" * 32, (), new=False)))
    assert "This person? left, after a sprain, age 30s, 2 weeks since injury, last visit 02 Mar. If not: quit" in shown
    assert "INVENTED PATIENT" in shown
    assert "stick" not in shown
    assert bottom_line(case).startswith("INVENTED PATIENT | oak-heron-17 | left | visit 1 closed")
    assert "This person?" not in " ".join(plain_lines(opening(case, "ab" * 32, (), new=True)))
