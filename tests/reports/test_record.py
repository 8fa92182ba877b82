"""The JSON export against its published schema; free text looked through; letterhead and templates; the command."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import jsonschema
import pytest

from reasoner.cli import main
from reasoner.commands import load_knowledge
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.reports.dossier import Dossier
from reasoner.reports.letterhead import read_letterhead
from reasoner.reports.make import make
from reasoner.reports.privacy import scan_case, scan_text
from reasoner.reports.record import schema_text
from reasoner.trail.store import Trail
from tests.reports.playing import Played

TODAY = date(2026, 3, 2)


@pytest.mark.parametrize("name", ["simple", "post_surgical", "emergency"])
def test_json_follows_its_schema(cases: dict[str, Dossier], name: str) -> None:
    schema = json.loads(schema_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    data = json.loads(make(cases[name], "json").text)
    assert list(validator.iter_errors(data)) == []
    for spoil in ({"schema": 2}, {"urgency": "soon"}, {"extra": 1}, {"trail": {"count": 0, "head": "x"}}):
        assert list(validator.iter_errors(data | spoil)), spoil


def test_json_tells_the_same_danger_as_the_letter(emergency: Dossier) -> None:
    data = json.loads(make(emergency, "json").text)
    assert data["urgency"] == "emergency"
    assert [s["id"] for s in data["standing"]] == ["joint_infection"]
    assert data["recall"]


# ------------------------------------------------------------------------------------------------ privacy


@pytest.mark.parametrize(
    ("text", "look"),
    [
        ("write to a.b@example.org please", "a mail address"),
        ("ring 0171 555 01 23 after six", "a telephone or record number"),
        ("ring +44 (0)20 7946 0000", "a telephone or record number"),
        ("born 3.4.1961", "a birth date"),
        ("dob: 03/04/61", "a birth date"),
        ("patient of 12.05.1958", "a birth date"),
        ("seen with Mrs Example", "a name"),
        ("his wife Anna drives", "a name"),
        ("read by Dr Example", "a name"),
        ("the man called Example came", "a name"),
    ],
)
def test_what_names_a_person_is_found(text: str, look: str) -> None:
    assert look in {s.looks_like for s in scan_text(text, "here", today=TODAY) if s.sure}


@pytest.mark.parametrize(
    "text",
    [
        "3 x 60 s, twice a day, 10 to 15 repetitions, RPE 6/10", "sprain on 19.1.2026, film 20.1.2026",
        "walk the dog on the hill; 10 000 steps", "Achilles tendon, Ottawa rule, Monday morning",
        "5/10, settles in 5 min", "ladder work 8 h, lifts 25 kg",
    ],
)  # fmt: skip
def test_trade_talk_is_not_refused(text: str) -> None:
    assert [s for s in scan_text(text, "here", today=TODAY) if s.sure] == []


def test_two_capitals_are_only_a_warning(knowledge: Knowledge, simple: Dossier) -> None:
    assert [s.sure for s in scan_text("he met John Example there", "x", today=TODAY)] == [False]
    assert scan_case(knowledge, simple.state, TODAY) == ()


# ------------------------------------------------------------------------------------------------ letterhead


def test_a_letterhead_and_a_template_of_the_clinics_own(tmp_path: Path, simple: Dossier) -> None:
    (tmp_path / "templates").mkdir()
    (tmp_path / "letterhead.toml").write_text('phone = "555 0199"\n', encoding="utf-8")
    (tmp_path / "templates" / "letter.txt.j2").write_text("OURS {{ doc.title }}\n", encoding="utf-8")
    clinic = read_letterhead(tmp_path, asked=True)
    assert clinic.phone == "555 0199"
    d = replace(simple, clinic=clinic)
    assert "OURS Report: right ankle or foot" in make(d, "letter").text
    assert "Visit note" in make(d, "note").text  # not theirs: the shipped one


BROKEN = ("{{ doc.nothing }}", "{% for %}", "{{ 1/0 }}", "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}")
HOSTILE = (
    "{{ doc.__class__.__mro__ }}", "{{ ''.__class__.__base__.__subclasses__() }}", "{{ doc|attr('__class__') }}",
    "{{ doc['__class__'] }}", "{{ '{0.__class__.__init__.__globals__}'.format(doc) }}",
    "{{ cycler.__init__.__globals__.os.popen('id').read() }}", "{{ lipsum.__globals__ }}",
    "{{ self.__init__.__globals__ }}", "{{ joiner.__init__.__code__ }}", "{{ (lambda: 1).__globals__ }}",
    "{% include '../secret.txt' %}", "{% include '/etc/passwd' %}", "{% import 'os' as os %}{{ os }}",
    "{{ config }}", "{{ open('secret.txt') }}", "{{ doc.sections.append(1) }}", "{{ range(10**9) | list | length }}",
    "{{ 'a' * 10**10 }}", "{{ 10 ** 10 ** 10 }}", "{{ '%1000000000d' % 1 }}", "{{ namespace.__init__.__globals__ }}",
)  # fmt: skip


@pytest.mark.parametrize("template", [*BROKEN, *HOSTILE])
def test_a_bad_template_is_one_problem_and_reaches_nothing(tmp_path: Path, simple: Dossier, template: str) -> None:
    (tmp_path / "secret.txt").write_text("TOP SECRET", encoding="utf-8")
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "note.txt.j2").write_text(template, encoding="utf-8")
    d = replace(simple, clinic=read_letterhead(tmp_path, asked=True))
    with pytest.raises(InputRefused, match="R-TEMPLATE") as refused:
        make(d, "note")
    assert len(refused.value.problems) == 1
    assert "SECRET" not in str(refused.value)


def test_a_template_sees_the_document_and_no_case(tmp_path: Path, simple: Dossier) -> None:
    """What a template can name: the document, and functions that make lists and text."""
    (tmp_path / "templates").mkdir()
    names = "doc, state, dossier, knowledge, trail, home, environment, request, config, os"
    told = "".join(f"{n}={{{{ {n} is defined }}}} " for n in names.split(", "))
    (tmp_path / "templates" / "note.txt.j2").write_text(told, encoding="utf-8")
    made = make(replace(simple, clinic=read_letterhead(tmp_path, asked=True)), "note").text
    assert "doc=True" in made
    assert made.count("=True") == 1


@pytest.mark.parametrize(
    ("toml", "says"),
    [('fone = "1"', "no such entry"), ("phone = 5", "not a line of text"), ('paper = "A5"', "A4 or Letter"),
     ("phone =", "cannot be read")],
)  # fmt: skip
def test_a_bad_letterhead_is_one_problem(tmp_path: Path, toml: str, says: str) -> None:
    (tmp_path / "letterhead.toml").write_text(toml, encoding="utf-8")
    with pytest.raises(InputRefused, match=says):
        read_letterhead(tmp_path, asked=True)


# ------------------------------------------------------------------------------------------------ the command


@pytest.fixture(scope="session")
def with_a_case(knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A state folder with one case and the knowledge kept from a first start, to be copied."""
    state = tmp_path_factory.mktemp("state")
    Played(knowledge, state, "oak-11").play("simple")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REASONER_HOME", str(state))
        load_knowledge()
    return state


