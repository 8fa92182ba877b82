"""The command line: exit codes, one clear line, nothing like a traceback."""

from __future__ import annotations

import argparse
import importlib
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import reasoner
from reasoner import cli
from reasoner.cli import COMMANDS, main
from reasoner.consult.snapshot import SNAPSHOT_CODES
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.reference import reference
from reasoner.inference.codes import CODES
from reasoner.problems import InputRefused, Problem
from tests.tiny_pack import TINY, write_pack


def lines(capsys: pytest.CaptureFixture[str]) -> tuple[list[str], list[str]]:
    captured = capsys.readouterr()
    return captured.out.splitlines(), captured.err.splitlines()


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_its_module(name: str) -> None:
    module = importlib.import_module(COMMANDS[name][0])
    parser = argparse.ArgumentParser()
    module.add_arguments(parser)
    assert callable(module.run)


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    out, err = lines(capsys)
    assert err == []
    assert all(any(line.startswith(f"  {name} ") for line in out) for name in COMMANDS)
    assert max(map(len, out)) <= 80


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as leaving:
        main(["--version"])
    assert leaving.value.code == 0
    assert lines(capsys)[0] == [f"reasoner {reasoner.__version__}"]


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        (["knowlege", "check"], "there is no command knowlege; did you mean knowledge?"),
        (["zzz"], "commands: session"),
        (["knowledge", "chek"], "there is no chek here; did you mean check?"),
        (["knowledge", "list", "finding"], "did you mean findings?"),
        (["knowledge"], "reasoner knowledge --help"),
        (["knowledge", "check", "--nonsense"], "--nonsense"),
        (["--nonsense"], "--nonsense"),
        (["explain", "K-UNKNWN"], "did you mean K-UNKNOWN"),
    ],
)
def test_wrong_usage_is_one_line_and_exit_2(argv: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(argv) == 2
    out, err = lines(capsys)
    assert out == []
    assert len(err) == 1
    assert says in err[0]


def stand_in(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """A command `fail` that raises."""
    module = ModuleType("fail")

    def run(args: argparse.Namespace) -> int:
        raise error

    module.__dict__.update(add_arguments=lambda parser: None, run=run)
    monkeypatch.setitem(sys.modules, "fail", module)
    monkeypatch.setitem(cli.COMMANDS, "fail", ("fail", "fails"))


def test_interrupt_is_quiet(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    stand_in(monkeypatch, KeyboardInterrupt())
    assert main(["fail"]) == 130
    assert lines(capsys) == ([], [])


def test_a_refusal_shows_ten_problems_and_the_count(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    stand_in(monkeypatch, InputRefused([Problem("X-ONE", f"number {n}", "mend it", "f.yaml", n) for n in range(1, 13)]))
    assert main(["fail"]) == 2
    _, err = lines(capsys)
    assert err[0] == "f.yaml:1: X-ONE: number 1; mend it"
    assert err[10:] == ["and 2 more"]


def test_a_failing_disk_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    stand_in(monkeypatch, PermissionError(13, "Permission denied", "/some/where"))
    assert main(["fail"]) == 2
    assert lines(capsys)[1] == ["/some/where: Permission denied"]


def test_a_closed_pipe_is_quiet() -> None:
    command = [sys.executable, "-m", "reasoner", "explain"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 141


def test_a_terminal_without_the_letters_still_prints() -> None:
    command = [sys.executable, "-m", "reasoner", "explain", "S-NUMBER"]
    done = subprocess.run(command, capture_output=True, env={"PYTHONIOENCODING": "ascii"}, check=True)
    assert b"such as ?." in done.stdout


# ------------------------------------------------------------------------------------------------ knowledge


def test_check_of_a_sound_pack(
    tiny_folder: Path, tiny_knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["knowledge", "check", str(tiny_folder)]) == 0
    out, _ = lines(capsys)
    assert out[0] == f"{tiny_folder}: 0 problems"
    assert out[1].startswith(f"ankle {tiny_knowledge.digest[:12]}: ")
    assert max(map(len, out[1:])) <= 80


def test_check_says_ten_problems_and_the_count(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    many = "".join(f"- {{id: x{n}, name: x{n}, kind: told, ask: X?, unit: cm}}\n" for n in range(15))
    write_pack(tmp_path, {"ankle/findings/more.yaml": many})
    assert main(["knowledge", "check", str(tmp_path)]) == 1
    out, _ = lines(capsys)
    assert len(out) == 12
    assert out[0].startswith("ankle/findings/more.yaml:1: S-KEY: unit: no such key")
    assert out[10:] == ["... and 5 more: --all shows them", f"{tmp_path}: 15 problems"]
    assert main(["knowledge", "check", str(tmp_path), "--all"]) == 1
    assert len(lines(capsys)[0]) == 16
    assert main(["knowledge", "check", str(tmp_path), "--json"]) == 1
    found = json.loads("\n".join(lines(capsys)[0]))
    assert found["schema"] == 1
    assert len(found["problems"]) == 15
    assert found["problems"][14] == {
        "code": "S-KEY", "message": "unit: no such key", "hint": found["problems"][14]["hint"],
        "file": "ankle/findings/more.yaml", "line": 15, "level": "error",
    }  # fmt: skip


def test_other_commands_refuse_knowledge_with_problems(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_pack(tmp_path, {"scales.yaml": None})
    assert main(["--knowledge", str(tmp_path), "knowledge", "list", "findings"]) == 2
    out, err = lines(capsys)
    assert out == []
    assert err == ["scales.yaml: F-MISSING: this file is needed and not there; add it"]


def test_a_missing_folder_is_wrong_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    none = f"{tmp_path}/none"
    for argv in (["check", none], ["list", "tools", "--knowledge", none], ["--knowledge", none, "list", "tools"]):
        assert main(["knowledge", *argv]) == 2
        assert lines(capsys)[1] == [f"{none}: F-MISSING: there is no such folder"]


KINDS = ("findings", "groups", "hypotheses", "options", "screens", "measures", "settings", "tools", "procedures",
         "positions", "evidence", "load_classes", "protocols")  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_list_as_json_and_as_text(kind: str, tiny_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["--knowledge", str(tiny_folder), "knowledge", "list", kind]
    assert main([*argv, "--json"]) == 0
    rows = json.loads("\n".join(lines(capsys)[0]))
    assert rows
    assert all({"id", "name", "aliases"} <= set(row) for row in rows)
    assert main(argv) == 0
    out, _ = lines(capsys)
    assert max(map(len, out)) <= 80
    for row in rows:
        assert any(line.startswith(row["id"]) for line in out)
    assert out[-1] == f"{len(rows)} {kind.replace('_', ' ')}"


def test_list_says_how_to_ask_and_test(tiny_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed = {}
    for kind in ("findings", "measures", "hypotheses", "tools"):
        assert main(["--knowledge", str(tiny_folder), "knowledge", "list", kind, "--json"]) == 0
        listed[kind] = {row["id"]: row for row in json.loads("\n".join(lines(capsys)[0]))}
    assert listed["findings"]["fever"]["ask"] == "Have you had a fever?"
    assert listed["findings"]["front_pinch"]["aliases"] == ["pinch at the front"]
    assert listed["measures"]["knee_to_wall"]["how"].startswith("Great toe to the wall")
    assert listed["hypotheses"]["talus_back_glide"]["list"] == "limits"
    assert listed["tools"]["rating"]["measures"] == ["pain_at_sign", "function_score"]


def test_list_says_what_is_general_and_what_nothing_rests_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    story = TINY["ankle/findings/story.yaml"]
    general = story.replace("id: front_pinch", "id: front_pinch\n  general_for: [back_glide_less]")
    study = TINY["ankle/evidence/a-study.yaml"]
    unused = study.replace("id: a-study", "id: b-study") + "not_used: nothing asked here\n"
    folder = write_pack(tmp_path, {"ankle/findings/story.yaml": general, "ankle/evidence/b.yaml": unused})
    listed = {}
    for kind in ("findings", "evidence"):
        assert main(["--knowledge", str(folder), "knowledge", "list", kind, "--json"]) == 0
        listed |= {row["id"]: row for row in json.loads("\n".join(lines(capsys)[0]))}
    assert listed["front_pinch"]["general_for"] == ["back_glide_less"]
    assert listed["b-study"]["not_used"] == "nothing asked here"
    assert not listed["a-study"]["not_used"]


def test_show_says_what_leads_where(tiny_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--knowledge", str(tiny_folder), "knowledge", "show", "talus_back_glide"]) == 0
    out, _ = lines(capsys)
    before, after = out.index("leads to talus_back_glide:"), out.index("talus_back_glide leads to:")
    assert any("front_pinch" in line for line in out[before:after])
    assert any("back_glide" in line for line in out[after + 1 :])
    assert main(["--knowledge", str(tiny_folder), "knowledge", "show", "talus_glide"]) == 2
    assert "did you mean talus_back_glide" in lines(capsys)[1][0]


def test_explain_every_code(capsys: pytest.CaptureFixture[str]) -> None:
    for code, text in reference().items():
        assert main(["explain", code.lower()]) == 0
        out, _ = lines(capsys)
        assert out[0] == code
        assert " ".join(" ".join(out[1:]).split()).startswith(" ".join(text.split()))
        assert max(map(len, out)) <= 80
    assert main(["explain"]) == 0
    listed = {line.split()[0] for line in lines(capsys)[0]}
    assert set(reference()) | set(SNAPSHOT_CODES) | set(CODES) <= listed
    assert main(["explain", "s-key"]) == 0
    assert any("snapshot" in line for line in lines(capsys)[0])
