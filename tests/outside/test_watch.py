"""Direction of benefit in context, on the shipped pack: after a heel cord repair more bend is no gain.

Source: elongation of the tendon shows as more dorsiflexion and a lower heel raise (common practice in follow-up).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.consult.commands import Measure, SetContext
from reasoner.graph.knowledge import Knowledge
from tests.visit import begin, said


@pytest.mark.parametrize(
    ("setting", "left", "warned"),
    [("after_achilles", 12.0, True), ("after_achilles", 7.0, False), ("after_sprain", 12.0, False)],
)
def test_more_bend_than_the_other_side_after_a_heel_cord_repair_is_a_warning(
    knowledge: Knowledge, tmp_path: Path, setting: str, left: float, warned: bool
) -> None:
    visit = begin(knowledge, tmp_path)
    visit.submit(SetContext("side", "left"), SetContext("setting", setting), SetContext("age", 40.0))
    visit.submit(Measure("knee_to_wall", (9.0, 9.0, 9.0), "right"))
    told = said(visit.submit(Measure("knee_to_wall", (left,) * 3, "left")))
    assert ("not a gain" in told) == warned
