"""Calibration of the code, not of the knowledge: patients drawn from a network are judged by the same network.

2,000 patients are drawn cause by cause and finding by finding (tests/oracles.py shares no code with the kernel), any
10 of 20 findings are looked at, and the chances given are compared with what was there. One pooled test, fixed seed:
for each patient the sums over causes of (present - chance) and of (present - chance) * logit(chance), which both have
mean 0 if and only if the chances are right in level and in slope. Their mean over patients, with its own covariance,
gives a chi-squared with 2 degrees of freedom; 13.82 is passed once in a thousand (standard table).
"""

from __future__ import annotations

import numpy as np
import pytest

from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from tests.oracles import sample_patient
from tests.strategies import random_network

PATIENTS = 2000
ONE_IN_A_THOUSAND = 13.82


def _pooled(truth: Network, judge: Network) -> float:
    """Chi-squared (2 degrees of freedom) of patients drawn from `truth` and judged by `judge`."""
    rng = np.random.default_rng(20240117)
    rows = []
    for _ in range(PATIENTS):
        on, levels = sample_patient(truth, rng)
        seen = rng.permutation(truth.nodes)[:10]
        evidence = Evidence.of(
            {str(n): [float(k == levels[str(n)]) for k in range(truth.levels(str(n)))] for n in seen}
        )
        chance = np.clip(posterior(judge, evidence).chance, 1e-9, 1 - 1e-9)
        off_by = on - chance
        rows.append((off_by.sum(), (off_by * np.log(chance / (1 - chance))).sum()))
    table = np.array(rows)
    mean = table.mean(axis=0)
    return float(len(table) * mean @ np.linalg.solve(np.cov(table.T), mean))


@pytest.fixture(scope="module")
def truth() -> Network:
    """8 causes, 20 findings, a third graded."""
    return random_network(np.random.default_rng(42), causes=8, nodes=20, links=3, graded=0.33)


def test_chances_are_what_they_say(truth: Network) -> None:
    """The network judging its own patients passes."""
    assert _pooled(truth, truth) < ONE_IN_A_THOUSAND


def test_the_test_can_fail(truth: Network) -> None:
    """Base rates doubled, or leaks far too small: both are found."""
    doubled = truth.with_prior(np.minimum(truth.prior * 2, 0.9))
    leaky = Network.of(
        truth.causes, truth.prior,
        {n: (r, k * 0.02) for n, r, k in zip(truth.nodes, truth.reach, truth.leak, strict=True)},
    )  # fmt: skip
    assert _pooled(truth, doubled) > ONE_IN_A_THOUSAND
    assert _pooled(truth, leaky) > ONE_IN_A_THOUSAND
