"""The small version of `python -m tests.benchmarks.mutants`: a sample of every kind of change, each found."""

from __future__ import annotations

from tests.benchmarks.mutants import run


def test_a_sample_of_small_changes_is_found() -> None:
    tally = run(every=307)
    assert tally.missed == []
    assert sum(tally.tried.values()) > 100
    assert {kind.split(": ")[0] for kind in tally.tried} == {"jsonl", "texts", "json", "signed"}
