"""What a present cause does to its findings: as matrices and digit by digit, one and the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.inference import firing
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import plan_for
from reasoner.inference.network import Network
from reasoner.inference.rows import Variation, build
from reasoner.inference.sweep import sweep
from tests.oracles import by_signed_sum
from tests.strategies import CALM, random_evidence, random_network


def case(seed: int, links: int) -> tuple[Network, Evidence]:
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=12, nodes=40, links=links, graded=0.3)
    return network, random_evidence(rng, network, present=6, absent=8, soft=2)


@pytest.mark.parametrize("states", [0, 1 << 30])
@pytest.mark.parametrize("links", [3, 6])
def test_both_ways_equal_sixty_digits(links: int, states: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Digit by digit (no states allowed for matrices) and as matrices, against 60-digit arithmetic."""
    monkeypatch.setattr(firing, "_MATRIX_STATES", states)
    network, evidence = case(links, links)
    rows = build(network, evidence, Variation())
    order = plan_for(rows)
    made = [one for each in firing.firings(order, rows.digits, 1) for one in each.matrices]
    assert {one is not None for one in made} == {states > 0}
    _, present = by_signed_sum(network, evidence.weights)
    assert sweep(rows, order).chance[:, 0] == pytest.approx(present, rel=1e-12)


@given(st.integers(0, 1000), st.integers(2, 6), st.booleans())
@CALM
def test_back_is_the_transpose(seed: int, links: int, matrices: bool) -> None:
    """The sum of b * forth(a) is the sum of back(b) * a, for every step; neither touches what it is given."""
    rows = build(*case(seed, links), Variation())
    order = plan_for(rows)
    rng = np.random.default_rng(seed)
    size = 1
    for step, fire in zip(order.steps, firing.firings(order, rows.digits, 1 if matrices else 1 << 20), strict=True):
        for digit in step.opens:
            size *= rows.digits[digit].weights.shape[0]
        a, b = rng.random((size, 2)), rng.random((size, 2))
        kept = a.copy(), b.copy()
        assert (b * fire.forth(a)).sum() == pytest.approx((fire.back(b) * a).sum(), rel=1e-12)
        assert np.array_equal(a, kept[0])
        assert np.array_equal(b, kept[1])
        for closing in step.closes:
            size //= rows.digits[closing.digit].weights.shape[0]
