"""Many evidence entries: a second start reads no entry, and the time grows with their number. Ratios within one run.

Five thousand of them: `pytest -m benchmark tests/benchmarks/test_loading.py -s`.
"""

from __future__ import annotations

import time
from pathlib import Path

from reasoner.graph import load as load_module
from reasoner.graph.load import load
from tests.tiny_pack import TINY, write_pack


def seconds(folder: Path, cache: Path | None) -> float:
    """Processor time of one load in a new process: nothing read before is remembered."""
    load_module._drafts.cache_clear()
    load_module._validated.cache_clear()
    start = time.process_time()
    knowledge, problems = load(folder, cache=cache)
    assert knowledge is not None, problems
    return time.process_time() - start


def pack(folder: Path, count: int) -> Path:
    entry = TINY["ankle/evidence/a-study.yaml"]
    return write_pack(
        folder, {f"ankle/evidence/x{n}.yaml": entry.replace("id: a-study", f"id: x{n}") for n in range(count)}
    )


def test_a_second_start_is_five_times_quicker_and_growth_is_linear(tmp_path: Path) -> None:
    load(pack(tmp_path / "first", 1))  # what is imported and built once is not counted
    cold, warm = {}, {}
    for count in (250, 1000):
        folder, cache = pack(tmp_path / f"pack-{count}", count), tmp_path / f"kept-{count}.json"
        cold[count] = min(seconds(folder, None) for _ in range(2))
        load(folder, cache=cache)
        warm[count] = min(seconds(folder, cache) for _ in range(4))
    assert warm[1000] < cold[1000] / 5, (warm, cold)
    assert cold[1000] < 2 * 4 * cold[250], cold