@pytest.fixture
def home(with_a_case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A state folder of its own with that case."""
    state = tmp_path / "state"
    shutil.copytree(with_a_case, state)
    monkeypatch.setenv("REASONER_HOME", str(state))
    monkeypatch.setenv("REASONER_BY", "KM")
    return state


def events(home: Path) -> list[str]:
    return [e.event for e in Trail.open(home, "oak-11").entries]


def test_looking_records_nothing_and_handing_out_does(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = events(home)
    assert main(["report", "oak-11"]) == 0
    assert main(["report", "oak-11", "--as", "letter", "--preview"]) == 0
    assert events(home) == before
    out = tmp_path / "sheet.html"
    assert main(["report", "oak-11", "--as", "home", "--format", "html", "--out", str(out)]) == 0
    assert events(home) == [*before, "exported"]
    assert out.stat().st_mode & 0o077 == 0
    capsys.readouterr()
    assert main(["report", "oak-11", "--as", "home", "--out", str(out)]) == 2
    assert "it is already there" in capsys.readouterr().err
    assert main(["trail", "verify", "--all"]) == 0


def test_the_digest_is_that_of_the_bytes(home: Path, tmp_path: Path) -> None:
    import hashlib

    out = tmp_path / "letter.txt"
    assert main(["report", "oak-11", "--as", "letter", "--out", str(out)]) == 0
    told = Trail.open(home, "oak-11").entries[-1].payload["digest"]
    assert told == "sha256:" + hashlib.sha256(out.read_bytes()).hexdigest()


def test_a_name_in_free_text_keeps_it_in(
    home: Path, knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    Played(knowledge, home, "elm-12").lines("left", "note seen with Mrs Example, 0171 555 01 23")
    assert main(["report", "elm-12", "--as", "note"]) == 2
    err = capsys.readouterr().err
    assert "R-PRIVACY" in err
    assert "Example" not in err
    assert main(["report", "elm-12", "--as", "note", "--free-text-read"]) == 0


def test_an_invented_case_played_ahead_of_the_clock_can_be_handed_out(
    home: Path, knowledge: Knowledge, tmp_path: Path
) -> None:
    played = Played(knowledge, home, "elm-13")
    played.clock.wait(days=4000)
    played.play("simple")
    assert main(["report", "elm-13", "--as", "fhir", "--out", str(tmp_path / "case.json")]) == 0
    made = json.loads((tmp_path / "case.json").read_text(encoding="utf-8"))
    assert made["timestamp"] >= made["entry"][0]["resource"]["date"]


def test_a_draft_language_needs_its_flag(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = events(home)
    assert main(["report", "oak-11", "--as", "home", "--language", "de"]) == 2
    assert "--not-reviewed" in capsys.readouterr().err
    assert events(home) == before
    assert main(["report", "oak-11", "--as", "home", "--language", "de", "--not-reviewed"]) == 0


def test_a_bundle_read_back_can_be_considered(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "case.fhir.json"
    assert main(["report", "oak-11", "--as", "fhir", "--out", str(out)]) == 0
    capsys.readouterr()
    assert main(["report", "--read", str(out)]) == 0
    snapshot = tmp_path / "snapshot.json"
    snapshot.write_text(capsys.readouterr().out, encoding="utf-8")
    assert main(["consider", str(snapshot), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["screening_complete"] is True


def test_the_schema_is_published(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "--schema"]) == 0
    assert json.loads(capsys.readouterr().out)["properties"]["schema"] == {"const": 1}


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["report"], "which case"), (["report", "oak-99"], "no case oak-99"),
        (["report", "oak-11", "--as", "poem"], "there is no poem"), (["report", "--read", "/nowhere"], "not there"),
        (["report", "oak-11", "--as", "note", "--letterhead", "/nowhere"], "no such folder"),
    ],
)  # fmt: skip
def test_wrong_input_is_one_line(home: Path, capsys: pytest.CaptureFixture[str], args: list[str], says: str) -> None:
    capsys.readouterr()
    assert main(args) == 2
    err = capsys.readouterr().err
    assert says in err
    assert len(err.strip().splitlines()) == 1
