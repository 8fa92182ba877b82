"""The kernel against witnesses (tests/oracles.py), and what must hold whatever the numbers.

The independent library is in tests/outside/test_engine_agreement.py.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.inference import kernel
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.kernel import Limits, posterior, posteriors
from reasoner.inference.network import Network
from reasoner.inference.rows import Variation
from tests.oracles import by_rationals, by_signed_sum
from tests.strategies import CALM, networks, networks_with_evidence, random_evidence, random_network

NO_LIMIT = Limits(row_bits=60, work_bits=60)


# ------------------------------------------------------------------------------------------------ witnesses


@given(networks_with_evidence())
@CALM
def test_equals_enumeration_in_rationals(case: tuple[Network, dict[str, list[float]]]) -> None:
    """Marginals to 1e-12 and P(evidence) to a relative 1e-12; graded, hard, unsure and absent alike."""
    network, weights = case
    total, present = by_rationals(network, weights)
    found = posterior(network, Evidence.of(weights))
    assert exp(found.log_evidence) == pytest.approx(float(total), rel=1e-12)
    assert found.chance == pytest.approx([float(p) for p in present], abs=1e-12)


@pytest.mark.parametrize("links", [6, 10])
def test_equals_sixty_digits(links: int) -> None:
    """25 causes, 80 findings, 20 absent and 9 open: relative 1e-12 against 60-digit arithmetic."""
    rng = np.random.default_rng(links)
    network = random_network(rng, causes=25, nodes=80, links=links, graded=0.2)
    evidence = random_evidence(rng, network, present=6, absent=20, soft=2)
    total, present = by_signed_sum(network, evidence.weights)
    found = posterior(network, evidence)
    assert exp(found.log_evidence) == pytest.approx(total, rel=1e-12)
    assert found.chance == pytest.approx(present, rel=1e-12)


def test_sixty_digits_agree_with_rationals() -> None:
    """The second witness is itself checked against the first."""
    rng = np.random.default_rng(4)
    network = random_network(rng, causes=6, nodes=8, links=3, graded=0.5)
    evidence = random_evidence(rng, network, present=3, absent=2, soft=2)
    total, present = by_rationals(network, evidence.weights)
    other, others = by_signed_sum(network, evidence.weights)
    assert other == pytest.approx(float(total), rel=1e-14)
    assert others == pytest.approx([float(p) for p in present], rel=1e-14)


# ------------------------------------------------------------------------------------------------ batches


def test_rows_may_differ_in_every_parameter() -> None:
    """Each row of a batch equals the same thing asked alone."""
    rng = np.random.default_rng(7)
    network = random_network(rng, causes=8, nodes=10, links=4, graded=0.4)
    evidence = random_evidence(rng, network, present=4, absent=3, soft=2)
    rows = 5
    prior = rng.uniform(0.05, 0.6, size=(8, rows))
    scale = {node: rng.uniform(0.5, 1.0, size=rows) for node in evidence.weights}
    weights = {n: w[:, None] * rng.uniform(0.2, 1.0, (len(w), rows)) for n, w in evidence.weights.items()}
    reach = {n: network.reach[network.place(n)][:, :, None] * s for n, s in scale.items()}
    leak = {n: network.leak[network.place(n)][:, None] * s for n, s in scale.items()}
    batch = posteriors(network, evidence, Variation(rows, prior, weights, reach, leak))
    for row in range(rows):
        alone = Network.of(
            network.causes, prior[:, row], {n: (reach[n][:, :, row], leak[n][:, row]) for n in evidence.weights}
        )
        one = posterior(alone, Evidence.of({n: w[:, row] for n, w in weights.items()}))
        assert batch.chance[row] == pytest.approx(one.chance, abs=1e-13)
        assert batch.log_evidence[row] == pytest.approx(one.log_evidence, abs=1e-12)


def test_rows_that_fold_and_rows_that_do_not() -> None:
    """One row says absent, one nothing, one present, one "below level 2": none disturbs the others."""
    network = Network.of(
        ("a", "b"), (0.3, 0.2), {"g": ([[0.7, 0.4], [0.6, 0.1]], [0.1, 0.05]), "f": ([[0.5], [0.8]], [0.1])}
    )
    columns = [[1, 0, 0], [1, 1, 1], [0, 0, 1], [1, 1, 0]]
    vary = Variation(4, weights={"g": np.array(columns, dtype=float).T})
    batch = posteriors(network, Evidence.of({"f": (0, 1)}), vary)
    for row, column in enumerate(columns):
        total, present = by_rationals(network, {"f": (0, 1), "g": column})
        assert batch.chance[row] == pytest.approx([float(p) for p in present], abs=1e-14)
        assert exp(batch.log_evidence[row]) == pytest.approx(float(total), rel=1e-13)


def test_folding_rows_with_their_own_links() -> None:
    """Absent in rows that differ in links, leak and level: as each alone."""
    network = Network.of(("a",), (0.3,), {"g": ([[0.7, 0.4]], [0.1, 0.05])})
    reach, leak = np.array([[[0.7, 0.9], [0.4, 0.2]]]), np.array([[0.1, 0.3], [0.05, 0.2]])
    weights = np.array([[1.0, 1.0], [0.0, 1.0], [0.0, 0.0]])
    batch = posteriors(network, Evidence(), Variation(2, weights={"g": weights}, reach={"g": reach}, leak={"g": leak}))
    # by hand: below level 1: .3*.9*.3 : .7*.9; below level 2: .3*.8*.8 : .7*.8
    assert batch.chance[:, 0] == pytest.approx([0.09 / 0.79, 0.24 / 0.94], abs=1e-14)
    assert np.exp(batch.log_evidence) == pytest.approx([0.9 * 0.79, 0.8 * 0.94], rel=1e-14)


def test_chunks_do_not_matter(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same batch in one piece and row by row."""
    rng = np.random.default_rng(2)
    network = random_network(rng, causes=12, nodes=20, links=5)
    evidence = random_evidence(rng, network, present=6, absent=4, soft=1)
    vary = Variation(30, keep=rng.uniform(0.1, 1.0, size=(12, 30)))
    whole = posteriors(network, evidence, vary)
    monkeypatch.setattr(kernel, "_CHUNK_STATES", 1)
    monkeypatch.setattr(kernel, "_CHUNK_ROWS", 4)
    pieces = posteriors(network, evidence, vary)
    assert np.array_equal(whole.chance, pieces.chance)
    assert np.array_equal(whole.log_evidence, pieces.log_evidence)


