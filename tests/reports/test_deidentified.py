"""The de-identified trail: nothing that points to a person, by rule."""

from __future__ import annotations

import json
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest

from reasoner.case import events as ev
from reasoner.case.events import Recorded
from reasoner.cli import main
from reasoner.consult.sitting import Sitting
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.script import run_script
from reasoner.reports.deidentified import LEFT_OUT, deidentified
from reasoner.trail.store import Trail
from tests.visit import TREATED, Clock

TELLTALE = "wilhelmina"
START = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)


def filled(kind: type[ev.Event]) -> ev.Event:
    """An event with TELLTALE wherever a text can stand."""
    values: dict[str, Any] = {}
    for name, hint in get_type_hints(kind).items():
        if get_origin(hint) is Literal:
            values[name] = get_args(hint)[0]
        elif hint is bool:
            values[name] = True
        elif hint in (int, float):
            values[name] = 7
        elif get_origin(hint) is tuple:
            values[name] = (TELLTALE, f"{TELLTALE}@left") if get_args(hint)[0] is str else (7.0,)
        else:
            values[name] = TELLTALE if "str" in str(hint) else 7
    return kind(**values)


@pytest.mark.parametrize("name", sorted(ev.EVENT_TYPES))
def test_no_event_lets_a_typed_word_out(knowledge: Knowledge, name: str) -> None:
    event = filled(ev.EVENT_TYPES[name])
    assert TELLTALE in str(event) or not any("str" in str(h) for h in get_type_hints(type(event)).values())
    told = [Recorded(1, START, TELLTALE, TELLTALE, ev.CaseOpened(TELLTALE, "real", "ankle")),
            Recorded(2, START, TELLTALE, "physio", event)]  # fmt: skip
    assert TELLTALE not in deidentified(knowledge, told)


def test_dates_are_days_codes_are_letters_and_the_rest_stays(knowledge: Knowledge) -> None:
    measured = ev.Measured("knee_to_wall", "left", "tape", (3.0, 3.5), setup="heel down, as her sister does")
    told = [
        Recorded(1, START, "KM", "physio", ev.CaseOpened("oak-heron-17", "real", "ankle")),
        Recorded(2, START + timedelta(hours=1), "TK", "mentor", measured),
        Recorded(3, START + timedelta(days=9), "KM", "physio", ev.ContextStated("age", 97)),
        Recorded(4, START + timedelta(days=9), "KM", "physio", ev.Exported("letter", "sha256:ab", 3, "sha256:cd")),
    ]
    head, *lines = map(json.loads, deidentified(knowledge, told).splitlines())
    assert (head["kind"], head["region"]) == ("real", "ankle")
    assert [(one["n"], one["day"], one["by"]) for one in lines] == [
        (1, 0, "clinician-1"), (2, 1, "clinician-2"), (3, 9, "clinician-1"), (4, 9, "clinician-1")
    ]  # fmt: skip
    assert lines[1]["data"] == {"measure": "knee_to_wall", "side": "left", "tool": "tape", "values": [3.0, 3.5]}
    assert lines[2]["data"] == {"name": "age", "value": 90}
    assert lines[3]["data"] == {"document": "letter"}


def test_little_of_a_whole_visit_is_lost(
    tmp_path: Path, tiny_folder: Path, tiny_knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """Every id is kept; what goes is free text and what names machine, person or day."""
    home = tmp_path / "home"
    monkeypatch.setenv("REASONER_HOME", str(home))
    sitting, _ = Sitting.begin(tiny_knowledge, home, "oak-heron-17", "demo", clock=Clock(), by="KM", role="physio")
    lines = (*TREATED, "problem: coming down ladders", "excuse because they had to go", "close")
    run_script(sitting, lines, "visit", lambda page: None)
    out = tmp_path / "out.jsonl"
    command = ["trail", "export", "oak-heron-17", "--by", "KM", "--knowledge", str(tiny_folder)]
    assert main([*command, "--deidentified", "--out", str(out)]) == 0
    text = out.read_text()
    trail = Trail.open(home, "oak-heron-17")
    assert trail.entries[-1].event == "exported"
    assert text.count("\n") == len(trail.entries)  # a line more at its beginning, a line less at its end
    for pointing in ("oak-heron", '"KM"', "2026", "sha256", "ladder", trail.entries[0].knowledge):
        assert pointing not in text, pointing
    lossy = {one["event"] for one in map(json.loads, text.splitlines()[1:]) if LEFT_OUT in json.dumps(one)}
    assert lossy == {"visit_closed"}  # what was still open, in words of the program that may quote others
    assert out.stat().st_mode & 0o077 == 0
    capsys.readouterr()
    assert main(command) == 2
    assert "--deidentified" in capsys.readouterr().err


def test_every_field_of_every_event_was_looked_at(knowledge: Knowledge) -> None:
    """`filled` really puts the telltale into each text field; an event type with a new kind of field fails here."""
    for kind in ev.EVENT_TYPES.values():
        event = filled(kind)
        for field in fields(kind):
            hint = str(get_type_hints(kind)[field.name])
            if "str" in hint and "Literal" not in hint:
                assert TELLTALE in str(getattr(event, field.name)), (kind, field.name)
