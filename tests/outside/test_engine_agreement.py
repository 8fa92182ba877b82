"""The engine beside an independent one (pyagrum), to 1e-9; every kind of evidence and of network it knows.

40 random networks in the default run; the whole 200, and the shipped network in every setting, with
`python -m pytest -m slow tests/outside/test_engine_agreement.py`. Each network has graded findings, hard and absent and
unsure answers; two of four have a group read by two or three noisy tests, one of four drivers or variants.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.inference.compile import compile_network
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.explain import joint
from reasoner.inference.groups import Member
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from tests.inference.test_coupling import UNITS, coupled
from tests.inference.test_shipped import observations
from tests.oracles import by_library
from tests.strategies import random_evidence, random_network

DEFAULT, ALL = 40, 200


def _case(seed: int) -> tuple[Network, Evidence]:
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=int(rng.integers(4, 10)), nodes=14, links=3, graded=0.4)
    if seed % 4 == 3:
        network = coupled(rng, network, UNITS[seed % 3])
    evidence = random_evidence(rng, network, present=3, absent=3, soft=2)
    signs = [n for n in network.nodes if n not in evidence.weights and network.levels(n) == 2]
    if seed % 2 and signs:
        evidence = evidence.plus(*_readings(rng, signs[0]))
    return network, evidence


def _readings(rng: np.random.Generator, sign: str) -> list[Reading]:
    """Two or three noisy tests of one sign: sure, unsure, or absent and masked."""
    made = []
    for k in range(int(rng.integers(2, 4))):
        a, b = rng.uniform(0.5, 0.99), rng.uniform(0.01, 0.4)
        says = [(0.0, 1.0), (1.0, 0.0), (0.3, 0.7), (1.0, 0.4)][int(rng.integers(4))]
        member = Member(f"t{k}", sign, a, b)
        made.append(Reading(f"t{k}", sign, np.array(says) @ member.table, member, says))
    return made


def _agrees(seed: int) -> None:
    network, evidence = _case(seed)
    found = posterior(network, evidence)
    assert not found.approximate
    assert np.abs(found.chance - by_library(network, evidence.weights)).max() < 1e-9


@pytest.mark.parametrize("seed", range(DEFAULT))
def test_random_networks(seed: int) -> None:
    _agrees(seed)


@pytest.mark.slow
def test_all_of_them() -> None:
    worst = 0.0
    for seed in range(ALL):
        network, evidence = _case(seed)
        off = np.abs(posterior(network, evidence).chance - by_library(network, evidence.weights)).max()
        worst = max(worst, float(off))
    print(f"\n{ALL} networks: worst difference {worst:.1e}")
    assert worst < 1e-9


@pytest.mark.slow
def test_the_shipped_network_in_every_setting(knowledge: Knowledge) -> None:
    """Three times over: random answers, modifiers that hold, some measures."""
    worst = 0.0
    for seed, setting in enumerate([*knowledge.settings] * 3):
        rng = np.random.default_rng(seed)
        holding = {
            (h.id, n) for h in knowledge.hypotheses.values() for n in range(len(h.modifiers)) if rng.random() < 0.15
        }
        compiled = compile_network(knowledge, setting, holding)
        evidence = observations(compiled, rng, 12)
        found = posterior(compiled.network, evidence)
        assert not found.approximate
        off = np.abs(found.chance - by_library(compiled.network, evidence.weights)).max()
        worst = max(worst, float(off))
    print(f"\nshipped network, {len(knowledge.settings)} settings three times: worst difference {worst:.1e}")
    assert worst < 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_joint_table_of_six_by_brute_force(seed: int) -> None:
    """P(six leading causes jointly): every one of 2^n states summed with the formula of the network, 1e-12."""
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=9, nodes=10, links=3, graded=0.3)
    evidence = random_evidence(rng, network, present=3, absent=2, soft=1)
    if seed % 2:
        network = coupled(rng, network, UNITS[seed % 3])
    six = [network.causes[int(k)] for k in np.argsort(-posterior(network, evidence).chance)[:6]]
    table = joint(network, evidence, six)
    wanted = np.zeros((2,) * 6)
    given = network.coupling.given(network.prior[:, None]) if network.coupling is not None else None
    rates = [network.prior] if given is None else [given[0][:, 0, s] for s in range(given[0].shape[2])]
    shares = [1.0] if given is None else list(given[1][0])
    places = [network.cause_index[c] for c in six]
    for state in product((0, 1), repeat=9):
        on = np.array(state, dtype=bool)
        mass = sum(w * np.prod(np.where(on, r, 1 - r)) for w, r in zip(shares, rates, strict=True))
        for node, weight in evidence.weights.items():
            place = network.place(node)
            below = (1 - network.leak[place]) * np.prod(1 - network.reach[place][on], axis=0)
            mass *= np.diff(np.concatenate([[0.0], below, [1.0]])) @ weight
        wanted[tuple(int(state[p]) for p in places)] += mass
    assert np.abs(table - wanted / wanted.sum()).max() < 1e-12


def test_the_comparison_can_fail() -> None:
    """A leak off by 1e-6 is seen at 1e-9."""
    network, evidence = _case(0)
    off = tuple(np.minimum(k + 1e-6, 1.0) for k in network.leak)
    other = replace(network, leak=off, memo={})
    assert np.abs(posterior(other, evidence).chance - by_library(network, evidence.weights)).max() > 1e-9
