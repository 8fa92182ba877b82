"""Surprise of answers: calibrated on patients the network describes, the same as simulating, found where they clash."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from reasoner.inference.conflict import left_alone, surprise
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from tests.oracles import sample_patient
from tests.strategies import random_network


def _all(_: Reading) -> bool:
    return True


def _said(network: Network, levels: dict[str, int], seen: list[str]) -> Evidence:
    """Yes or no to each; of a graded finding yes is any level above none."""
    return Evidence.of({n: [float((k > 0) == (levels[n] > 0)) for k in range(network.levels(n))] for n in seen})


@pytest.fixture(scope="module")
def truth() -> Network:
    """20 causes from common to rare, 60 findings, a fifth graded."""
    rng = np.random.default_rng(7)
    network = random_network(rng, causes=20, nodes=60, links=4, graded=0.2)
    return network.with_prior(np.concatenate([rng.uniform(0.1, 0.4, 8), rng.uniform(0.005, 0.1, 12)]))


def test_patients_of_the_network_are_seldom_surprising(truth: Network) -> None:
    """200 patients, 15 findings each: z has mean 0 (3 standard errors: .21), and 2.6 is passed in under 4 %."""
    rng = np.random.default_rng(8)
    found = []
    for _ in range(200):
        _, levels = sample_patient(truth, rng)
        seen = [str(n) for n in rng.permutation(truth.nodes)[:15]]
        found.append(surprise(truth, _said(truth, levels, seen), _all).z)
    z = np.array(found)
    assert abs(z.mean()) < 0.21
    assert 0.8 < z.std() < 1.2
    assert (z >= 2.6).mean() < 0.04


def test_it_says_what_simulating_says(truth: Network) -> None:
    """P(a patient of the network is at least as surprising): by 250 simulated patients, and by the normal tail of z."""
    rng = np.random.default_rng(9)
    seen = [str(n) for n in rng.permutation(truth.nodes)[:18]]
    simulated = [-posterior(truth, _said(truth, sample_patient(truth, rng)[1], seen)).log_evidence for _ in range(250)]
    off = []
    for k in range(40):
        _, levels = sample_patient(truth, rng)
        for name in seen[: k % 5]:  # some with answers turned round
            levels[name] = 0 if levels[name] else truth.levels(name) - 1
        evidence = _said(truth, levels, seen)
        share = np.mean(np.array(simulated) >= -posterior(truth, evidence).log_evidence)
        off.append(share - norm.sf(surprise(truth, evidence, _all).z))
    assert np.abs(off).mean() < 0.08
    assert abs(np.mean(off)) < 0.06


def test_answers_that_clash() -> None:
    """One cause brings six findings nearly always, nothing else brings them: three of six there is surprising."""
    network = Network.of(("h",), (0.3,), {f"f{k}": ([[0.95]], [0.02]) for k in range(6)})
    together = Evidence.of({f"f{k}": (0, 1) for k in range(6)})
    half = Evidence.of({f"f{k}": (0, 1) if k < 3 else (1, 0) for k in range(6)})
    assert surprise(network, together, _all).z < 2
    assert surprise(network, half, _all).z > 4


def test_what_goes_least_with_the_rest() -> None:
    """By hand: five of six there, P(h | five) is nearly 1, so P(sixth absent | rest) is nearly .98 * .05 = .049."""
    network = Network.of(("h",), (0.3,), {f"f{k}": ([[0.95]], [0.02]) for k in range(6)})
    evidence = Evidence.of({f"f{k}": (0, 1) if k < 5 else (1, 0) for k in range(6)})
    alone = left_alone(network, evidence)
    assert int(np.argmin(alone)) == 5
    assert alone[5] == pytest.approx(0.049, abs=1e-6)


def test_what_does_not_count_is_known_beforehand(truth: Network) -> None:
    """A reading left out of the count conditions the others, whatever its scale; alone it counts as nothing."""
    rng = np.random.default_rng(10)
    seen = [str(n) for n in rng.permutation(truth.nodes)[:8]]
    evidence = _said(truth, sample_patient(truth, rng)[1], seen)
    scaled = Evidence(
        tuple(Reading(r.name, r.node, r.weights * (7.0 if r.name == seen[3] else 1.0)) for r in evidence.readings)
    )

    def counts(reading: Reading) -> bool:
        return reading.name != seen[3]

    assert surprise(truth, evidence, counts) == surprise(truth, scaled, counts)
    assert surprise(truth, evidence, counts).counted == 7
    assert surprise(truth, evidence, lambda r: False).z == 0.0
