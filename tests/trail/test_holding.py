"""Two sessions on one case: the second is told who and since when; it waits, only looks, or takes over."""

from __future__ import annotations

import io
import json
import os
import platform
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.trail import holding, lock
from reasoner.trail.holding import Holder, hold, hold_file
from reasoner.trail.store import Trail, read
from tests.trail.build import note, short_trail
from tests.visit import begin

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
OTHER = """
import sys, time
from datetime import datetime, UTC
from pathlib import Path
from reasoner.trail.holding import hold
held = hold(Path(sys.argv[1]), "oak-17", by="TK", now=datetime(2026, 3, 2, 11, 40, tzinfo=UTC))
print("held", flush=True)
sys.stdin.readline()
held.release()
print("released", flush=True)
sys.stdin.readline()
"""


def other(home: Path) -> subprocess.Popen[str]:
    """Another process that has the case open."""
    process = subprocess.Popen(
        [sys.executable, "-c", OTHER, str(home)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def end(process: subprocess.Popen[str]) -> None:
    process.send_signal(signal.SIGKILL)
    process.communicate()


@pytest.fixture(params=["system locks", "no locks here"])
def home(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A case, on a file system with locks and on one without."""
    if request.param == "no locks here":
        monkeypatch.setattr(lock, "fcntl", None)
    short_trail(tmp_path, 2)
    return tmp_path


def test_the_second_is_told_who_and_since_when(home: Path) -> None:
    process = other(home)
    with pytest.raises(InputRefused, match=rf"oak-17 is open: TK since 2026-03-02 11:40 \(process {process.pid} on"):
        hold(home, "oak-17", by="KM", now=NOON)
    with pytest.raises(InputRefused, match=r"wait for them .* look only .* take it over"):
        hold(home, "oak-17", by="KM", now=NOON)
    end(process)
    hold(home, "oak-17", by="KM", now=NOON).release()  # it went with its process, however that ended
    assert not hold_file(home, "oak-17").exists()


def test_waiting_ends_when_they_leave(home: Path) -> None:
    process = other(home)
    told: list[Holder] = []

    def leave() -> None:
        time.sleep(0.3)
        assert process.stdin is not None
        process.stdin.write("\n")
        process.stdin.flush()

    leaving = threading.Thread(target=leave)
    leaving.start()
    held = hold(home, "oak-17", by="KM", now=NOON, wait=30, waiting=told.append)
    leaving.join()
    assert [one.by for one in told] == ["TK"]
    held.require()
    held.release()
    end(process)


def test_taking_over_refuses_the_other_at_its_next_line(home: Path) -> None:
    first = Trail.open(home, "oak-17")
    first.hold = hold(home, "oak-17", by="KM", now=NOON)
    note(first, 3)
    second = Trail.open(home, "oak-17")
    second.hold = hold(home, "oak-17", by="TK", now=NOON, take_over=True)
    note(second, 4)
    with pytest.raises(InputRefused, match="taken over by TK since 2026-03-02 12:00"):
        note(first, 5)
    first.hold.release()  # takes nothing from the other
    note(second, 6)
    second.hold.release()
    assert [e.payload.get("n") for e in read(first.path)[0]] == [None, 2, 3, 4, 6]


def test_a_held_case_of_another_machine_is_respected_until_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lock, "fcntl", None)
    short_trail(tmp_path, 2)
    told = {"by": "TK", "since": "2026-03-02T11:40:00+00:00", "process": 4_000_000, "machine": "elsewhere\x1b[2J"}
    hold_file(tmp_path, "oak-17").write_text(json.dumps(told))
    with pytest.raises(InputRefused) as refused:
        hold(tmp_path, "oak-17", by="KM", now=NOON)
    assert "on elsewhere" in str(refused.value)
    assert "\x1b" not in str(refused.value)
    hold(tmp_path, "oak-17", by="KM", now=NOON, take_over=True).require()


def test_without_locks_a_process_that_is_gone_holds_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lock, "fcntl", None)
    short_trail(tmp_path, 2)
    told = {"by": "TK", "since": "", "process": 4_000_000, "machine": platform.node()}
    hold_file(tmp_path, "oak-17").write_text(json.dumps(told))
    hold(tmp_path, "oak-17", by="KM", now=NOON).require()


def test_a_damaged_note_of_who_holds_is_no_reason_to_fail(tmp_path: Path) -> None:
    short_trail(tmp_path, 2)
    held = hold(tmp_path, "oak-17", by="KM", now=NOON)
    held.path.write_bytes(b"\xff{")
    with pytest.raises(InputRefused, match="is open: somebody"):
        hold(tmp_path, "oak-17", by="TK", now=NOON)
    held.release()


# ------------------------------------------------------------------------------------------------ the session


@pytest.fixture
def taken(tiny_knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A case with an open visit, which TK has open at this moment (this very process)."""
    home = tmp_path / "home"
    monkeypatch.setenv("REASONER_HOME", str(home))
    monkeypatch.setenv("REASONER_BY", "KM")
    begin(tiny_knowledge, home)
    told = {"by": "TK", "since": "2026-03-02T11:40:00+00:00", "process": os.getppid(), "machine": platform.node()}
    monkeypatch.setattr(lock, "fcntl", None)  # so that a live process stands for one that holds it
    (home / "cases" / "oak-heron-17.open").write_text(json.dumps(told))
    return home


def session(folder: Path, monkeypatch: pytest.MonkeyPatch, lines: str, *more: str) -> int:
    """Exit code of `reasoner session` on the small pack, its lines from a pipe."""
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(lines.encode())))
    return main(["session", "oak-heron-17", "--knowledge", str(folder), *more])


def test_a_session_is_refused_looks_only_or_takes_over(
    taken: Path, tiny_folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = taken / "cases" / "oak-heron-17.jsonl"
    before = path.read_bytes()
    assert session(tiny_folder, monkeypatch, "age 34\n") == 2
    said = capsys.readouterr().err
    assert "the case oak-heron-17 is open: TK since 2026-03-02 11:40" in said
    assert said.count("\n") == 1

    assert session(tiny_folder, monkeypatch, "screens\nage 34\n", "--read-only") == 2  # at the second line
    said = capsys.readouterr()
    assert "read only: nothing is recorded" in said.out
    assert "open for reading only" in said.err
    assert path.read_bytes() == before

    assert session(tiny_folder, monkeypatch, "age 34\n", "--take-over") == 0
    events = [(e.event, e.by) for e in read(path)[0]]
    assert events[-1] == ("context_stated", "KM")
    assert not (taken / "cases" / "oak-heron-17.open").exists()


def test_a_terminal_is_asked(taken: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import argparse

    from reasoner.commands.at_desk import hold_case

    def asked(answer: str) -> argparse.Namespace:
        monkeypatch.setattr("builtins.input", lambda prompt: answer)
        return argparse.Namespace(read_only=False, wait=0.0, take_over=False)

    args = asked("r")
    assert hold_case(args, taken, "oak-heron-17", "KM", ask=True) is None
    with pytest.raises(InputRefused, match="is open: TK"):
        hold_case(asked(""), taken, "oak-heron-17", "KM", ask=True)
    args = asked("t")
    held = hold_case(args, taken, "oak-heron-17", "KM", ask=True)
    assert held is not None
    assert args.take_over
    held.release()
    assert holding._holder(held.path) is None
