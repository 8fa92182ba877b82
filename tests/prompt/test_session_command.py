"""`reasoner session` as a process: scripts, pipes, wrong input, a kill in the middle."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from reasoner.trail.paths import cases
from reasoner.trail.store import Trail
from reasoner.trail.verify import anchor_of, verify
from tests.visit import TREATED


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A state folder of its own."""
    return tmp_path / "state"


def command(tiny_folder: Path, *args: str) -> list[str]:
    """The command line."""
    return [sys.executable, "-m", "reasoner", "session", "--knowledge", str(tiny_folder), "--by", "KM", *args]


def env(home: Path) -> dict[str, str]:
    """An environment in which nothing but the state folder is known."""
    return {**os.environ, "REASONER_HOME": str(home), "TERM": "dumb", "NO_COLOR": "1"}


def run(
    tiny_folder: Path, home: Path, *args: str, lines: str | bytes = ""
) -> subprocess.CompletedProcess[str]:
    """Run it with lines on a pipe."""
    data = lines.encode() if isinstance(lines, str) else lines
    done = subprocess.run(command(tiny_folder, *args), input=data, capture_output=True, env=env(home), timeout=60)
    return subprocess.CompletedProcess(args, done.returncode, done.stdout.decode(), done.stderr.decode())


def test_a_script_and_a_pipe_give_the_same_trail(tiny_folder: Path, home: Path, tmp_path: Path) -> None:
    script = tmp_path / "visit.txt"
    script.write_text("\n".join(TREATED), encoding="utf-8")
    first = run(tiny_folder, home, "--new", "oak-17", "--script", str(script))
    second = run(tiny_folder, home, "--new", "oak-18", lines="\n".join(TREATED))
    assert (first.returncode, second.returncode) == (0, 0), first.stderr + second.stderr
    assert "\x1b" not in first.stdout
    one, two = (Trail.open(home, case).entries for case in ("oak-17", "oak-18"))
    assert [(e.event, e.payload, e.texts) for e in one[1:]] == [(e.event, e.payload, e.texts) for e in two[1:]]


def test_a_new_case_gets_a_drawn_name(tiny_folder: Path, home: Path) -> None:
    done = run(tiny_folder, home, "--new")
    (case,) = cases(home)
    assert re.fullmatch(r"[a-z]+-[a-z]+-[0-9]{2}", case)
    assert f"New case {case} (real)" in done.stdout


def test_a_refused_line_stops_it_with_file_and_line_and_keeps_the_lines_before(
    tiny_folder: Path, home: Path, tmp_path: Path
) -> None:
    script = tmp_path / "visit.txt"
    script.write_text("left\n\n# remark\nage 34\npinch +\nfever -\n", encoding="utf-8")
    done = run(tiny_folder, home, "--new", "oak-17", "--script", str(script))
    assert done.returncode == 2
    assert done.stderr.strip() == f"{script}:5: no finding is called 'pinch'; nearest: front pinch"
    assert [e.event for e in Trail.open(home, "oak-17").entries] == [
        "case_opened", "visit_opened", "context_stated", "context_stated",
    ]


@pytest.mark.parametrize(
    ("args", "lines", "says"),
    [
        (("oak-17",), "", "there is no case oak-17; nearest: oak-71"),
        (("elm-3",), "", "there is no case elm-3; a new one"),
        ((), "", "which case? there are: oak-71"),
        (("Anna-Schmidt",), "", "is not a case name"),
        (("--new", "oak-71"), "", "there is a case oak-71 already"),
        (("--new", "--script", "/nowhere/at/all"), "", "it is not there"),
        (("--new", "--by", "Anna Schmidt"), "", "never a name"),
        (("--new", "--region", "elbow"), "", "elbow"),
        (("oak-71",), b"left\n\xff\xfe\n", "line:2: not UTF-8"),
        (("oak-71",), "y\n", "line:1: 'y' answers no question here"),
        (("oak-71",), "ktw L 4,5\n", "line:1: M-COMMA"),
    ],
)
def test_wrong_input_is_one_clear_line(
    args: tuple[str, ...], lines: str | bytes, says: str, tiny_folder: Path, home: Path
) -> None:
    run(tiny_folder, home, "--new", "oak-71", lines="left\n")
    known = cases(home)
    done = run(tiny_folder, home, *args, lines=lines)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    begun = [c for c in cases(home) if c not in known]
    assert begun == [] or "--new" in args


@pytest.mark.parametrize("after", ["age 34", "given: glide the talus back"])
def test_what_was_said_back_survives_a_kill(after: str, tiny_folder: Path, home: Path) -> None:
    process = subprocess.Popen(
        command(tiny_folder, "--new", "oak-17"), stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=env(home), text=True
    )
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("\n".join(TREATED) + "\n")
    process.stdin.flush()
    wanted = after.replace("age 34", "age: 34")
    for line in process.stdout:
        if wanted in line:
            process.kill()
            break
    process.stdout.close()
    process.stdin.close()
    process.wait(30)
    path = home / "cases" / "oak-17.jsonl"
    assert [p for p in verify(path, anchor_of(home, path)) if p.level == "error"] == []
    recorded = [e.event for e in Trail.open(home, "oak-17").entries]
    assert ("treated" in recorded) or after == "age 34"
    assert any(e.payload.get("name") == "age" for e in Trail.open(home, "oak-17").entries)
    again = run(tiny_folder, home, "oak-17", lines="note back again\n")
    assert again.returncode == 0, again.stderr
    assert [e.event for e in Trail.open(home, "oak-17").entries][-2:] == ["resumed", "noted"]
