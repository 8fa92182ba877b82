"""Speed as ratios within one run: what a batch, a fold and the frontier are worth. Run by hand: -m benchmark."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

import numpy as np
import pytest

from reasoner.inference.draws import Intervals, draws
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.explain import leave_one_out
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from reasoner.inference.questions import candidates
from tests.oracles import by_library
from tests.strategies import random_evidence, random_network

pytestmark = pytest.mark.benchmark


def seconds(work: Callable[[], object], runs: int = 5) -> float:
    """Median of a few runs after one to warm up."""
    work()
    taken = []
    for _ in range(runs):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return median(taken)


@pytest.fixture(scope="module")
def usual() -> tuple[Network, Evidence]:
    """45 causes, 200 findings, 12 present and 20 absent, six causes a finding."""
    rng = np.random.default_rng(1)
    network = random_network(rng, causes=45, nodes=200, links=6, graded=0.0)
    return network, random_evidence(rng, network, present=12, absent=20)


def test_all_candidates_cost_a_few_posteriors(usual: tuple[Network, Evidence]) -> None:
    """168 unasked findings in one batch, against asking for each by itself: at least ten times as fast."""
    network, evidence = usual
    unasked = [n for n in network.nodes if n not in evidence.weights]
    hit = np.array([1.0, 0.0])

    def one_by_one() -> None:
        for node in unasked:
            posterior(network, evidence.plus(Reading(node, node, hit)))

    assert seconds(lambda: candidates(network, evidence, unasked)) < seconds(one_by_one, 1) / 10


def test_leaving_each_reading_out_in_one_batch(usual: tuple[Network, Evidence]) -> None:
    """32 readings, against 32 posteriors: at least three times as fast."""
    network, evidence = usual

    def one_by_one() -> None:
        for reading in evidence.readings:
            posterior(network, evidence.without(reading.name))

    assert seconds(lambda: leave_one_out(network, evidence)) < seconds(one_by_one, 1) / 3


def test_two_hundred_draws(usual: tuple[Network, Evidence]) -> None:
    """Every number drawn anew, against 200 posteriors: at least five times as fast."""
    network, evidence = usual
    intervals = Intervals.none(network)
    batch = seconds(lambda: draws(network, intervals, evidence, np.random.default_rng(1), 200))
    assert batch < 200 * seconds(lambda: posterior(network, evidence)) / 5


def test_cost_follows_live_bits_not_findings() -> None:
    """A chain of 40 present findings stays cheap: within ten times 12 that share all causes."""
    reach = {}
    for k in range(40):
        links = np.zeros((41, 1))
        links[[k, k + 1]] = 0.6
        reach[f"f{k}"] = (links, [0.1])
    chain = Network.of(tuple(f"h{k}" for k in range(41)), [0.2] * 41, reach)
    rng = np.random.default_rng(2)
    dense = random_network(rng, causes=12, nodes=12, links=12, graded=0.0)
    chain_seen, dense_seen = (Evidence.of(dict.fromkeys(net.nodes, (0, 1))) for net in (chain, dense))
    assert seconds(lambda: posterior(chain, chain_seen)) < 10 * seconds(lambda: posterior(dense, dense_seen))


def test_against_a_general_engine() -> None:
    """25 causes, 80 findings, 4 present: at least twenty times as fast as a general library, with equal results."""
    rng = np.random.default_rng(3)
    network = random_network(rng, causes=25, nodes=80, links=6, graded=0.0)
    evidence = random_evidence(rng, network, present=4, absent=20)
    assert posterior(network, evidence).chance == pytest.approx(by_library(network, evidence.weights), abs=1e-9)
    ours = seconds(lambda: posterior(network, evidence))
    assert ours < seconds(lambda: by_library(network, evidence.weights), 1) / 20
