"""How long knowledge takes to load, as ratios within one run. Run by hand: `pytest -m benchmark -s`."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from reasoner.graph.files import collect
from reasoner.graph.load import default_folder, load

pytestmark = pytest.mark.benchmark


def best(act: Callable[[], Any], times: int = 5) -> float:
    """Shortest of several runs, in seconds."""

    def once() -> float:
        start = time.perf_counter()
        act()
        return time.perf_counter() - start

    return min(once() for _ in range(times))


def test_check_is_close_to_parsing_the_same_bytes(tmp_path: Path) -> None:
    folder, cache = default_folder(), tmp_path / "kept.json"
    files, _ = collect(folder, "ankle")
    plain = best(lambda: [yaml.load(f.data, Loader=yaml.CSafeLoader) for f in files])
    whole = best(lambda: load(folder))
    load(folder, cache=cache)
    again = best(lambda: load(folder, cache=cache))
    size = sum(len(f.data) for f in files)
    print(f"\n{len(files)} files, {size / 1e3:.0f} kB: plain YAML {plain:.3f} s")
    print(f"load and check {whole:.3f} s, kept from before {again:.3f} s")
    assert whole < 2 * plain
    assert again < plain / 2


def test_help_is_close_to_a_bare_interpreter() -> None:
    bare = best(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True))
    command = [sys.executable, "-m", "reasoner", "--help"]
    helped = best(lambda: subprocess.run(command, check=True, capture_output=True))
    print(f"\nbare interpreter {bare:.3f} s, --help {helped:.3f} s")
    assert helped < 6 * bare
