"""Snapshots: strict, every problem with its line, nothing ignored; what is said means what the interface says."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.case.state import CaseState
from reasoner.consult.snapshot import read_snapshot, state_of
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused, Problem
from tests.build import NOW


def read(text: str, knowledge: Knowledge, tmp_path: Path) -> CaseState:
    """The state a snapshot text describes."""
    path = tmp_path / "snapshot.yaml"
    path.write_text(text, encoding="utf-8")
    return state_of(read_snapshot(path), knowledge, NOW)


def refused(text: str, knowledge: Knowledge, tmp_path: Path) -> list[Problem]:
    """Its problems."""
    with pytest.raises(InputRefused) as caught:
        read(text, knowledge, tmp_path)
    return list(caught.value.problems)


WHOLE = """\
region: ankle
context:
  side: left
  age: 34
  sex: female
  setting: after_sprain
  days_since: {injury: 42, symptoms: unknown}
  immobilised: {weeks: 3, position: plantarflexed}
  surgery: none
findings:
  {front_pinch: present, night_pain: absent, swelling: unknown, warmth: {sure: 0.7}, heel_cord_gap: {right: absent}}
measures:
  - {measure: knee_to_wall, side: left, tool: tape, values: [4.0, 4.5, 4.5]}
  - {measure: knee_to_wall, side: right, tool: finger_widths, values: [6]}
"""


def test_the_documented_example_is_read(knowledge: Knowledge, tmp_path: Path) -> None:
    """Every form of the fixed interface: sides, sureness, unknown, none, an alias of a tool's unit."""
    state = read(WHOLE, knowledge, tmp_path)
    said = {(a.finding, a.side): (a.value, a.sure) for a in state.answers}
    assert said["front_pinch", "left"] == ("present", None)
    assert said["swelling", "left"] == ("unknown", None)
    assert said["warmth", "left"] == ("present", 0.7)
    assert said["heel_cord_gap", "right"] == ("absent", None)
    assert state.context.days_since["injury"].days == 42
    assert state.context.days_since["symptoms"].days is None
    assert state.context.surgery is not None
    assert state.context.surgery.none
    assert state.measurements[0].values == (4.0, 4.5, 4.5)
    width = next(t.per_unit for t in knowledge.measures["knee_to_wall"].tools if t.id == "finger_widths")
    assert state.measurements[1].values == (6 * width,)


def test_only_the_region_is_needed(knowledge: Knowledge, tmp_path: Path) -> None:
    """Everything else may be missing or unknown."""
    assert read("region: ankle\n", knowledge, tmp_path).answers == ()
    assert read("region: ankle\ncontext: unknown\nfindings: unknown\n", knowledge, tmp_path).answers == ()


@pytest.mark.parametrize(
    ("line", "code", "at"),
    [
        ("contxt: {}", "S-KEY", 2),
        ("context: {side: lft}", "S-VALUE", 2),
        ("context: {age: 340}", "S-VALUE", 2),
        ("context: {setting: after_spain}", "S-NAME", 2),
        ("context: {days_since: {injry: 3}}", "S-NAME", 2),
        ("context: {days_since: {injury: -3}}", "S-VALUE", 2),
        ("context: {surgery: {procedure: achiles_repair}}", "S-NAME", 2),
        ("findings: {front_pinchh: present}", "S-NAME", 2),
        ("findings: {front_pinch: maybe}", "S-VALUE", 2),
        ("findings: {front_pinch: {sure: 1.2}}", "S-VALUE", 2),
        ("findings: {fever: {left: present}}", "S-VALUE", 2),
        ("measures: [{measure: knee_to_wal, side: left, values: [4]}]", "S-NAME", 2),
        ("measures: [{measure: knee_to_wall, side: left, values: [400]}]", "S-RANGE", 2),
        ("measures: [{measure: knee_to_wall, side: left, tool: tpe, values: [4]}]", "S-NAME", 2),
        ("measures: [{measure: knee_to_wall, values: [4]}]", "S-VALUE", 2),
    ],
)
def test_bad_parts_are_named_with_their_line(
    line: str, code: str, at: int, knowledge: Knowledge, tmp_path: Path
) -> None:
    """One clear problem each, on its line, with how to mend it."""
    problems = refused(f"region: ankle\n{line}\n", knowledge, tmp_path)
    assert [(p.code, p.line) for p in problems] == [(code, at)]
    assert problems[0].hint


def test_all_problems_at_once(knowledge: Knowledge, tmp_path: Path) -> None:
    """Nothing stops at the first."""
    text = "region: ankle\ncontext: {side: lft, age: 340}\nfindings: {front_pinchh: present}\n"
    assert len(refused(text, knowledge, tmp_path)) == 3


def test_a_fact_given_twice_under_two_names(knowledge: Knowledge, tmp_path: Path) -> None:
    """The same value is fine, another is refused."""
    name = knowledge.findings["front_pinch"].aliases[0]
    same = f"region: ankle\nfindings: {{front_pinch: present, '{name}': present}}\n"
    assert len(read(same, knowledge, tmp_path).answers) == 1
    other = f"region: ankle\nfindings: {{front_pinch: present, '{name}': absent}}\n"
    assert [p.code for p in refused(other, knowledge, tmp_path)] == ["S-TWICE"]


def test_both_sides_need_a_side(knowledge: Knowledge, tmp_path: Path) -> None:
    """With `side: both` a bare one-sided finding is an error; one about the person is not."""
    bare = "region: ankle\ncontext: {side: both}\nfindings: {front_pinch: present}\n"
    assert [p.code for p in refused(bare, knowledge, tmp_path)] == ["S-SIDE"]
    person = "region: ankle\ncontext: {side: both}\nfindings: {fever: absent}\n"
    assert read(person, knowledge, tmp_path).answers[0].side == "none"


def test_yes_is_refused_with_the_right_words(knowledge: Knowledge, tmp_path: Path) -> None:
    """YAML's own yes is neither text nor an answer here."""
    problems = refused("region: ankle\nfindings: {front_pinch: yes}\n", knowledge, tmp_path)
    assert [p.code for p in problems] == ["Y-WORD"]
    assert "present" in problems[0].hint
