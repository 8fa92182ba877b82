"""Killed at random points of scripted sessions: is every acknowledged line there, and does every case go on?

    python -m tests.benchmarks.kills --times 1000

Half the kills come at a random moment (kill -9 from outside); half before a random one of the calls that change the
disk, a write being cut in the middle first. Acknowledged is what had been recorded when anything was shown. After every
kill the trail has to hold all of that with the same hashes, verify, open, and take a new line. A session is two visits
on the small pack of the tests: a kill costs a fork, not a start of the program. What a killed process had handed to the
system outlives it; that a line is on the disk before it is acknowledged is tested in `tests/trail/test_order.py`.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

from reasoner.consult.sitting import Sitting
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.prompt.script import run_script
from reasoner.trail.paths import anchor_file
from reasoner.trail.store import Trail
from reasoner.trail.verify import verify
from tests.tiny_pack import write_pack
from tests.visit import CALM_CASE, TREATED, Clock

CASE = "oak-heron-17"
LINES = (  # blocks of answers and the same one by one, texts, an answer taken back, a second visit
    *CALM_CASE[0].split(", "), *CALM_CASE[1].split(", "), *TREATED[len(CALM_CASE) :], "fever ?", "undo",
    "problem: stairs hurt going down", "note it began on a stair", "retest function 6, pain at the sign 3, "
    "ktw L 5 5 5.5", "note calm after it", "conclusion the back glide limits", "plan once more in a week", "close",
    "new visit", CALM_CASE[1], "function 5", "pain at the sign 4", "ktw L 4 4 4.5 R 9 9 9.5", "note slept well",
    "front pinch +", "front pinch -", "note less stiff in the morning", "conclusion it holds", "plan go on", "close",
)  # fmt: skip
DISK = ("open", "write", "fsync", "replace", "ftruncate", "rename", "unlink", "mkdir")


@dataclass
class Tally:
    """What came of the kills. `lost`: acknowledged lines that were not there, or trails that did not open."""

    kills: int = 0
    finished: int = 0
    acknowledged: int = 0
    lost: list[str] = field(default_factory=list)


def play(knowledge: Knowledge, home: Path, tell: Callable[[str], object]) -> None:
    """A whole visit; `tell` hears number and hash of the last line whenever anything is shown."""
    sitting, _ = Sitting.begin(knowledge, home, CASE, "demo", clock=Clock(), by="KM", role="physio")

    def shown(_: object = None) -> None:
        head = sitting.trail.head
        tell(f"{head.count} {head.hash}\n")

    shown()
    for line in LINES:
        run_script(sitting, [line], "lines", shown)
        shown()


def dying(at: int) -> None:
    """From now on in this process: the `at`-th call that changes the disk is the last, a write being cut in half."""
    left = [at]

    def wrap(name: str) -> None:
        real = getattr(os, name)

        def call(*args: object, **more: object) -> object:
            left[0] -= 1
            if left[0] == 0:
                if name == "write":
                    data = bytes(args[1])  # type: ignore[call-overload]
                    real(args[0], data[: len(data) // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*args, **more)

        setattr(os, name, call)

    for name in DISK:
        wrap(name)


def session(knowledge: Knowledge, home: Path, *, after: float | None = None, at: int = 0) -> tuple[list[str], bool]:
    """Play in a child that is killed `after` seconds, or at disk call `at`; (lines it told, whether it ended whole)."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reading)
            tell = os.write
            if at:
                dying(at)
            play(knowledge, home, lambda text: tell(writing, text.encode()))
            os._exit(0)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(1)
    os.close(writing)
    if after is not None:
        time.sleep(after)
        os.kill(child, signal.SIGKILL)
    told = b""
    while select.select([reading], [], []) and (piece := os.read(reading, 65536)):
        told += piece
    os.close(reading)
    _, status = os.waitpid(child, 0)
    whole = [line for line in told.decode().splitlines(keepends=True) if line.endswith("\n")]
    if os.WIFEXITED(status) and os.WEXITSTATUS(status):
        raise RuntimeError("the session failed of itself")
    return whole, os.WIFEXITED(status)


