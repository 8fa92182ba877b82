"""Foreign text in a record: nothing in it reaches a terminal, a page, a drawing or a table as more than letters."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from reasoner.case.codec import encode as encode_event
from reasoner.cli import main
from reasoner.graph.knowledge import Knowledge
from reasoner.trail.store import Stamp, Trail
from reasoner.visible import visible
from tests.visit import TREATED, begin

CASE = "oak-heron-17"
PLAIN = "plainwords"
# clears the screen, sets the title, C1 control, turns reading round, ends a tag, runs a script, begins a formula, ...
HOSTILE = (
    "=HYPERLINK(1)\x1b[2J\x1b]0;title\x07\x9b31m\u202eabc\u2066\u200b\u2028<script>alert(1)</script>"
    "\"' onload=x |*b* [a](javascript:x) {{ 7*7 }}\r\n# heading\x7f\ufeff"
)
HARMFUL = re.compile("[\x00-\x08\x0b\x0e-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]")
LINES = (
    *TREATED, "retest function 5, ktw L 4.5 4.5 5, pain at the sign 3", f"problem: {PLAIN}", f"goal: {PLAIN}",
    f"conclusion: {PLAIN}", f"plan: {PLAIN}", f"return if: {PLAIN}",
)  # fmt: skip


def hostile(value: Any) -> Any:
    """The same value with every plain word made hostile."""
    if isinstance(value, str):
        return value.replace(PLAIN, HOSTILE)
    if isinstance(value, Mapping):
        return {k: hostile(v) for k, v in value.items()}
    return [hostile(v) for v in value] if isinstance(value, list) else value


@pytest.fixture(scope="module")
def recorded(tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A state folder with one case whose free text is hostile, written by another program than ours."""
    visit = begin(tiny_knowledge, tmp_path_factory.mktemp("first"))
    visit.script(*LINES)
    state = tmp_path_factory.mktemp("recorded") / "state"
    first, *rest = visit.sitting.trail.entries
    stamp = Stamp(first.at, "KM\x1b[2J", "physio\u202e", first.knowledge)
    header = {k: v for k, v in first.payload.items() if k not in ("case", "kind")}
    trail = Trail.create(state, CASE, kind="demo", header=header, stamp=stamp)
    for entry in rest:
        trail.append(
            entry.event, hostile(entry.payload), at=entry.at, by="KM\x1b[2J", role="physio\u202e",
            knowledge=entry.knowledge, texts=hostile(dict(entry.texts)) or None,
        )  # fmt: skip
    assert sum(HOSTILE in t for e in trail.entries for t in e.texts.values()) >= 4
    return state


@pytest.fixture
def case(recorded: Path, tiny_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it as the state folder in use."""
    monkeypatch.setattr("reasoner.graph.load.default_folder", lambda: tiny_folder)
    monkeypatch.setenv("REASONER_HOME", str(tmp_path / "state"))
    return Path(shutil.copytree(recorded, tmp_path / "state"))


COMMANDS: tuple[tuple[str, ...], ...] = (
    ("report", CASE), ("review", CASE), ("review", CASE, "--timeline"), ("review", CASE, "--at", "9"),
    ("progress", CASE), ("trail", "verify", CASE), ("report", CASE, "--as", "note", "--format", "markdown"),
    ("report", CASE, "--as", "note", "--format", "html"), ("report", CASE, "--as", "letter"),
    ("report", CASE, "--as", "handover"), ("report", CASE, "--as", "html"), ("report", CASE, "--as", "fhir"),
    ("report", CASE, "--as", "json"),
)  # fmt: skip


@pytest.mark.parametrize("argv", COMMANDS, ids=" ".join)
def test_nothing_printed_moves_the_cursor_or_turns_the_reading(
    argv: tuple[str, ...], case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    more = ("--preview", "--free-text-read", "--by", "KM") if "--as" in argv else ()
    code = main([*argv, *more])
    out, err = capsys.readouterr()
    assert code == 0, err
    assert not HARMFUL.search(out + err)


class Tags(HTMLParser):
    """Names of tags and attributes, and the words between."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.mark.parametrize("argv", [
    ("report", CASE, "--as", "html", "--out", "FILE", "--preview", "--free-text-read"),
    ("report", CASE, "--as", "note", "--format", "html", "--out", "FILE", "--preview", "--free-text-read"),
    ("review", CASE, "--html", "FILE"),
])  # fmt: skip
def test_a_page_holds_no_mark_up_of_theirs(argv: tuple[str, ...], case: Path, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    assert main([str(path) if word == "FILE" else word for word in argv]) == 0
    text = path.read_text(encoding="utf-8")
    page = Tags()
    page.feed(text)
    assert "alert(1)" in "".join(page.words)  # it is there, as words
    assert "script" not in page.tags
    assert not [name for name in page.attributes if name.startswith("on")]
    assert not HARMFUL.search(text)


def test_a_sheet_in_markdown_holds_no_heading_link_or_formula_of_theirs(case: Path, tmp_path: Path) -> None:
    note, sheet = tmp_path / "note.md", tmp_path / "feedback.md"
    told = ["--as", "note", "--format", "markdown", "--preview", "--free-text-read", "--out", str(note)]
    assert main(["report", CASE, *told]) == 0
    assert main(["review", CASE, "--feedback", str(sheet), "--by", "KM", "--agreed", HOSTILE]) == 0
    for text in (note.read_text(encoding="utf-8"), sheet.read_text(encoding="utf-8")):
        assert "alert(1)" in text
        assert "<script" not in text
        assert not re.search(r"(?<!\\)\]\(", text)
        assert not re.search(r"^\s*# heading", text, re.MULTILINE)
        assert not re.search(r"(^|\|)\s*[=@]", text, re.MULTILINE)
        assert not HARMFUL.search(text)


def test_a_drawing_is_whole_xml(case: Path, tmp_path: Path) -> None:
    path = tmp_path / "drawing.svg"
    assert main(["progress", CASE, "--svg", str(path)]) == 0
    ElementTree.fromstring(path.read_text(encoding="utf-8"))
    assert not HARMFUL.search(path.read_text(encoding="utf-8"))


def test_data_for_programs_loses_nothing_and_shows_nothing(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", CASE, "--as", "json", "--preview", "--free-text-read"]) == 0
    out = capsys.readouterr().out
    assert not HARMFUL.search(out)
    assert any(HOSTILE in text for text in _strings(json.loads(out)))


def _strings(value: Any) -> list[str]:
    if isinstance(value, dict):
        return [s for v in value.values() for s in _strings(v)]
    if isinstance(value, list):
        return [s for v in value for s in _strings(v)]
    return [value] if isinstance(value, str) else []


def test_an_event_with_hostile_words_is_an_event(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    """The words above really pass through the codec: nothing was dropped on the way."""
    visit = begin(tiny_knowledge, tmp_path)
    visit.script(f"problem: {PLAIN}")
    assert PLAIN in json.dumps(dict(encode_event(visit.events[-1]).texts or {}))


def test_what_is_harmless_is_kept() -> None:
    assert visible("Größe 5 °C, naïve, 中文, العربية, 👍") == "Größe 5 °C, naïve, 中文, العربية, 👍"
