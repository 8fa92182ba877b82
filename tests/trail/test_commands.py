"""`reasoner trail verify` and `reasoner where`, from their arguments to exit code and lines."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.cli import main
from tests.trail.build import short_trail


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A state folder of its own."""
    monkeypatch.setenv("REASONER_HOME", str(tmp_path / "state"))
    return tmp_path / "state"


def test_a_whole_trail_is_named_whole(state: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trail = short_trail(state, 4)
    for named in ("oak-17", str(trail.path)):
        assert main(["trail", "verify", named]) == 0
        told = capsys.readouterr()
        assert told.out == f"{trail.path}: 4 lines, demo, whole; last {trail.head.hash[7:19]}\n"
        assert told.err == ""


def test_a_changed_line_is_named_by_file_and_line(state: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trail = short_trail(state, 4)
    trail.path.write_bytes(trail.path.read_bytes().replace(b'"n":2', b'"n":7'))
    assert main(["trail", "verify", "oak-17"]) == 1
    told = capsys.readouterr().out.splitlines()
    assert told[0].startswith(f"{trail.path}:2: T-LINE: ")
    assert told[-1] == f"{trail.path}: not as recorded"


def test_all_of_them(state: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trail", "verify", "--all"]) == 0
    assert "No trails" in capsys.readouterr().out
    short_trail(state, 2)
    other = short_trail(state, 3, case="elm-3")
    assert main(["trail", "verify", "--all"]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "2 looked at, 0 with problems."
    other.path.write_bytes(other.path.read_bytes()[:-200])
    assert main(["trail", "verify", "--all"]) == 1
    assert capsys.readouterr().out.splitlines()[-1] == "2 looked at, 1 with problems."


@pytest.mark.parametrize("arguments", ["verify", "verify x --all", "verify /nowhere.jsonl", "verify /", "", "verfy",
                                       "verify oak-18"])  # fmt: skip
def test_wrong_input_is_one_line_and_exit_2(
    state: Path, capsys: pytest.CaptureFixture[str], arguments: str
) -> None:
    short_trail(state, 2)
    assert main(["trail", *arguments.split()]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1


def test_a_terminal_s_escapes_in_a_hostile_trail_are_not_passed_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    trail = short_trail(tmp_path, 2)
    hostile = trail.path.read_bytes().replace(b'"noted"', b'"\x1b[2Jx"') + b"\x1b]0;x\x07\n"
    trail.path.write_bytes(hostile)
    assert main(["trail", "verify", str(trail.path)]) == 1
    assert "\x1b" not in capsys.readouterr().out


def test_where(
    state: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = tmp_path / "keys"
    monkeypatch.setenv("REASONER_KEYS", str(keys))
    assert main(["where"]) == 0
    assert f"state      {state}  (made with the first case)" in capsys.readouterr().out
    assert not state.exists()
    short_trail(state, 2)
    assert main(["where", "--knowledge", str(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"state      {state}", "shared     no", f"keys       {keys}  (never packed)", f"knowledge  {tmp_path}",
        "clinic     none  (reasoner knowledge start DIR)", "cases      1",
    ]  # fmt: skip


def test_where_with_a_file_in_the_way(state: Path, capsys: pytest.CaptureFixture[str]) -> None:
    state.mkdir(parents=True)
    (state / "cases").write_text("in the way")
    assert main(["where"]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "cases      0"
