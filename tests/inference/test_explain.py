"""Explanations against asking again: one reading left out, step by step, causes jointly."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given

from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.explain import joint, leave_one_out, steps
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from tests.oracles import by_rationals
from tests.strategies import CALM, networks_with_evidence, random_evidence, random_network


def _twice(weights: dict[str, list[float]]) -> Evidence:
    """Each finding read twice: once unsure, once as given, so that some nodes hold several readings."""
    readings = [Reading(f"{n} again", n, np.linspace(0.5, 1.5, len(w))) for n, w in list(weights.items())[:2]]
    return Evidence((*Evidence.of(weights).readings, *readings))


@given(networks_with_evidence())
@CALM
def test_leaving_one_out_equals_asking_without_it(case: tuple[Network, dict[str, list[float]]]) -> None:
    """One row a reading, in the order recorded."""
    network, weights = case
    evidence = _twice(weights)
    rows = leave_one_out(network, evidence)
    assert rows.shape == (len(evidence.readings), len(network.causes))
    for row, reading in zip(rows, evidence.readings, strict=True):
        assert row == pytest.approx(posterior(network, evidence.without(reading.name)).chance, abs=1e-12)


@given(networks_with_evidence())
@CALM
def test_steps_add_up_to_the_whole_move(case: tuple[Network, dict[str, list[float]]]) -> None:
    """Each step is the change of log odds when that reading came in."""
    network, weights = case
    evidence = _twice(weights)
    moved = steps(network, evidence)
    assert moved.shape == (len(evidence.readings), len(network.causes))
    chance = posterior(network, evidence).chance
    sure = (chance < 1e-9) | (chance > 1 - 1e-9)
    whole = np.log(chance / (1 - chance), where=~sure, out=np.zeros_like(chance)) - np.log(
        network.prior / (1 - network.prior)
    )
    assert moved.sum(axis=0)[~sure] == pytest.approx(whole[~sure], abs=1e-6)


def test_steps_by_hand() -> None:
    """One cause at .3: a test with c .8, leak .2 (LR+ .84/.2 = 4.2), then absent with c .5 (LR- .5)."""
    network = Network.of(("a",), (0.3,), {"f": ([[0.8]], [0.2]), "g": ([[0.5]], [0.1])})
    moved = steps(network, Evidence.of({"f": (0, 1), "g": (1, 0)}))
    assert moved[:, 0] == pytest.approx([np.log(4.2), np.log(0.5)], abs=1e-12)


def test_left_out_ones_do_not_add_up() -> None:
    """Two causes that explain one finding: the parts are not the whole, which is why both are shown."""
    network = Network.of(("a", "b"), (0.3, 0.3), {n: ([[0.8], [0.7]], [0.05]) for n in ("f", "g")})
    evidence = Evidence.of({"f": (0, 1), "g": (0, 1)})
    logit = lambda p: np.log(p / (1 - p))  # noqa: E731
    now = logit(posterior(network, evidence).chance[0])
    parts = now - logit(leave_one_out(network, evidence)[:, 0])
    assert parts.sum() != pytest.approx(now - logit(0.3), abs=0.05)


def test_a_joint_table_against_rationals() -> None:
    """Every combination of three causes, by enumeration; its margins are the posteriors."""
    rng = np.random.default_rng(5)
    network = random_network(rng, causes=6, nodes=8, links=3, graded=0.4)
    evidence = random_evidence(rng, network, present=3, absent=2, soft=1)
    asked = ["h4", "h0", "h2"]
    table = joint(network, evidence, asked)
    chance = posterior(network, evidence).chance
    for axis, cause in enumerate(asked):
        margin = table.sum(axis=tuple(k for k in range(3) if k != axis))
        assert margin[1] == pytest.approx(chance[network.cause_index[cause]], abs=1e-12)
    total, _ = by_rationals(network, evidence.weights)
    for state in product((0, 1), repeat=3):
        prior = network.prior.copy()
        share = 1.0
        for cause, on in zip(asked, state, strict=True):
            place = network.cause_index[cause]
            share *= prior[place] if on else 1 - prior[place]
            prior[place] = float(on)
        mass, _ = by_rationals(network.with_prior(prior), evidence.weights)
        assert table[state] == pytest.approx(share * float(mass / total), abs=1e-12)


def test_a_joint_table_refuses() -> None:
    """More than six causes, or impossible evidence."""
    network = Network.of(tuple("abcdefg"), [0.1] * 7, {"f": ([[0.0]] * 7, [0.0])})
    with pytest.raises(ValueError, match="at most 6"):
        joint(network, Evidence(), network.causes)
    with pytest.raises(ValueError, match="impossible"):
        joint(network, Evidence.of({"f": (0, 1)}), ["a"])


def test_nothing_recorded_explains_nothing() -> None:
    """Empty evidence gives empty tables."""
    network = Network.of(("a",), (0.3,), {"f": ([[0.8]], [0.2])})
    assert leave_one_out(network, Evidence()).shape == (0, 1)
    assert steps(network, Evidence()).shape == (0, 1)
