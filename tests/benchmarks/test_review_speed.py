"""How long a mentor waits for page one of 5,000 lines, in CPU seconds and as a ratio. `pytest -m benchmark -s`."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from tests.review.long import long_trail

pytestmark = pytest.mark.benchmark


def test_review_of_five_thousand_lines(knowledge: Knowledge, tmp_path: Path) -> None:
    """The whole command, start of Python and loading included, from the second time on."""
    path = long_trail(knowledge, tmp_path, 5000)
    command = [sys.executable, "-m", "reasoner", "review", str(path)]

    def run() -> None:
        subprocess.run(command, check=True, capture_output=True)

    def bare() -> None:
        for raw in path.read_bytes().splitlines():
            json.loads(raw)
            hashlib.sha256(raw).hexdigest()

    def cpu(call: Callable[[], object]) -> float:
        before = os.times()
        start = time.perf_counter()
        call()
        after = os.times()
        spent = sum(after[n] - before[n] for n in range(4))
        print(f"  {call.__name__}: {spent:.2f} s CPU, {time.perf_counter() - start:.2f} s waited")
        return spent

    run()
    whole, plain = min(cpu(run) for _ in range(5)), min(cpu(bare) for _ in range(5))
    print(f"\n5,000 lines: {whole:.2f} s CPU, {whole / max(plain, 0.01):.0f} times parsing and hashing the bytes")
    assert whole < 150 * max(plain, 0.01)
