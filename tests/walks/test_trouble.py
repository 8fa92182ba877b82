"""A visit when the machine fails it: one clear line each time, and nothing that was acknowledged is lost."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.case import events as ev
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.trail.paths import anchor_file
from reasoner.trail.read import read
from reasoner.trail.verify import verify
from tests.benchmarks.kills import run as kill
from tests.visit import MEASURED, Visit, begin

CASE = "oak-heron-17"


def hashes(home: Path) -> list[str]:
    """Of every line that is on the disk."""
    return [e.hash for e in read(home / "cases" / f"{CASE}.jsonl")[0]]


def refused(visit: Visit, line: str) -> str:
    """What a line is refused with: one line of text."""
    with pytest.raises(InputRefused) as told:
        visit.script(line)
    assert len(told.value.problems) == 1
    assert "\n" not in str(told.value)
    return str(told.value)


def refusal(visit: Visit, line: str) -> str:
    """What a line is refused with; empty if it was recorded."""
    try:
        visit.script(line)
    except InputRefused as told:
        return str(told)
    return ""


def require_whole(home: Path, before: list[str]) -> None:
    """Everything that was there is there, and it verifies."""
    assert hashes(home)[: len(before)] == before
    found = verify(home / "cases" / f"{CASE}.jsonl", anchor_file(home, CASE))
    assert [str(p) for p in found if p.level == "error"] == []


def test_killed_again_and_again_nothing_acknowledged_is_lost() -> None:
    """The small version of `python -m tests.benchmarks.kills --times 1000`."""
    tally = kill(12)
    assert tally.lost == []
    assert tally.kills >= 6
    assert tally.acknowledged > tally.kills


# ------------------------------------------------------------------------------------------------ the disk


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 256 KB of its own."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = shutil.which("mount") and subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)], capture_output=True, check=False
    )
    if not mounted or mounted.returncode:
        pytest.skip("no small disk can be mounted here (needs the right to mount); test_store.py limits a file instead")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk(tiny_knowledge: Knowledge, small_disk: Path) -> None:
    visit = begin(tiny_knowledge, small_disk / "home")
    visit.script(*MEASURED)
    filler = small_disk / "filler"
    with filler.open("wb", buffering=0) as file, suppress(OSError):
        while file.write(b"x" * 512):
            pass
    before = hashes(visit.home)
    said = ""
    while not said:  # what is left of the last block still takes some lines
        before = hashes(visit.home)
        said = refusal(visit, "note " + "words " * 40)
    assert "\n" not in said
    assert "the disk is full; free some space and do the last step again" in said
    require_whole(visit.home, before)
    assert len(hashes(visit.home)) == len(before)
    filler.unlink()
    visit.script("note there is room again", "treat back glide 3x60 s agreed")
    require_whole(visit.home, before)
    assert [e.text for e in visit.events if isinstance(e, ev.Noted)][-1] == "there is room again"


def test_the_folder_vanishes_and_comes_back(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    home = tmp_path / "home"
    visit = begin(tiny_knowledge, home)
    visit.script(*MEASURED)
    before = hashes(home)
    home.rename(tmp_path / "elsewhere")  # a share that went away
    assert "it is not there" in refused(visit, "treat back glide 3x60 s agreed")
    assert not home.exists()  # nothing is begun in its place
    (tmp_path / "elsewhere").rename(home)
    visit.script("treat back glide 3x60 s agreed")
    require_whole(home, before)


def test_a_disk_that_turned_read_only(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    """In a process without the right to write everywhere; reading goes on, recording says why not."""
    home = tmp_path / "home"
    visit = begin(tiny_knowledge, home)
    visit.script(*MEASURED)
    before = hashes(home)
    for path in [tmp_path, *tmp_path.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    child = os.fork()
    if child == 0:
        code = 1
        try:
            if os.geteuid() == 0:
                os.chdir(tmp_path)
                os.seteuid(65534)
            said = refused(visit, "treat back glide 3x60 s agreed")
            code = 0 if "no permission" in said and visit.script("screens") else 2
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    for path in [tmp_path, *tmp_path.rglob("*")]:
        path.chmod(0o700 if path.is_dir() else 0o600)
    visit.script("treat back glide 3x60 s agreed")
    require_whole(home, before)


# ------------------------------------------------------------------------------------------------ the clock


def test_a_clock_set_back_is_said_and_order_is_kept(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script(*MEASURED)
    before = hashes(tmp_path)
    visit.clock.wait(days=-40)
    said = visit.script("note later, though dated earlier")
    assert "the clock went back, from 2026-03-02 09:00 to 2026-01-21 09:00: check it" in " ".join(said)
    assert "the clock went back" not in " ".join(visit.script("note once is enough"))
    require_whole(tmp_path, before)
    found = verify(tmp_path / "cases" / f"{CASE}.jsonl", anchor_file(tmp_path, CASE))
    assert [(p.code, p.level) for p in found] == [("T-CLOCK", "info")]
    # weeks since the injury can no longer be counted: unknown, which opens nothing
    assert visit.sitting.situation.facts.days_since("injury")[1] is None


def test_a_clock_that_jumps_ahead_makes_dates_doubtful_not_old(
    tiny_knowledge: Knowledge, knowledge: Knowledge, tmp_path: Path
) -> None:
    """By the shipped policy: more than its days between two entries is taken for a leap until it is said again."""
    pack = replace(tiny_knowledge, policy=knowledge.policy)
    visit = begin(pack, tmp_path)
    visit.script(*MEASURED)
    before = hashes(tmp_path)
    visit.clock.wait(days=4000)
    said = " ".join(visit.script("note years later, says the clock"))
    assert "4000 days since the last entry: if that is wrong, set the clock" in said
    require_whole(tmp_path, before)
    assert visit.sitting.situation.facts.days_since("injury")[1] is None
    assert not visit.sitting.advice.screening_complete  # stop-now answers of years ago count no longer
    visit.script("injury 25 days ago")
    assert visit.sitting.situation.facts.days_since("injury")[1] == 25
