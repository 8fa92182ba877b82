"""How long knowledge takes to load, as ratios within one run. Run by hand: `pytest -m benchmark -s`."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from reasoner.graph import load as load_module
from reasoner.graph.files import collect
from reasoner.graph.load import default_folder, load
from tests.tiny_pack import TINY, write_pack

pytestmark = pytest.mark.benchmark


def best(act: Callable[[], Any], times: int = 5) -> float:
    """Shortest of several runs, in seconds."""

    def once() -> float:
        start = time.perf_counter()
        act()
        return time.perf_counter() - start

    return min(once() for _ in range(times))


def afresh(folder: Path) -> None:
    """A load in a new process: nothing read before is remembered."""
    load_module._drafts.cache_clear()
    load_module._validated.cache_clear()
    load(folder)


def test_check_is_close_to_parsing_the_same_bytes(tmp_path: Path) -> None:
    folder, cache = default_folder(), tmp_path / "kept.json"
    files, _ = collect(folder, "ankle")
    plain = best(lambda: [yaml.load(f.data, Loader=yaml.CSafeLoader) for f in files])
    whole = best(lambda: afresh(folder))
    load(folder, cache=cache)
    again = best(lambda: load(folder, cache=cache))
    size = sum(len(f.data) for f in files)
    print(f"\n{len(files)} files, {size / 1e3:.0f} kB: plain YAML {plain:.3f} s")
    print(f"load and check {whole:.3f} s, kept from before {again:.3f} s")
    assert whole < 2 * plain
    assert again < plain / 2


def many(folder: Path, count: int) -> Path:
    """The small pack with so many evidence entries more, a file each."""
    entry = TINY["ankle/evidence/a-study.yaml"]
    write_pack(folder, {f"ankle/evidence/x{n}.yaml": entry.replace("id: a-study", f"id: x{n}") for n in range(count)})
    return folder


@pytest.mark.parametrize("what", ["check", "start"])
def test_five_thousand_entries_warm_and_cold(what: str, tmp_path: Path) -> None:
    """Whole commands, as somebody waits for them: cold and warm; growth at most that of the number of entries.

    A start is any command that only loads the knowledge, as a session does before its first line.
    """

    def taken(folder: Path, home: Path) -> float:
        words = {
            "check": ["knowledge", "check", str(folder)],
            "start": ["--knowledge", str(folder), "knowledge", "list", "tools"],
        }
        environment = {**os.environ, "REASONER_HOME": str(home)}
        before = os.times().children_user + os.times().children_system
        subprocess.run(
            [sys.executable, "-m", "reasoner", *words[what]], check=True, capture_output=True, env=environment
        )
        return os.times().children_user + os.times().children_system - before

    cold, warm = {}, {}
    for count in (1250, 2500, 5000):
        folder, home = many(tmp_path / f"pack-{count}", count), tmp_path / f"home-{count}"
        cold[count] = taken(folder, home)
        warm[count] = min(taken(folder, home) for _ in range(4))
        print(f"\n{what}, {count} entries: cold {cold[count]:.2f} s, warm {warm[count]:.2f} s of processor time")
    assert warm[5000] < cold[5000] / 5
    assert cold[5000] < 2.2 * cold[2500]
    assert warm[5000] < 2.2 * warm[2500]


def test_help_is_close_to_a_bare_interpreter() -> None:
    bare = best(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True))
    command = [sys.executable, "-m", "reasoner", "--help"]
    helped = best(lambda: subprocess.run(command, check=True, capture_output=True))
    print(f"\nbare interpreter {bare:.3f} s, --help {helped:.3f} s")
    assert helped < 6 * bare
