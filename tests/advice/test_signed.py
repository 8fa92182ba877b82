"""What a clinic signed for as looser is said where it bites: at the opening, at the option, at the screen.

The small pack's fixation protocol shuts the end range until week 8; the clinic signs for week 6.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.advice.advise import advise
from reasoner.advice.signed import signed_lines
from reasoner.case.state import Anchor, CaseState, Context, Surgery, Visit
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.upkeep.states import made_states
from tests.build import NOW
from tests.graph.test_overlay import SIGNED, clinic
from tests.tiny_pack import write_pack

PUSH = "id: push\nname: push to the end\nlane: due\nload_classes: [end_range_dorsiflexion]\n"
WINDOW = "changes: fixation\nwindows: {end_range_dorsiflexion: {later_weeks: 6}}\n" + SIGNED
SAID = "looser here than shipped (fixation), signed by lead physio until 2027-01-01: our films"


def ours(tmp_path: Path, files: dict[str, str], today: str = "2026-06-01") -> Knowledge:
    base = write_pack(tmp_path / "base", {"ankle/options/push.yaml": PUSH})
    knowledge, problems = load(base, "ankle", clinic=clinic(files, today))
    assert knowledge is not None, problems
    return knowledge


def reasons(knowledge: Knowledge, procedure: str | None) -> tuple[str, ...]:
    """Why the push to the end stands as it does, fifty days after an operation (or none); everything else denied."""
    calm = next(m.state for m in made_states(knowledge) if m.words == "everything denied")
    surgery = Surgery(none=True) if procedure is None else Surgery(procedure=procedure, orders="known")
    days = {name: Anchor(None, NOW, none=True) for name in ("injury", "cast_off", "union_on_film", "surgery")}
    days |= {} if procedure is None else {"surgery": Anchor(50, NOW)}
    context = Context(
        side="left", age=40.0, sex="female", setting="not_stated", days_since=days, surgery=surgery,
        immobilised=calm.context.immobilised,
    )  # fmt: skip
    answers = tuple(replace(a, at=NOW) for a in calm.answers)
    state: CaseState = replace(calm, context=context, answers=answers, visits=(Visit(1, NOW),))
    (option,) = (o for o in advise(knowledge, state, NOW).options if o.id == "push")
    assert option.state in ("offered", "caution"), option
    return option.reasons


def test_it_is_said_at_the_option_of_the_one_it_is_for(tmp_path: Path) -> None:
    knowledge = ours(tmp_path, {"ankle/protocols/x.yaml": WINDOW})
    assert SAID in reasons(knowledge, "ankle_fracture_fixation")
    assert SAID not in reasons(knowledge, None)


@pytest.mark.parametrize(
    ("file", "patch"),
    [
        ("ankle/screens/x.yaml", "changes: hot_joint\nsend: urgent\n"),
        ("ankle/findings/x.yaml", "changes: fever\nask: A fever above 39?\n"),
    ],
)
def test_it_is_said_at_the_screen(file: str, patch: str, tmp_path: Path) -> None:
    knowledge = ours(tmp_path, {file: patch + SIGNED})
    state = CaseState(case="made", region="ankle", context=Context(), visits=(Visit(1, NOW),))
    (hot,) = (s for s in advise(knowledge, state, NOW).screens if s.id == "hot_joint")
    assert "Looser here than shipped" in hot.not_excluded


def test_every_one_is_said_at_the_opening_also_when_it_has_run_out(tmp_path: Path) -> None:
    files = {"ankle/protocols/x.yaml": WINDOW, "policy.yaml": "changes: policy\nvisit_hours: 24.0\n" + SIGNED}
    lines = signed_lines(ours(tmp_path, files))
    assert len(lines) == 2
    assert f"{SAID[0].upper()}{SAID[1:]}." in lines
    assert any("(policy)" in line for line in lines)
    over = signed_lines(ours(tmp_path, files, today="2027-02-01"))
    assert "Signed until 2027-01-01, which is over: the shipped fixation holds." in over
    assert signed_lines(ours(tmp_path, {})) == ()
