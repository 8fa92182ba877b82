"""Loading: values, places, digest, and that nothing bad ever raises."""

from __future__ import annotations

import dataclasses
import gc
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, digest_of, load
from tests.tiny_pack import TINY, write_pack


def test_values_are_records(tiny_knowledge: Knowledge) -> None:
    measure = tiny_knowledge.measures["knee_to_wall"]
    assert measure.possible == (-25.0, 25.0)
    assert measure.tools[1].per_unit == 1.7
    assert tiny_knowledge.hypotheses["talus_back_glide"].base_rate["after_sprain"].word == "often"
    assert tiny_knowledge.screens["hot_joint"].rule == {"at_least": 2, "of": ["fever", "joint_hot_red"]}
    assert tiny_knowledge.finding_names["pinch at the front"] == "front_pinch"
    with pytest.raises(dataclasses.FrozenInstanceError):
        measure.unit = "mm"  # type: ignore[misc]


def test_records_remember_file_and_line(tiny_knowledge: Knowledge) -> None:
    name = "ankle/findings/story.yaml"
    place = tiny_knowledge.findings["front_pinch"].place
    lines = TINY[name].splitlines()
    assert place.file == name
    assert lines[place.line - 1] == "- id: front_pinch"
    assert lines[place.at("leak", "word") - 1] == "  leak: {word: seldom, basis: practice}"
    assert lines[place.at("leak", "no such key") - 1] == "  leak: {word: seldom, basis: practice}"
    assert place.at("nothing", "like", "it") == place.line


def test_digest_covers_names_and_bytes_and_nothing_else(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    again, _ = load(write_pack(tmp_path))
    assert again is not None
    assert again.digest == tiny_knowledge.digest == digest_of({n: t.encode() for n, t in TINY.items()})
    assert len(again.digest) == 64
    base = {"a": b"1", "b": b"2"}
    others = [{"a": b"1", "b": b"3"}, {"a": b"1", "c": b"2"}, {"a": b"12", "b": b""}, {"a": b"1"}]
    assert len({digest_of(files) for files in [base, *others]}) == 5
    assert digest_of(dict(reversed(base.items()))) == digest_of(base)


def test_collector_runs_again_after_loading(tiny_folder: Path) -> None:
    assert gc.isenabled()
    load(tiny_folder)
    assert gc.isenabled()


def test_default_folder_is_the_working_tree() -> None:
    assert default_folder() == Path(__file__).parents[2] / "knowledge"


def test_problems_are_sorted_and_all_there(tmp_path: Path) -> None:
    changes: dict[str, str | None] = {
        "ankle/options/calf_stretch.yaml": TINY["ankle/options/calf_stretch.yaml"].replace("often", "oftn"),
        "ankle/findings/more.yaml": "- id: x\n  name: no\n  kind: tld\n  minutes: 3 min\n",
        "ankle/screens/more.yaml": "id: y\nname: [\n",
    }
    knowledge, problems = load(write_pack(tmp_path, changes))
    assert knowledge is None
    assert [(p.file.split("/", 1)[1], p.line, p.code) for p in problems] == [
        ("findings/more.yaml", 2, "Y-WORD"),
        ("findings/more.yaml", 3, "S-CHOICE"),
        ("findings/more.yaml", 4, "S-NUMBER"),
        ("options/calf_stretch.yaml", 8, "K-WORD"),
        ("screens/more.yaml", 3, "Y-SYNTAX"),
    ]


def test_a_reference_to_a_broken_record_is_not_unknown_as_well(tmp_path: Path) -> None:
    name = "ankle/measures/range.yaml"
    _, problems = load(write_pack(tmp_path, {name: TINY[name].replace("unit: cm", "unit: 3")}))
    assert [(p.code, p.line) for p in problems] == [("S-TEXT", 3)]


# notation found in papers and guidelines -> what the message must tell the writer
@pytest.mark.parametrize(
    ("written", "advice"),
    [
        ("6–12", "range: [low, high]"),
        ("6-12", "range: [low, high]"),
        ("6 to 12", "range: [low, high]"),
        ('"≥ 6"', "at_least:"),
        ("< 6", "below:"),
        ("3,5", "decimal point: 3.5"),
        ("35 %", "35 % is 0.35"),
        ("6 cm", "leave the unit out: 6"),
        ("12°", "leave the unit out: 12"),
        ('"6"', "take the quotes off: 6"),
        ("six", "write a number"),
    ],
)
def test_numbers_written_another_way(written: str, advice: str, tmp_path: Path) -> None:
    extra = f"id: wait\nname: wait\nlane: due\nload_classes: [education]\nminutes: {written}\n"
    (problem,) = load(write_pack(tmp_path, {"ankle/options/wait.yaml": extra}))[1]
    assert (problem.code, problem.line) == ("S-NUMBER", 5)
    assert advice in problem.hint


def test_a_slip_in_a_key_names_the_nearest(tmp_path: Path) -> None:
    extra = "id: wait\nname: wait\nlane: due\nload_class: [education]\n"
    problems = load(write_pack(tmp_path, {"ankle/options/wait.yaml": extra}))[1]
    assert ("S-KEY", 4, "write load_classes") in [(p.code, p.line, p.hint) for p in problems]


snippets = st.sampled_from(
    ["", "no", "3", "-1", "[]", "{}", "[3]", "x: y", "null", "{a: {b: 1}}", "{not: 3}", "{all: x}", "{suspected: [a]}",
     "{score: {items: 3}}", "{at_least: 2, of: [a]}", "{measure: x}", "{setting: {a: 1}}", "[[a]]", "'", "012",
     "{days_since: [injury], below: 3}", "{competence: {}}", "{immobilised: []}", "{screen: hot_joint}"]
)  # fmt: skip


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_whatever_is_written_nothing_raises(tmp_path: Path, data: st.DataObject) -> None:
    """One value of one file of a valid pack is replaced: problems come back, with the file, never an exception."""
    name = data.draw(st.sampled_from(sorted(TINY)))
    lines = TINY[name].splitlines()
    number = data.draw(st.integers(0, len(lines) - 1))
    key, colon, _ = lines[number].partition(": ")
    lines[number] = (key + colon if colon else "") + data.draw(snippets)
    folder = tmp_path / "pack"
    shutil.rmtree(folder, ignore_errors=True)
    knowledge, problems = load(write_pack(folder, {name: "\n".join(lines) + "\n"}))
    assert (knowledge is None) == any(p.level == "error" for p in problems)
    for problem in problems:
        assert problem.file
        assert problem.message


def test_shipped_knowledge_has_no_problem() -> None:
    knowledge, problems = load(default_folder())
    assert problems == []
    assert knowledge is not None
