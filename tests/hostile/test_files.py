"""Files that are none, or far too much: every command that takes one says so in one clear line, exit 2, and ends."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.trail.paths import home
from reasoner.visible import visible
from tests.hostile.targets import within

SECONDS = 60
# command line with FILE where the file goes; each needs what another does not
COMMANDS: dict[str, tuple[str, ...]] = {
    "consider": ("consider", "FILE"),
    "session": ("session", "--new", "--kind", "demo", "--script", "FILE"),
    "practise": ("practise", "FILE"),
    "reliability": ("measure", "reliability", "FILE"),
    "alignment": ("measure", "alignment", "FILE"),
    "pool": ("knowledge", "pool", "FILE"),
    "evidence": ("knowledge", "add", "evidence", "--from", "FILE"),
    "bundle": ("report", "--read", "FILE"),
    "review": ("review", "FILE"),
    "verify": ("trail", "verify", "FILE"),
    "unpack": ("unpack", "FILE"),
    "start": ("knowledge", "start", "FILE"),
}
CONTENTS: dict[str, bytes] = {
    "nul": b"region: ankle\x00\n",
    "not UTF-8": b"region: ankle\nfindings: {\xff: present}\n",
    "UTF-16": "region: ankle".encode("utf-16"),
    "deep list": b"[" * 100_000 + b"]" * 100_000,
    "deep mapping": b"findings: " + b"{a: " * 50_000 + b"1" + b"}" * 50_000,
    "five thousand digits": b'{"age": ' + b"9" * 5000 + b"}",
    "1e400": b"region: ankle\ncontext: {age: 1e400}\n",
    "aliases": b"a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n",
    "tag": b"!!python/object/apply:os.system [ls]\n",
    "one endless line": b"x" * 3_000_000,
    "a hundred thousand lines": b"p1,4.5,5.0\n" * 100_000,
    "escapes": b"region: \x1b[31mred\x1b]0;title\x07\n",
    "escapes written out": b'region: "\\e[31m\\e]0;t\\a"\n"\\e[2J": 1\n',
    "direction": "region: \u202eelkna\n\u2066x: 1\n".encode(),
    "random": bytes(range(256)) * 20,
    "empty": b"",
}


def pipe(path: Path) -> None:
    os.mkfifo(path)


def endless(path: Path) -> None:
    path.symlink_to("/dev/zero")


def loop(path: Path) -> None:
    path.symlink_to(path)


def folder(path: Path) -> None:
    path.mkdir()


def nothing(path: Path) -> None:
    assert not path.exists()


PLACES: tuple[Callable[[Path], None], ...] = (pipe, endless, loop, folder, nothing)
FINE = {("session", "empty"), ("review", "folder")}  # nothing was typed; there are no trails in it


def said(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, list[str]]:
    """Exit code and what was said about it; nothing harmful was printed."""
    with within(SECONDS):
        code = main([*argv])
    out, err = capsys.readouterr()
    for line in (*out.split("\n"), *err.split("\n")):
        assert line == visible(line) or "\f" in line
        assert "Traceback" not in line
    return code, err.splitlines()


@pytest.fixture(autouse=True)
def _small(tiny_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The small pack stands in for the shipped one: these commands look at a file, not at what is known."""
    monkeypatch.setattr("reasoner.graph.load.default_folder", lambda: tiny_folder)


def refused(capsys: pytest.CaptureFixture[str], command: str, name: str, path: Path) -> None:
    code, lines = said(capsys, *(str(path) if word == "FILE" else word for word in COMMANDS[command]))
    if (command, name) in FINE:
        assert code == 0
        return
    assert code == 2 or (command in ("verify", "review") and code == 1), lines
    assert (1 if code == 2 else 0) <= len(lines) <= 11  # ten problems and how many more
    assert all(line.strip() for line in lines)