# ------------------------------------------------------------------------------------------------ properties


@given(networks_with_evidence(max_causes=6, max_nodes=6), st.randoms(use_true_random=False))
@CALM
def test_order_does_not_matter(case: tuple[Network, dict[str, list[float]]], random: object) -> None:
    """Readings in any order; chances lie between 0 and 1."""
    network, weights = case
    readings = list(Evidence.of(weights).readings)
    first = posterior(network, Evidence(tuple(readings)))
    random.shuffle(readings)  # type: ignore[attr-defined]
    second = posterior(network, Evidence(tuple(readings)))
    assert first.chance == pytest.approx(second.chance, abs=1e-13)
    assert np.all((first.chance >= 0) & (first.chance <= 1))
    assert first.log_evidence == pytest.approx(second.log_evidence, abs=1e-11)


@given(networks())
@CALM
def test_nothing_observed_leaves_the_base_rates(network: Network) -> None:
    """No evidence, equal weights, and a finding no cause is linked to move nothing."""
    apart = network.with_link("unlinked", {}, 0.3)
    weights = {node: [0.4] * network.levels(node) for node in network.nodes}
    for evidence in (Evidence(), Evidence.of(weights), Evidence.of({"unlinked": (0, 1)})):
        assert posterior(apart, evidence).chance == pytest.approx(network.prior, abs=1e-14)


@given(networks_with_evidence(), st.floats(1e-6, 1e6))
@CALM
def test_scale_of_weights_does_not_matter(case: tuple[Network, dict[str, list[float]]], factor: float) -> None:
    """Weights are ratios; the factor shows in P(evidence) only."""
    network, weights = case
    scaled = {node: [w * factor for w in given] for node, given in weights.items()}
    first, second = posterior(network, Evidence.of(weights)), posterior(network, Evidence.of(scaled))
    assert first.chance == pytest.approx(second.chance, abs=1e-12)
    assert second.log_evidence - first.log_evidence == pytest.approx(len(weights) * log(factor), abs=1e-9)


@given(networks(max_nodes=1))
@CALM
def test_an_absent_finding_with_one_cause_never_raises_it(network: Network) -> None:
    """True with a single linked cause only; with several an absent finding can raise one (another falls more)."""
    only = network.with_link("g", {"h0": 0.6}, 0.1)
    assert posterior(only, Evidence.of({"g": (1, 0)})).chance[0] <= network.prior[0] + 1e-15


def test_readings_of_one_finding_multiply() -> None:
    """Two unsure readings of one finding are one reading with the product."""
    network = Network.of(("a", "b"), (0.3, 0.2), {"f": ([[0.8], [0.5]], [0.1])})
    twice = Evidence(tuple(Reading(n, "f", np.array(w)) for n, w in (("one", (0.3, 0.7)), ("two", (0.5, 2.0)))))
    once = Evidence.of({"f": (0.15, 1.4)})
    assert posterior(network, twice).chance == pytest.approx(posterior(network, once).chance, abs=1e-15)


