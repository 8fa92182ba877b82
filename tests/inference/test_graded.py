"""Measures as evidence, against numerical integration done another way."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from reasoner.graph.records import Spread
from reasoner.inference.graded import Scale, exceedance, level_weights, reach_alone, study_error
from tests.inference.build import REACH_OUT, measured
from tests.strategies import CALM


@pytest.mark.parametrize("d", [-1.0, 1.5, 2.0, 3.0, 5.8])
def test_weights_are_the_likelihood_of_the_reading(d: float) -> None:
    """P(d | level) by integration over the true value, up to one constant: sizes as for a lunge, error .54 cm."""
    cuts, mean, sd, se = (2.0, 4.0), 1.0, 2.5, 0.54
    ends = (-inf, *cuts, inf)
    likelihood = []
    for low, high in pairwise(ends):
        first, last = max(low, -14.0), min(high, 16.0)
        peak = [d] if first < d < last else None
        mass, _ = quad(lambda x: norm.pdf(d, x, se) * norm.pdf(x, mean, sd), first, last, points=peak, limit=200)
        likelihood.append(mass / (norm.cdf(high, mean, sd) - norm.cdf(low, mean, sd)))
    weights = level_weights(d, se, cuts, mean, sd)
    assert weights / weights.sum() == pytest.approx(np.array(likelihood) / sum(likelihood), abs=1e-8)


def test_a_level_nobody_reaches_is_held() -> None:
    """The reference share is taken as .01 at least: weight of the top level at most 100."""
    weights = level_weights(9.0, 0.5, (2.0, 8.0), 0.0, 1.0)
    # m = .8*9 = 7.2, s = .5*sqrt(.8): share above 8 = 1 - Phi(.8/.4472) = .0368, / .01
    assert weights[2] == pytest.approx((1 - norm.cdf(0.8 / (0.5 * np.sqrt(0.8)))) / 0.01, rel=1e-9)
    assert weights.max() <= 100


@given(st.floats(-20, 20), st.floats(0.05, 3.0))
@CALM
def test_weights_are_usable_whatever_is_read(d: float, se: float) -> None:
    """Not negative, never all nothing."""
    weights = level_weights(d, se, (2.0, 4.0, 6.0), 1.0, 2.5)
    assert np.all(weights >= 0)
    assert weights.max() > 0


def test_the_other_way_round() -> None:
    """Where smaller is worse everything is turned round: the same weights as its mirror image."""
    less = Scale.of("f", measured("f", (-2.0, -4.0), worse="lower", of="value").measured, hard=False)  # type: ignore[arg-type]
    more = Scale.of("f", measured("f", (2.0, 4.0), of="value").measured, hard=False)  # type: ignore[arg-type]
    assert less.weights(-3.1, 0.5) == pytest.approx(more.weights(3.1, 0.5))
    assert more.weights(3.1, 0.0).tolist() == [0.0, 1.0, 0.0]
    assert less.weights(-4.0, 0.0).tolist() == [0.0, 0.0, 1.0]


def test_a_published_cut_off_is_read_as_it_stands() -> None:
    """Accuracy of a measured cut-off already holds the error of measuring: plain yes or no."""
    scale = Scale.of("f", measured("f", (2.0,)).measured, hard=True)  # type: ignore[arg-type]
    assert scale.weights(2.0, 0.5).tolist() == [0.0, 1.0]
    assert scale.weights(1.9, 0.5).tolist() == [1.0, 0.0]


def test_spread_without_its_error() -> None:
    """Share above each cut with the error taken out of the SD; at most three quarters of the variance."""
    assert exceedance(3.2, 2.7, 0.54, (2.0, 4.0)) == pytest.approx(
        [norm.sf(2.0, 3.2, np.sqrt(2.7**2 - 0.54**2)), norm.sf(4.0, 3.2, np.sqrt(2.7**2 - 0.54**2))], abs=1e-12
    )
    assert exceedance(0.0, 1.0, 5.0, (1.0,)) == pytest.approx([norm.sf(2.0)], abs=1e-12)


@given(st.floats(-3, 6), st.floats(0.5, 3), st.floats(0.02, 0.3))
@CALM
def test_alone_and_leak_give_back_the_whole(mean: float, sd: float, leak: float) -> None:
    """1 - (1 - u)(1 - u_0) is the share with the cause, where that is more than without it."""
    whole = exceedance(mean, sd, 0.0, (1.0, 2.0))
    for v, u in zip(whole, reach_alone(whole, (leak, leak)), strict=True):
        assert 1 - (1 - u) * (1 - leak) == pytest.approx(max(v, leak), abs=1e-12)


def test_error_of_a_study() -> None:
    """Published MDC of a side difference / (1.96 sqrt 2) = 1.5/2.7719 = .5412; of a value its SEM."""
    measures = {REACH_OUT.id: REACH_OUT}
    side, value = measured("f", (2.0,)).measured, measured("f", (2.0,), of="value").measured
    assert study_error(side, REACH_OUT, measures) == pytest.approx(0.54115, abs=1e-4)  # type: ignore[arg-type]
    assert study_error(value, REACH_OUT, measures) == pytest.approx(0.3)  # type: ignore[arg-type]


def test_a_setting_may_have_its_own_reference() -> None:
    """One cut at the own mean of the setting: a reading on it says nothing (doctest of level_weights)."""
    own = measured("f", (2.0,)).measured
    assert own is not None
    known = replace(own, reference_in={"after": Spread(mean=2.0, sd=3.0, basis="practice")})
    scale = Scale.of("f", known, hard=False)
    assert scale.in_setting("after").weights(2.0, 0.5).round(12).tolist() == [1.0, 1.0]
    assert scale.in_setting("other") is scale