@pytest.mark.parametrize("content", CONTENTS)
@pytest.mark.parametrize("command", COMMANDS)
def test_hostile_content(command: str, content: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "given.yaml"
    path.write_bytes(CONTENTS[content])
    refused(capsys, command, content, path)


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_a_million_lines(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "given.yaml"
    path.write_bytes(b"p1,4.5,5.0\n" * 1_000_000)
    refused(capsys, command, "a million lines", path)


@pytest.mark.parametrize("place", PLACES, ids=lambda p: p.__name__)
@pytest.mark.parametrize("command", COMMANDS)
def test_what_is_no_file(
    command: str, place: Callable[[Path], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pipe would wait for its writer for good, a device never ends; neither is opened."""
    path = tmp_path / "given.yaml"
    place(path)
    refused(capsys, command, place.__name__, path)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_name_that_would_clear_the_screen(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a\x1b[2J\u202e\nb.yaml"
    path.write_bytes(b"\xff")
    refused(capsys, command, "name", path)


NAMES = ("../../etc/passwd", "oak-17/..", "/etc/passwd", "oak-17/../../x", "oak-17\n", "a" * 5000, "\x1b[2J-1")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("argv", [
    ("session", "NAME"), ("session", "NAME", "--new"), ("report", "NAME"), ("progress", "NAME"), ("review", "NAME"),
    ("trail", "verify", "NAME"), ("practise", "--case", "NAME"), ("redact", "NAME", "1"),
])  # fmt: skip
def test_a_case_name_leads_nowhere_else(
    argv: tuple[str, ...], name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(tmp_path.rglob("*"))
    code, lines = said(capsys, *(name if word == "NAME" else word for word in argv))
    assert code in (1, 2)  # 1: a file that is no trail was looked at
    assert len(lines) <= 11
    made = [p for p in sorted(tmp_path.rglob("*")) if p not in before and home(os.environ) not in (p, *p.parents)]
    assert made == []


@pytest.mark.parametrize("region", ["../ankle", "ankle/../../x", "/etc", ".", "..", "a" * 300, "ankle\x00"])
def test_a_region_name_leads_nowhere_else(region: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "given.yaml"
    path.write_text(f'region: "{region}"\n'.replace("\x00", "\\0"), encoding="utf-8")
    code, lines = said(capsys, "consider", str(path))
    assert code == 2
    assert "there is no region" in lines[0]


def test_links_in_a_clinics_folder_are_not_followed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    clinic = tmp_path / "clinic"
    (clinic / "ankle" / "options").mkdir(parents=True)
    (clinic / "clinic.yaml").write_text("clinic: north\nname: North\nprefix: nc\n", encoding="utf-8")
    (clinic / "ankle" / "options" / "a.yaml").symlink_to("/dev/zero")
    os.mkfifo(clinic / "ankle" / "options" / "b.yaml")
    (clinic / "ankle" / "measures").symlink_to("/")
    code, _ = said(capsys, "knowledge", "check", str(clinic))
    assert code == 1


@pytest.mark.parametrize("target", ["../../../etc/passwd", "/etc/passwd", "ankle/options/x", "\x1b[2J", "a" * 5000])
@pytest.mark.parametrize("key", ["changes", "retires"])
def test_an_entry_of_a_clinic_names_ids_and_no_paths(
    key: str, target: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clinic = tmp_path / "clinic"
    (clinic / "ankle" / "options").mkdir(parents=True)
    (clinic / "clinic.yaml").write_text("clinic: north\nname: North\nprefix: nc\n", encoding="utf-8")
    written = target.replace("\x1b", "\\e")
    (clinic / "ankle" / "options" / "a.yaml").write_text(f'{key}: "{written}"\nreason: none\n', encoding="utf-8")
    code, _ = said(capsys, "knowledge", "check", str(clinic))
    assert code == 1


def test_a_piped_session_that_never_breaks_its_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with open("/dev/zero", encoding="utf-8") as endless_line:
        monkeypatch.setattr("sys.stdin", endless_line)
        code, lines = said(capsys, "session", "--new", "--kind", "demo")
    assert code == 2
    assert len(lines) == 1
    assert lines[0].startswith("line:1: far too long")


def test_hostile_details_of_a_clinic(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Digits beyond what a number may have, and lists in lists, in letterhead.toml."""
    from reasoner.problems import InputRefused
    from reasoner.reports.letterhead import read_letterhead

    digits, deep, far = b"name = " + b"9" * 5000, b"name = " + b"[" * 9000, b"a" * 30_000
    for raw in (digits, deep, far, b"name = \xff", b'name = "\\u001b[2J"'):
        (tmp_path / "letterhead.toml").write_bytes(raw)
        with pytest.raises(InputRefused) as info:
            read_letterhead(tmp_path, asked=True)
        assert len(str(info.value)) < 1000