def check(knowledge: Knowledge, home: Path, told: list[str]) -> list[str]:
    """What is wrong after a kill; nothing should be."""
    if not told and not (home / "cases" / f"{CASE}.jsonl").exists():
        return []  # killed before anything was shown: there need not be a case
    try:
        trail = Trail.open(home, CASE)
        hashes = {entry.seq: entry.hash for entry in trail.entries}
        lost = [line for line in told if hashes.get(int(line.split()[0])) != line.split()[1]]
        found = [str(p) for p in verify(trail.path, anchor_file(home, CASE)) if p.level == "error"]
        sitting, outcome = Sitting.take_up(knowledge, trail, clock=Clock(), by="KM", role="physio")
        before = len(trail.entries)
        if sitting.situation.open_visit is None:  # killed between case and visit, or after closing it
            run_script(sitting, ["new visit"], "lines", lambda page: None)
        run_script(sitting, ["note after the kill"], "lines", lambda page: None)
        went_on = [] if len(trail.entries) > before and not outcome.refused else ["no new line was taken"]
        found += [str(p) for p in verify(trail.path, anchor_file(home, CASE)) if p.level == "error"]
    except Exception as error:  # whatever it is, the case did not go on
        return [f"{type(error).__name__}: {error}"]
    return lost + found + went_on


def run(times: int, seed: int = 20260302) -> Tally:
    """Kill so many sessions and look at what each left; those that ended before their kill do not count."""
    chance, tally = random.Random(seed), Tally()
    with tempfile.TemporaryDirectory() as place:
        knowledge, _ = load(write_pack(Path(place) / "pack"))
        assert knowledge is not None
        calls, seconds = _measure(knowledge, Path(place) / "whole")
        for number in count():
            if tally.kills == times:
                break
            home = Path(place) / f"{number}"
            if number % 2:
                told, whole = session(knowledge, home, at=chance.randint(1, calls))
            else:
                told, whole = session(knowledge, home, after=chance.uniform(0, seconds))
            tally.finished += whole
            tally.kills += not whole
            tally.acknowledged += int(told[-1].split()[0]) if told else 0
            tally.lost += [f"kill {number}: {wrong}" for wrong in check(knowledge, home, told)]
    return tally


def _measure(knowledge: Knowledge, home: Path) -> tuple[int, float]:
    """(calls that change the disk, seconds) of a whole session, in a child."""
    seconds = float("inf")
    for n in range(3):  # the quickest: a kill that comes after the end is none
        started = time.monotonic()
        told, whole = session(knowledge, home.with_name(f"whole{n}"))
        seconds = min(seconds, time.monotonic() - started)
        assert whole
        assert len(told) > len(LINES)
    low, high = 1, 2
    while not session(knowledge, home.with_name(f"m{high}"), at=high)[1]:
        low, high = high, high * 2
    while high - low > 8:  # near enough for a range to draw from
        middle = (low + high) // 2
        ended = session(knowledge, home.with_name(f"n{middle}"), at=middle)[1]
        low, high = (low, middle) if ended else (middle, high)
    return low, seconds


def main() -> int:
    """Print the figures; exit 1 if anything was lost."""
    parser = argparse.ArgumentParser(description="Kill scripted sessions and count what is lost.")
    parser.add_argument("--times", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=20260302)
    args = parser.parse_args()
    tally = run(args.times, args.seed)
    for wrong in tally.lost[:20]:
        print(wrong)
    print(f"{tally.kills} killed, {tally.finished} ended before their kill came")
    print(f"{tally.acknowledged} lines acknowledged, {len(tally.lost)} lost or not going on")
    return 1 if tally.lost else 0


if __name__ == "__main__":
    sys.exit(main())
