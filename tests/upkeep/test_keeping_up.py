"""What is due, where the knowledge is thin, and the graph drawn: on the small invented pack."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.graph.drawing import drawn
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.upkeep.coverage import coverage, coverage_lines
from reasoner.upkeep.due import due
from tests.graph.test_overlay import SIGNED, clinic
from tests.tiny_pack import TINY, write_pack


def with_review(tmp_path: Path, day: str) -> Knowledge:
    name = "ankle/evidence/a-study.yaml"
    folder = write_pack(tmp_path, {name: TINY[name] + f'review_by: "{day}"\n'})
    knowledge, problems = load(folder)
    assert knowledge is not None, problems
    return knowledge


@pytest.mark.parametrize(
    ("day", "expected"),
    [("2026-03-01", ["a-study"]), ("2026-05-30", ["a-study"]), ("2026-06-02", []), ("2026-05", ["a-study"]), ("", [])],
)
def test_evidence_is_due_by_its_day(day: str, expected: list[str], tmp_path: Path) -> None:
    """90 days from 2 March 2026 is 31 May; a month counts to its last day."""
    found = due(with_review(tmp_path, day), date(2026, 3, 2), 90)
    assert [d.id for d in found if d.what == "evidence"] == expected


def test_signatures_are_due(tmp_path: Path) -> None:
    text = "changes: hot_joint\nsend: urgent\n" + SIGNED
    knowledge, _ = load(write_pack(tmp_path), "ankle", clinic=clinic({"ankle/screens/x.yaml": text}))
    assert knowledge is not None
    found = [d for d in due(knowledge, date(2026, 12, 1), 60) if d.what == "signature"]
    assert [(d.when, d.id) for d in found] == [("2027-01-01", "hot_joint")]
    assert due(knowledge, date(2026, 3, 1), 60) == ()


def test_coverage_of_the_small_pack(tiny_knowledge: Knowledge) -> None:
    found = coverage(tiny_knowledge)
    assert found["lists"] == {"must_not_miss": 1, "limits": 2}
    assert found["screens_without_source"] == ["hot_joint"]
    assert found["measures_without_error"] == ["pain_at_sign", "function_score"]
    assert found["no_reference_standard"] == ["short_calf", "talus_back_glide"]
    assert all(len(line) <= 80 for line in coverage_lines(found))


def test_the_graph_as_a_tree(tiny_knowledge: Knowledge) -> None:
    text = drawn(tiny_knowledge, "talus_back_glide", "tree", 1)
    assert text is not None
    before, after = text.split("leads to")
    assert "finding front_pinch" in before
    assert "option back_glide" in after


@pytest.mark.parametrize(("form", "first", "edge"), [("dot", "digraph", "->"), ("mermaid", "graph LR", "-->")])
def test_the_graph_for_other_programs(form: str, first: str, edge: str, tiny_knowledge: Knowledge) -> None:
    text = drawn(tiny_knowledge, "talus_back_glide", form, 1)
    assert text is not None
    assert text.startswith(first)
    assert edge in text
    assert "talus does not glide back" in text


def test_commands_print_and_refuse(tiny_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (["due"], ["coverage"], ["graph", "fracture"], ["coverage", "--json"], ["due", "--json"]):
        assert main(["--knowledge", str(tiny_folder), "knowledge", *words]) == 0
    capsys.readouterr()
    assert main(["--knowledge", str(tiny_folder), "knowledge", "graph", "fractur"]) == 2
    assert "did you mean fracture" in capsys.readouterr().err
