"""Drivers and variants: against an independent engine, against their definition, and everything that batches rows."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.inference.coupling import Coupling
from reasoner.inference.draws import Intervals, draws
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.explain import joint, leave_one_out
from reasoner.inference.flips import flips
from reasoner.inference.kernel import Limits, posterior, posteriors
from reasoner.inference.network import Network, touched
from reasoner.inference.questions import Asked, candidates, silent_given
from reasoner.inference.responses import response_chances
from reasoner.inference.rows import Variation
from tests.oracles import by_library
from tests.strategies import CALM, random_evidence, random_network

# units over the causes of a network of 8 or more: three drivers; stages of one problem; both
UNITS = (((0,), (1,), (2,)), ((0, 1, 2),), ((0, 1), (2,)))


def coupled(rng: np.random.Generator, network: Network, units: tuple[tuple[int, ...], ...]) -> Network:
    """Three to six causes driven by the units, odds ratios from 1/4 to 8; variants rare enough."""
    members = [c for unit in units for c in unit]
    shift = np.zeros((len(network.causes), len(members)))
    for cause in range(3, min(len(network.causes), 8)):
        shift[cause] = np.log(rng.uniform(0.25, 8.0, len(members))) * (rng.random(len(members)) < 0.7)
    prior = network.prior.copy()
    prior[members] = rng.uniform(0.05, 0.3, len(members))
    return replace(network, prior=prior, coupling=Coupling(units, shift), memo={})


def case(seed: int, *, causes: int = 9, nodes: int = 14, present: int = 4) -> tuple[Network, Evidence]:
    rng = np.random.default_rng(seed)
    plain = random_network(rng, causes=causes, nodes=nodes, links=3)
    return coupled(rng, plain, UNITS[seed % 3]), random_evidence(rng, plain, present=present, absent=4, soft=2)


@pytest.mark.parametrize("seed", range(12))
def test_equals_the_library(seed: int) -> None:
    """Drivers as parents, variants as one variable of many values; 1e-9."""
    network, evidence = case(seed)
    assert posterior(network, evidence).chance == pytest.approx(by_library(network, evidence.weights), abs=1e-9)


def test_base_rates_stay_what_they_say() -> None:
    """With nothing observed each chance is its base rate, however it is driven: the published one is over everybody."""
    for seed in range(12):
        network, _ = case(seed)
        assert posterior(network, Evidence()).chance == pytest.approx(network.prior, abs=1e-14)


def test_by_hand() -> None:
    """A driver in .5, odds ratio 6, base rate .4: .2 without it, .6 with it. A finding of the driver alone, c .8, leak
    .2: P(f) with it .84, without it .2; so P(driver | f) = .42/.52, and the driven one .6*.42/.52 + .2*.1/.52.
    """
    network = Network.of(
        ("driver", "driven"), (0.5, 0.4), {"f": ([[0.8], [0.0]], [0.2])},
        Coupling(((0,),), np.array([[0.0], [np.log(6.0)]])),
    )  # fmt: skip
    found = posterior(network, Evidence.of({"f": (0, 1)})).chance
    assert found == pytest.approx([0.42 / 0.52, (0.6 * 0.42 + 0.2 * 0.1) / 0.52], abs=1e-12)


def test_variants_exclude_each_other() -> None:
    """Jointly none or one of them; the joint table equals the library's conditional by conditional."""
    network, evidence = case(1)
    table = joint(network, evidence, [network.causes[c] for c in (0, 1, 2, 4)])
    for state in product((0, 1), repeat=4):
        if sum(state[:3]) > 1:
            assert table[state] == 0.0
    assert table.sum() == pytest.approx(1.0)
    chance = posterior(network, evidence).chance
    for axis, cause in enumerate((0, 1, 2, 4)):
        assert np.moveaxis(table, axis, 0)[1].sum() == pytest.approx(chance[cause], abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_what_batches_rows_agrees_with_asking_one_by_one(seed: int) -> None:
    """Candidates, leave-one-out, draws, responses: each row against one posterior of its own."""
    network, evidence = case(seed)
    asked = [n for n in network.nodes if n not in evidence.weights]
    found = candidates(network, evidence, asked)
    before = posterior(network, evidence)
    for q, node in enumerate(asked):
        hit = np.eye(network.levels(node))[1]
        after = posterior(network, evidence.plus(Reading("next", node, hit)))
        assert found.answer[q, 1] == pytest.approx(np.exp(after.log_evidence - before.log_evidence), abs=1e-12)
        assert found.given[q, 1] == pytest.approx(after.chance, abs=1e-9)
    for row, reading in enumerate(evidence.readings):
        alone = posterior(network, evidence.without(reading.name)).chance
        assert leave_one_out(network, evidence)[row] == pytest.approx(alone, abs=1e-12)
    still = draws(network, Intervals.none(network), evidence, 1, 5)
    assert still.chance == pytest.approx(np.tile(before.chance, (5, 1)), abs=1e-12)
    # a response of two driven causes, as one finding more
    links = np.zeros((1, len(network.causes)))
    links[0, [4, 5]] = 0.6, 0.4
    more = network.with_node("r", links.T, [0.05])
    absent = posterior(more, evidence.plus(Reading("r", "r", np.array([1.0, 0.0])))).log_evidence
    chance = response_chances(network, evidence, links, np.array([0.05]))
    assert 1 - chance[0] == pytest.approx(np.exp(absent - before.log_evidence), abs=1e-12)


def test_silence_after_an_answer() -> None:
    """P(no response | evidence, answer), where the causes hang together through a driver only."""
    network, evidence = case(0)
    node = next(n for n in network.nodes if n not in evidence.weights)
    asked = [Asked(node, node)]
    links = {network.causes[4]: 0.6, network.causes[6]: 0.5}
    silent = silent_given(network, evidence, asked, candidates(network, evidence, asked), [links])
    more = network.with_link("r", links, 0.0)
    for answer in range(network.levels(node)):
        given = evidence.plus(Reading("next", node, np.eye(network.levels(node))[answer]))
        before = posterior(network, given).log_evidence
        after = posterior(more, given.plus(Reading("r", "r", np.array([1.0, 0.0])))).log_evidence
        assert silent[0, 0, answer] == pytest.approx(np.exp(after - before), abs=1e-10)


def test_causes_that_hang_together_are_never_taken_for_free() -> None:
    network, _ = case(0)
    alone = touched(network, [])
    assert alone[[0, 1, 2]].all()
    assert alone[network.coupling.driven].all()  # type: ignore[union-attr]
    assert not alone[8]


@pytest.mark.parametrize("seed", range(4))
def test_a_base_rate_that_turns_the_lead_turns_it_there(seed: int) -> None:
    """At the figure named the two are level, also for base rates that hang together (no straight line there)."""
    network, evidence = case(seed)
    ends = np.stack([network.prior * 0.3, np.minimum(network.prior * 2.5, 0.9)], axis=-1)
    intervals = Intervals.none(network).with_prior(ends)
    order = np.argsort(-posterior(network, evidence).chance)
    lead, rivals = network.causes[int(order[0])], [network.causes[int(k)] for k in order[1:4]]
    for flip in flips(network, intervals, evidence, lead, rivals):
        prior = network.prior.copy()
        prior[network.cause_index[flip.parameter.cause]] = flip.at
        level = posterior(network.with_prior(prior), evidence).chance
        assert level[network.cause_index[lead]] == pytest.approx(level[network.cause_index[flip.other]], abs=1e-6)


def test_frozen_findings_are_said() -> None:
    """Limits far too small: approximate, finite, not far off, and variants still at most one."""
    network, evidence = case(2, causes=12, nodes=30, present=8)
    exact = posterior(network, evidence).chance
    about = posterior(network, evidence, limits=Limits(live_bits=2, row_bits=3, work_bits=6))
    assert about.approximate
    assert np.isfinite(about.chance).all()
    assert np.abs(about.chance - exact).max() < 0.5


@given(st.integers(0, 10_000))
@CALM
def test_shares_and_rates_are_chances(seed: int) -> None:
    """Any base rates in any rows, variants that add up to more than one included."""
    rng = np.random.default_rng(seed)
    coupling = Coupling(UNITS[seed % 3], np.vstack([np.zeros((3, 3)), rng.normal(0, 3, (4, 3))]))
    prior = rng.choice([0.0, 1e-4, 0.05, 0.5, 0.95, 1.0], size=(7, 3))
    rates, share = coupling.given(prior)
    assert np.all((rates >= 0) & (rates <= 1))
    assert share.sum(axis=1) == pytest.approx(np.ones(3))
    assert np.einsum("nrs,rs->nr", rates[3:], share) == pytest.approx(prior[3:], abs=1e-9)


def test_impossible_evidence_leaves_the_base_rates() -> None:
    network = Network.of(
        ("a", "b"), (0.3, 0.2), {"f": ([[0.5], [0.0]], [0.0])}, Coupling(((0,),), np.array([[0.0], [1.0]]))
    )
    both = Variation(rows=1, keep=np.array([[0.0], [1.0]]))
    batch = posteriors(network, Evidence.of({"f": (0, 1)}), both)
    assert batch.impossible.all()
    assert batch.chance[0] == pytest.approx(network.prior)
