"""However many findings: the work is bounded, chances are chances, and what is not exact says so.

Time is not asserted. What is: the states open at once, times the rows, never pass what `Limits` allows; that is what
time grows with. The default run has small limits, so that everything must be frozen; `-m slow` has the real ones and
networks of up to 60 causes and 300 findings, `python -m tests.benchmarks.engine` the times.
"""

from __future__ import annotations

from math import log2
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reasoner.inference.draws import Intervals, draws
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import LIMITS, Limits, peak_bits, posterior, posteriors
from reasoner.inference.network import Network
from reasoner.inference.questions import candidates, gain_bits
from reasoner.inference.rows import Variation
from tests.strategies import CALM, random_evidence, random_network

SMALL = Limits(live_bits=4, row_bits=6, work_bits=11, exact=5)


@st.composite
def crowded(draw: Any, causes: int = 60, nodes: int = 300) -> tuple[Network, Evidence]:
    """Any size up to that, any density, any share of present, absent and unsure answers, some of them graded."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    size = draw(st.integers(nodes // 10, nodes))
    network = random_network(
        rng, causes=draw(st.integers(3, causes)), nodes=size, links=draw(st.integers(1, 12)),
        graded=draw(st.sampled_from([0.0, 0.3])),
    )  # fmt: skip
    present = draw(st.integers(0, size // 3))
    return network, random_evidence(
        rng, network, present=present, absent=draw(st.integers(0, size // 3)), soft=draw(st.integers(0, size // 4))
    )


def _holds(network: Network, evidence: Evidence, limits: Limits) -> None:
    """One posterior, all questions, and a few draws: chances, bounded, honest."""
    found = posterior(network, evidence, limits=limits)
    assert np.all((found.chance >= 0) & (found.chance <= 1))
    assert found.peak_bits <= limits.row_bits + 1e-9
    assert found.approximate == (peak_bits(network, evidence) > limits.affordable(1) + 1e-9)
    rows = 20
    batch = draws(network, Intervals.none(network), evidence, 1, rows, limits=limits)
    assert batch.peak_bits <= limits.affordable(rows) + 1e-9
    assert batch.peak_bits + log2(rows) <= max(limits.work_bits, limits.live_bits + log2(rows)) + 1e-9
    unasked = [n for n in network.nodes if n not in evidence.weights][:60]
    asked = candidates(network, evidence, unasked, limits=limits)
    assert asked.answer.sum(axis=1) == pytest.approx(np.ones(len(unasked)), abs=1e-9)
    assert np.isfinite(gain_bits(asked)).all()
    if found.approximate:
        assert asked.approximate
        assert found.frozen


@given(crowded(causes=30, nodes=120))
@settings(CALM, max_examples=15)
def test_bounded_and_honest(case: tuple[Network, Evidence]) -> None:
    _holds(*case, SMALL)


@pytest.mark.slow
@given(crowded())
@settings(CALM, max_examples=20)
def test_bounded_and_honest_at_full_size(case: tuple[Network, Evidence]) -> None:
    _holds(*case, LIMITS)


def _both(seed: int, *, causes: int, nodes: int, present: int, limits: Limits) -> tuple[Any, Any]:
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=causes, nodes=nodes, links=4)
    evidence = random_evidence(rng, network, present=present, absent=10, soft=3)
    return posterior(network, evidence), posterior(network, evidence, limits=limits)


@pytest.mark.parametrize("seed", range(8))
def test_what_is_frozen_stays_near_the_exact_figure(seed: int) -> None:
    """Where both run: a few findings frozen (all but 6 bits) move a chance by .03 in the mean; .3 is not passed."""
    exact, about = _both(seed, causes=25, nodes=80, present=12, limits=Limits(live_bits=4, row_bits=6, work_bits=30))
    assert not exact.approximate
    assert about.approximate
    off = np.abs(exact.chance - about.chance)
    assert off.mean() < 0.03
    assert off.max() < 0.3


def test_limits_that_suffice_change_nothing() -> None:
    """Exact is exact, whatever else would have been allowed."""
    exact, same = _both(1, causes=20, nodes=60, present=6, limits=Limits(live_bits=10, row_bits=12, work_bits=30))
    assert not same.approximate
    assert same.chance == pytest.approx(exact.chance, abs=1e-12)


def test_rows_share_what_is_frozen() -> None:
    """A batch too wide for its rows freezes for all of them alike, and says which."""
    rng = np.random.default_rng(4)
    network = random_network(rng, causes=20, nodes=60, links=5)
    evidence = random_evidence(rng, network, present=10, absent=5)
    limits = Limits(live_bits=3, row_bits=12, work_bits=9)
    one = posteriors(network, evidence, limits=limits)
    many = posteriors(network, evidence, Variation(rows=256), limits=limits)
    assert set(many.frozen) > set(one.frozen)
    assert np.ptp(many.chance, axis=0) == pytest.approx(np.zeros(20), abs=1e-12)
