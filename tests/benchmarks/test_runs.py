"""The benchmarks run by hand still run: small, no figure claimed."""

from __future__ import annotations

import numpy as np

from reasoner.graph.knowledge import Knowledge
from tests.benchmarks.engine import a_step, case, wide
from tests.benchmarks.examinations import AFTER, run


def test_simulated_examinations(knowledge: Knowledge) -> None:
    """One patient: every order starts from the same base rates and ends with a finite loss."""
    found = run(knowledge, 1, 1, overall=False, settings=("after_sprain",))
    starts = np.array([losses[:, 0] for losses in found.values()])
    assert np.ptp(starts, axis=0).max() == 0.0
    for losses in found.values():
        assert losses.shape == (1, len(AFTER))
        assert np.isfinite(losses).all()


def test_a_whole_step() -> None:
    """What the growth table times."""
    network, evidence = case(10, 30, 3, 4, 1)
    a_step(network, evidence, [n for n in network.nodes if n not in evidence.weights], wide(network))