def test_a_present_finding_explained_away() -> None:
    """Two causes at .5, c .8 each, no leak: P(a | f) = .44/.64 by hand, and it falls once the other is likely."""
    network = Network.of(("a", "b"), (0.5, 0.5), {"f": ([[0.8], [0.8]], [0.0]), "only_b": ([[0.0], [0.9]], [0.01])})
    seen = posterior(network, Evidence.of({"f": (0, 1)})).chance[0]
    # P(f) = 1 - (.5+.5*.2)^2 = .64; P(a, f) = .5*(1 - .2*(.5+.5*.2)) = .44
    assert seen == pytest.approx(0.44 / 0.64, abs=1e-15)
    assert posterior(network, Evidence.of({"f": (0, 1), "only_b": (0, 1)})).chance[0] < seen


# ------------------------------------------------------------------------------------------------ edges


@pytest.mark.parametrize(
    "weights", [{"f": (0, 1)}, {"g": (1, 0)}, {"f": (0, 0)}, {"f": (0, 1), "g": (1, 0), "k": (0, 1)}]
)
def test_impossible_evidence_is_reported(weights: dict[str, tuple[float, float]]) -> None:
    """No division by zero: the base rates stay, and it says so."""
    network = Network.of(
        ("a", "b"), (0.3, 0.2),
        {"f": ([[0.0], [0.0]], [0.0]), "g": ([[0.0], [0.0]], [1.0]), "k": ([[0.5], [0.5]], [0.1])},
    )  # fmt: skip
    found = posterior(network, Evidence.of(weights))
    assert found.impossible
    assert found.log_evidence == -np.inf
    assert found.chance == pytest.approx([0.3, 0.2])


def test_impossible_where_two_causes_meet() -> None:
    """Impossible only jointly: both findings need the one cause that an absent one shuts out."""
    network = Network.of(
        ("a", "b"), (0.3, 0.2), {"f": ([[0.5], [0.0]], [0.0]), "g": ([[1.0], [0.3]], [0.0])}
    )
    batch = posteriors(network, Evidence.of({"f": (0, 1)}), Variation(2, weights={"g": np.array([[1.0, 0], [0, 1.0]])}))
    assert batch.impossible.tolist() == [True, False]
    assert batch.chance[0] == pytest.approx([0.3, 0.2])
    assert batch.chance[1] == pytest.approx([1.0, 0.2])


def test_very_unlikely_evidence_keeps_its_digits() -> None:
    """600 findings that hardly ever happen: P(evidence) is far below the least double, the chance still exact."""
    nodes = {f"f{k}": ([[0.002], [0.001]], [0.001]) for k in range(600)}
    network = Network.of(("a", "b"), (0.3, 0.2), nodes)
    open_six = Evidence.of({f"f{k}": (0, 1) if k < 6 else (1, 0) for k in range(600)})
    _, present = by_signed_sum(network, open_six.weights)
    assert posterior(network, open_six).chance == pytest.approx(present, rel=1e-11)
    alone = Network.of(("a",), (0.3,), {f"f{k}": ([[0.001]], [0.001]) for k in range(600)})
    found = posterior(alone, Evidence.of(dict.fromkeys(alone.nodes, (0, 1))))
    lit, dark = 600 * log(1 - 0.999**2), 600 * log(0.001)
    assert found.log_evidence == pytest.approx(log(0.3) + lit + np.log1p(0.7 / 0.3 * exp(dark - lit)), rel=1e-12)
    assert found.chance[0] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("weights", "words"),
    [({"f": (0, 1, 1)}, "f: 2 weights"), ({"f": (-1, 1)}, "0 or more"), ({"f": (float("nan"), 1)}, "0 or more"),
     ({"f": (1, float("nan"))}, "0 or more"),
     ({"f": (float("inf"), 1)}, "0 or more"), ({"x": (0, 1)}, "'x'")],
)  # fmt: skip
def test_refuses_evidence_that_does_not_fit(weights: dict[str, tuple[float, ...]], words: str) -> None:
    """Wrong length, sign, not a number, unknown finding."""
    network = Network.of(("a",), (0.3,), {"f": ([[0.5]], [0.1])})
    with pytest.raises(ValueError, match=words):
        posterior(network, Evidence.of(weights))


def test_links_of_one_and_leaks_of_nothing() -> None:
    """The network may hold 0 and 1 even though compiled knowledge never does."""
    network = Network.of(("a", "b"), (0.3, 0.2), {"f": ([[1.0], [0.5]], [0.0]), "g": ([[0.4], [1.0]], [0.0])})
    weights = {"f": (0, 1), "g": (0, 1)}
    _, present = by_rationals(network, weights)
    assert posterior(network, Evidence.of(weights)).chance == pytest.approx([float(p) for p in present], abs=1e-15)
