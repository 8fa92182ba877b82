"""What an answer would do, against asking again with the answer given."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.groups import Member
from reasoner.inference.kernel import Limits, posterior
from reasoner.inference.network import Network
from reasoner.inference.questions import Asked, candidates, entropy_bits, gain_bits, silent_given
from tests.strategies import CALM, networks_with_evidence, random_evidence, random_network


@given(networks_with_evidence(max_nodes=6))
@CALM
def test_every_answer_equals_asking_again(case: tuple[Network, dict[str, list[float]]]) -> None:
    """For every finding, asked or not, and every level: its chance and the chances after it."""
    network, weights = case
    evidence = Evidence.of(weights)
    found = candidates(network, evidence, network.nodes)
    before = posterior(network, evidence)
    if before.impossible:
        return
    for q, node in enumerate(network.nodes):
        for level in range(network.levels(node)):
            hit = np.eye(network.levels(node))[level]
            after = posterior(network, evidence.plus(Reading("next", node, hit)))
            chance = exp(after.log_evidence - before.log_evidence)
            assert found.answer[q, level] == pytest.approx(chance, abs=1e-12)
            if chance > 1e-6:
                assert found.given[q, level] == pytest.approx(after.chance, abs=1e-8)
    assert np.all(gain_bits(found) >= 0)
    assert not found.approximate


@pytest.mark.parametrize("start", [None, (0.6, 1.3)])
def test_a_group_member_is_a_mixture(start: tuple[float, float] | None) -> None:
    """A noisy reading of a sign, before and after another reading of it, equals entering its pair."""
    network = Network.of(
        ("h", "g", "k"), (0.3, 0.2, 0.4),
        {"sign": ([[0.7], [0.2], [0.0]], [0.1]), "other": ([[0.5], [0.6], [0.8]], [0.05])},
    )  # fmt: skip
    member = Member("test", "sign", 0.9, 0.15)
    evidence = Evidence.of({"other": (0, 1)} | ({"sign": start} if start else {}))
    found = candidates(network, evidence, [Asked("test", "sign", member.table), "sign"])
    before = posterior(network, evidence)
    for answer, (l0, l1) in enumerate([(0.85, 0.1), (0.15, 0.9)]):
        after = posterior(network, evidence.plus(Reading("test", "sign", np.array([l0, l1]))))
        assert found.answer[0, answer] == pytest.approx(exp(after.log_evidence - before.log_evidence), abs=1e-14)
        assert found.given[0, answer] == pytest.approx(after.chance, abs=1e-12)
    gains = gain_bits(found)
    assert 0 < gains[0] < gains[1], "a noisy reading is worth less than the sign itself"


def test_what_is_known_is_worth_nothing() -> None:
    """A finding already present or absent, or linked to nothing, gains nothing; the hidden cause can be left out."""
    network = Network.of(
        ("h", "k"), (0.3, 0.2), {n: ([[0.7], [0.4]], [0.1]) for n in ("f", "g", "e")} | {"u": ([[0], [0]], [0.2])}
    )
    found = candidates(network, Evidence.of({"f": (0, 1), "g": (1, 0)}), ["f", "g", "u", "e"])
    assert gain_bits(found)[:3] == pytest.approx([0, 0, 0], abs=1e-12)
    only_h = gain_bits(found, np.array([1.0, 0.0]))
    assert 0 < only_h[3] < gain_bits(found)[3]
    assert gain_bits(found, np.zeros(2)) == pytest.approx([0, 0, 0, 0])


def test_impossible_evidence_asks_nothing() -> None:
    """No division by zero: every gain is 0."""
    network = Network.of(("h",), (0.3,), {"f": ([[0.0]], [0.0]), "g": ([[0.5]], [0.1])})
    found = candidates(network, Evidence.of({"f": (0, 1)}), ["g"])
    assert found.now.impossible
    assert gain_bits(found).tolist() == [0.0]


def test_above_the_limit_the_best_are_exact_and_it_says_so() -> None:
    """Cheap order first, then the best few exactly: equal to the exact figures, the rest marked."""
    rng = np.random.default_rng(11)
    network = random_network(rng, causes=12, nodes=40, links=4, graded=0.2)
    evidence = random_evidence(rng, network, present=6, absent=4, soft=1)
    unasked = [n for n in network.nodes if n not in evidence.weights]
    whole = candidates(network, evidence, unasked)
    few = candidates(network, evidence, unasked, limits=Limits(live_bits=2, row_bits=30, work_bits=40, exact=8))
    assert not whole.approximate
    assert few.approximate
    assert few.exact.sum() == 8
    exact, mixed = gain_bits(whole), gain_bits(few)
    assert mixed[few.exact] == pytest.approx(exact[few.exact], abs=1e-12)
    assert few.exact[int(np.argmax(exact))], "the exact best is among those looked at exactly"
    assert few.answer.sum(axis=1) == pytest.approx(np.ones(len(unasked)))


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5))
@CALM
def test_entropy_is_symmetric_and_at_most_one(chances: list[float]) -> None:
    """H(p) = H(1-p), between 0 and 1 bit."""
    p = np.array(chances)
    assert entropy_bits(p) == pytest.approx(entropy_bits(1 - p), abs=1e-12)
    assert np.all((entropy_bits(p) >= 0) & (entropy_bits(p) <= 1 + 1e-15))


@pytest.mark.parametrize("seed", range(6))
def test_a_response_after_every_answer(seed: int) -> None:
    """P(no response | evidence, answer) for every answer, graded ones and a group's member too, against one network."""
    rng = np.random.default_rng(seed)
    small = random_network(rng, causes=6, nodes=9, links=3)
    network = Network.of(
        (*small.causes, "free"), [*small.prior, 0.25],
        {n: (np.vstack([r, np.zeros_like(r[:1])]), k)
         for n, r, k in zip(small.nodes, small.reach, small.leak, strict=True)},
    )  # fmt: skip
    evidence = random_evidence(rng, network, present=2, absent=2, soft=1)
    asked = [Asked(n, n) for n in network.nodes if n not in evidence.weights]
    plain = next(a for a in asked if network.levels(a.node) == 2)
    asked.append(Asked("member", plain.node, Member("member", plain.node, 0.8, 0.2).table))
    links: list[dict[str, float]] = [
        {"h0": 0.6}, {"h0": 0.6, "h1": 0.4}, {"h1": 0.4, "h0": 0.6}, {"free": 0.3, "h2": 0.5},
        {"h2": 0.2, "free": 0.9, "h3": 0.7},
    ]  # fmt: skip
    found = candidates(network, evidence, asked)
    silent = silent_given(network, evidence, asked, found, links)
    for q, one in enumerate(asked):
        for answer in range(network.levels(one.node)):
            level = np.eye(network.levels(one.node))[answer] if one.table is None else one.table[answer]
            given = evidence.plus(Reading(one.name, one.node, level))
            before = posterior(network, given).log_evidence
            for k, link in enumerate(links):
                more = network.with_link("r", link, 0.0)
                after = posterior(more, given.plus(Reading("r", "r", np.array([1.0, 0.0])))).log_evidence
                assert silent[k, q, answer] == pytest.approx(np.exp(after - before), abs=1e-10)
