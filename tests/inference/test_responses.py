"""Response to treatment: the batch against adding the finding; competing causes by hand; the pair never falls."""

from __future__ import annotations

from itertools import pairwise
from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from reasoner.inference.responses import (
    CONTACT,
    response_chances,
    response_pair,
    response_reading,
    silent_apart,
    silent_held,
)
from tests.strategies import CALM, random_evidence, random_network


def test_a_batch_equals_adding_each_response() -> None:
    """P(response | evidence) for seven sets of links at once, against one network each."""
    rng = np.random.default_rng(8)
    network = random_network(rng, causes=10, nodes=20, links=4)
    evidence = random_evidence(rng, network, present=5, absent=5, soft=2)
    links = rng.uniform(0, 0.9, size=(7, 10)) * (rng.random((7, 10)) < 0.4)
    leak = rng.uniform(0.02, 0.2, size=7)
    found = response_chances(network, evidence, links, leak)
    before = posterior(network, evidence).log_evidence
    for row in range(7):
        more = network.with_node("response", links[row][:, None], [leak[row]])
        fired = posterior(more, evidence.plus(response_reading("r", "response", (1.0, 0.0))))
        assert found[row] == pytest.approx(exp(fired.log_evidence - before), abs=1e-12)


def test_silence_as_if_apart_and_held() -> None:
    """By hand: links .5 and .4 on chances .2 and .5: .9 * .8 = .72. Exactly .60 where apart says .72: .72 -> .60."""
    apart = silent_apart({0: 0.5, 1: 0.4}, np.array([[0.2, 0.5], [0.0, 1.0]]))
    assert apart == pytest.approx([0.72, 0.6])
    assert silent_held(0.6, apart[0], apart) == pytest.approx([0.6, 0.5])
    assert silent_held(0.0, 0.0, apart) == pytest.approx(apart)  # nothing known of what binds them


def test_no_target_leaves_touch_and_leak() -> None:
    """By hand: contact .25 with c .6, leak .05: 1 - .95*(1 - .25*.6) = .1925."""
    network = Network.of(("target", CONTACT), (0.4, 0.25), {})
    assert response_chances(network, Evidence(), np.array([[0.0, 0.6]]), np.array([0.05])) == pytest.approx([0.1925])


def test_touch_competes_with_the_target() -> None:
    """Two techniques, own targets at .40, contact at .25 (c .84), leak .05, target c .40.

    By hand, P(response | target?, contact?): .05, .43, .848, .9088; averaged over a target .202 and .87232. Both
    respond: (.75*.172*.202 + .25*.36352*.87232)/(.75*.202^2 + .25*.87232^2) = .105334/.220838 = .4770. One responds
    and the other does not: .114546/.148742 = .7701. So one alone says more for its target than both together.
    """
    network = Network.of(("one", "two", CONTACT), (0.4, 0.4, 0.25), {})
    network = network.with_link("first", {"one": 0.4, CONTACT: 0.84}, 0.05)
    network = network.with_link("second", {"two": 0.4, CONTACT: 0.84}, 0.05)
    both = posterior(network, Evidence.of({"first": (0, 1), "second": (0, 1)}))
    one = posterior(network, Evidence.of({"first": (0, 1), "second": (1, 0)}))
    assert both.chance[0] == pytest.approx(0.4770, abs=5e-5)
    assert one.chance[0] == pytest.approx(0.7701, abs=5e-5)


def test_impossible_evidence_falls_back_on_base_rates() -> None:
    """A number all the same, from the base rates."""
    network = Network.of(("a",), (0.4,), {"f": ([[0.0]], [0.0])})
    found = response_chances(network, Evidence.of({"f": (0, 1)}), np.array([[0.5]]), np.array([0.1]))
    assert found == pytest.approx([1 - 0.9 * (1 - 0.4 * 0.5)])


spread = st.floats(0.05, 3.0)


@given(st.floats(0.0, 3.0), spread, st.floats(-0.5, 1.0), spread, st.floats(0.05, 1.0))
@CALM
def test_the_ratio_never_falls_as_the_change_grows(
    gain: float, gain_sd: float, drift: float, drift_sd: float, sem: float
) -> None:
    """Whatever the spreads; a gain no larger than drift says nothing at all."""
    figures = {"gain": gain, "gain_sd": gain_sd, "drift": drift, "drift_sd": drift_sd, "sem": sem}
    pairs = [response_pair(d, **figures) for d in np.linspace(-8, 8, 65)]
    ratios = [np.log(l1) - np.log(max(l0, 1e-300)) for l1, l0 in pairs if l1 > 0]
    assert all(b >= a - 1e-9 for a, b in pairwise(ratios))
    if gain <= drift:
        assert set(pairs) == {(1.0, 1.0)}


def test_the_pair_between_its_vertices_is_the_density_ratio() -> None:
    """Against normal densities from scipy, where nothing is held constant."""
    l1, l0 = response_pair(1.2, gain=1.0, gain_sd=0.5, drift=0.2, drift_sd=0.3, sem=0.4)
    v1, v0 = np.sqrt(0.25 + 0.32), np.sqrt(0.09 + 0.32)
    assert l1 / l0 == pytest.approx(norm.pdf(1.2, 1.0, v1) / norm.pdf(1.2, 0.2, v0), rel=1e-12)


def test_a_big_change_speaks_for_and_none_against() -> None:
    """Far beyond drift above 1, at drift below 1."""
    figures = {"gain": 1.5, "gain_sd": 0.5, "drift": 0.2, "drift_sd": 0.3, "sem": 0.3}
    up, none = response_pair(2.0, **figures), response_pair(0.2, **figures)
    assert up[0] > up[1]
    assert none[0] < none[1]
    assert response_reading("r", "n", (0.0, 1.0)).weights.tolist() == [1.0, 0.0]
