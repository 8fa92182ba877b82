"""Shared hypothesis strategies and random networks. Chances stay inside (0, 1) unless a test says otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from reasoner.inference.evidence import Evidence
from reasoner.inference.network import Network

# few examples and the same ones every run: the deep search is for the marker `slow`
CALM = settings(
    max_examples=40, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)

chances = st.floats(0.01, 0.97, allow_nan=False)


@st.composite
def networks(draw: Any, max_causes: int = 5, max_nodes: int = 5, max_levels: int = 4) -> Network:
    """Small networks; some links absent, findings of 2 to `max_levels` levels."""
    causes = draw(st.integers(1, max_causes))
    prior = draw(st.lists(chances, min_size=causes, max_size=causes))
    nodes = {}
    for k in range(draw(st.integers(1, max_nodes))):
        cuts = draw(st.integers(1, max_levels - 1))
        column = st.lists(chances, min_size=cuts, max_size=cuts).map(lambda x: sorted(x, reverse=True))
        link = st.one_of(st.just([0.0] * cuts), column)
        nodes[f"f{k}"] = (draw(st.lists(link, min_size=causes, max_size=causes)), draw(column))
    return Network.of(tuple(f"h{i}" for i in range(causes)), prior, nodes)


@st.composite
def weight_vectors(draw: Any, levels: int) -> list[float]:
    """Hard level, hard absent, or unsure weights."""
    kind = draw(st.sampled_from(["level", "absent", "soft"]))
    if kind == "soft":
        return list(draw(st.lists(st.floats(0.05, 4.0), min_size=levels, max_size=levels)))
    hit = 0 if kind == "absent" else draw(st.integers(0, levels - 1))
    return [float(k == hit) for k in range(levels)]


@st.composite
def networks_with_evidence(draw: Any, **sizes: int) -> tuple[Network, dict[str, list[float]]]:
    """A small network and weights on some of its findings."""
    network = draw(networks(**sizes))
    asked = draw(st.lists(st.sampled_from(network.nodes), unique=True))
    return network, {node: draw(weight_vectors(network.levels(node))) for node in asked}


def random_network(
    rng: np.random.Generator, causes: int, nodes: int, *, links: int = 4, graded: float = 0.25
) -> Network:
    """A seeded network: `links` causes a finding, a share of findings graded with 3 or 4 levels."""
    bands = np.array([0.95, 0.8, 0.6, 0.35, 0.15, 0.05])
    table = {}
    for k in range(nodes):
        cuts = int(rng.integers(2, 4)) if rng.random() < graded else 1
        reach = np.zeros((causes, cuts))
        for cause in rng.choice(causes, size=min(links, causes), replace=False):
            reach[cause] = np.sort(rng.choice(bands, size=cuts))[::-1] * rng.uniform(0.9, 1.0)
        table[f"f{k}"] = (reach, np.sort(rng.uniform(0.02, 0.2, size=cuts))[::-1])
    return Network.of(tuple(f"h{i}" for i in range(causes)), rng.uniform(0.01, 0.5, size=causes), table)


def random_evidence(
    rng: np.random.Generator, network: Network, *, present: int, absent: int, soft: int = 0
) -> Evidence:
    """Seeded evidence: hard present (a top or middle level), absent, and soft findings, all different."""
    picked = rng.permutation(network.nodes)
    weights: dict[str, list[float]] = {}
    for place, node in enumerate(picked[: present + absent + soft]):
        levels = network.levels(str(node))
        hit = int(rng.integers(1, levels)) if place < present else 0
        weights[str(node)] = (
            [float(k == hit) for k in range(levels)]
            if place < present + absent
            else [float(w) for w in rng.uniform(0.05, 3.0, size=levels)]
        )
    return Evidence.of(weights)
