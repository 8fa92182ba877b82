"""Killed at any instant: every acknowledged line is there, the trail opens, and the next line can be written.

Once at random moments, as a power cut comes, and once before every single call by which an append changes the disk.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from reasoner.trail.paths import anchor_file
from reasoner.trail.store import Trail, read
from reasoner.trail.verify import verify
from tests.trail.build import note, short_trail

KILLS = 30

# appends so many lines, or without end; tells each sequence and number only when `append` has returned
WRITER = """
import os, sys
from pathlib import Path
from reasoner.trail.store import Trail
from tests.trail.build import note
trail = Trail.open(Path(sys.argv[1]), "oak-17")
os.write(1, b"open\\n")
left = int(sys.argv[2]) if len(sys.argv) > 2 else -1
while left:
    left -= 1
    number = len(trail.entries) + 1
    entry = note(trail, number, texts={"words": f"words {number} " + "x" * (number * 37 % 900)} if number % 2 else {})
    os.write(1, b"%d %d\\n" % (entry.seq, number))
"""

# appends once and kills itself before (or, for a write, half through) the n-th call that changes the disk
STEPPER = """
import os, signal, sys
from pathlib import Path
from reasoner.trail.store import Trail
from tests.trail.build import note
trail = Trail.open(Path(sys.argv[1]), "oak-17")
left = int(sys.argv[2])
def dying(name):
    real = getattr(os, name)
    def call(*args, **more):
        global left
        left -= 1
        if left == 0:
            if name == "write":
                real(args[0], bytes(args[1])[: len(args[1]) // 2])
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*args, **more)
    setattr(os, name, call)
write = os.write
for name in ("open", "write", "fsync", "replace", "ftruncate"):
    dying(name)
number = len(trail.entries) + 1
entry = note(trail, number, texts={"words": "some words"})
left = -1
write(1, b"%d %d\\n" % (entry.seq, number))
"""


def started(script: str, *arguments: object) -> subprocess.Popen[bytes]:
    """A process running `script`, its acknowledgements on a pipe."""
    return subprocess.Popen([sys.executable, "-c", script, *map(str, arguments)], stdout=subprocess.PIPE)


def acknowledged(told: bytes) -> list[tuple[int, int]]:
    """(sequence, number) of every whole line told."""
    whole = [line.split() for line in told.splitlines(keepends=True) if line.endswith(b"\n")]
    return [(int(words[0]), int(words[1])) for words in whole if len(words) == 2]


def require_whole(home: Path, seqs: list[tuple[int, int]]) -> None:
    """Every acknowledged line is there with its own content and text; nothing is wrong but what a kill leaves."""
    entries, problems = read(home / "cases" / "oak-17.jsonl")
    by_seq = {entry.seq: entry for entry in entries}
    for seq, number in seqs:
        assert by_seq[seq].payload == {"n": number}
        assert not by_seq[seq].texts or "[" not in by_seq[seq].texts["words"]
    assert all(p.level == "info" for p in problems)
    found = verify(home / "cases" / "oak-17.jsonl", anchor_file(home, "oak-17"))
    assert all(p.level == "info" for p in found), [str(p) for p in found]


def test_killed_at_random_moments_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    short_trail(tmp_path, 1)
    chance = random.Random(20260302)
    seqs: list[tuple[int, int]] = []
    for _ in range(KILLS):
        process = started(WRITER, tmp_path)
        assert process.stdout is not None
        assert process.stdout.readline() == b"open\n"  # every trail left by a kill opens
        time.sleep(chance.uniform(0, 0.04))
        process.send_signal(signal.SIGKILL)
        told = process.stdout.read()
        process.stdout.close()
        assert process.wait() == -signal.SIGKILL
        seqs += acknowledged(told)
        require_whole(tmp_path, seqs)
    assert len(seqs) > KILLS // 3  # so that the kills did fall among appends, even on a busy machine
    assert len(set(seqs)) == len(seqs)
    note(Trail.open(tmp_path, "oak-17"), 9999)


def test_killed_before_every_step_of_an_append(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 2)
    seqs: list[tuple[int, int]] = []
    killed = 0
    for step in range(1, 60):
        process = started(STEPPER, tmp_path, step)
        told, _ = process.communicate(timeout=60)
        seqs += acknowledged(told)
        require_whole(tmp_path, seqs)
        if process.returncode == 0:
            break
        assert process.returncode == -signal.SIGKILL
        killed += 1
    assert killed >= 10  # open, write and sync of text, line and anchor at the least
    note(trail, 1)
    assert [p for p in verify(trail.path, anchor_file(tmp_path, "oak-17")) if p.code != "T-CLOCK"] == []


def written_by_two(script: str, home: Path, lines: int) -> None:
    """Two processes append `lines` lines each at the same time; all of them must be there, each acknowledged once."""
    processes = [started(script, home, lines) for _ in range(2)]
    told = [acknowledged(process.communicate(timeout=60)[0]) for process in processes]
    assert [process.returncode for process in processes] == [0, 0]
    assert [len(each) for each in told] == [lines, lines]
    assert sorted(seq for each in told for seq, _ in each) == list(range(2, 2 * lines + 2))
    require_whole(home, told[0] + told[1])


def test_two_writers_never_break_the_chain(tmp_path: Path) -> None:
    short_trail(tmp_path, 1)
    written_by_two(WRITER, tmp_path, 60)


def test_without_system_locks_two_writers_still_take_turns(tmp_path: Path) -> None:
    short_trail(tmp_path, 1)
    script = "import reasoner.trail.lock as lock\nlock.fcntl = None\n" + WRITER
    written_by_two(script, tmp_path, 30)


def test_a_stand_in_left_by_a_killed_process_does_not_shut_the_next_one_out(tmp_path: Path) -> None:
    short_trail(tmp_path, 1)
    without = "import reasoner.trail.lock as lock\nlock.fcntl = None\n"
    holder = without + """
import os, signal, sys
from pathlib import Path
with lock.locked(Path(sys.argv[1]) / "cases" / "oak-17.lock"):
    os.kill(os.getpid(), signal.SIGKILL)
"""
    held = tmp_path / "cases" / "oak-17.lock.held"
    assert started(holder, tmp_path).communicate(timeout=60)[0] == b""
    assert held.exists()
    told, _ = started(without + WRITER, tmp_path, 1).communicate(timeout=60)
    assert acknowledged(told) == [(2, 2)]
    assert not held.exists()


def test_a_lock_that_is_held_says_by_whom(tmp_path: Path) -> None:
    from reasoner.problems import InputRefused
    from reasoner.trail.lock import locked

    with locked(tmp_path / "a.lock"), pytest.raises(InputRefused, match=f"process {os.getpid()} on"), locked(
        tmp_path / "a.lock", wait=0.05
    ):
        raise AssertionError("two hold one lock")


def test_a_stand_in_of_another_machine_is_respected(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from reasoner.problems import InputRefused
    from reasoner.trail import lock

    monkeypatch.setattr(lock, "fcntl", None)
    held = tmp_path / "a.lock.held"
    held.write_text('{"process": 4000000, "machine": "elsewhere"}')
    with pytest.raises(InputRefused, match="elsewhere"), lock.locked(tmp_path / "a.lock", wait=0.05):
        raise AssertionError("taken over from another machine")
    assert held.exists()


def test_a_stand_in_left_before_it_was_signed_is_taken_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from reasoner.trail import lock

    monkeypatch.setattr(lock, "fcntl", None)
    monkeypatch.setattr(lock, "_SIGNED_WITHIN", 0.05)
    held = tmp_path / "a.lock.held"
    held.touch()
    with lock.locked(tmp_path / "a.lock"):
        assert held.read_bytes()
    assert not held.exists()
