"""Why the chances are what they are: one reading left out at a time, step by step, and a few causes jointly."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import LIMITS, Limits, posteriors
from reasoner.inference.network import Network, Numbers
from reasoner.inference.rows import Variation

__all__ = ["MOST_JOINT", "joint", "leave_one_out", "prefixes", "steps"]

MOST_JOINT = 6
_CLIP = 1e-15  # log odds stay finite


def leave_one_out(network: Network, evidence: Evidence, *, limits: Limits = LIMITS) -> Numbers:
    """P(cause | all readings but one), (readings, n), in the order recorded. The differences do not add up."""
    count = len(evidence.readings)
    if not count:
        return np.zeros((0, len(network.causes)))
    weights = {}
    for node, places in _by_node(evidence).items():
        weights[node] = np.repeat(evidence.weights[node][:, None], count, axis=1)
        for place in places:
            weights[node][:, place] = _product(network, evidence, node, [p for p in places if p != place])
    return posteriors(network, evidence, Variation(rows=count, weights=weights), limits=limits).chance


def steps(network: Network, evidence: Evidence, *, limits: Limits = LIMITS) -> Numbers:
    """What each reading added to every cause's log odds (nats), (readings, n), in the order recorded.

    They add up to the whole move from base rate to posterior; another order would share it out otherwise.
    """
    vary = Variation(rows=len(evidence.readings) + 1, weights=prefixes(network, evidence))
    kept = np.clip(posteriors(network, evidence, vary, limits=limits).chance, _CLIP, 1.0 - _CLIP)
    return np.diff(np.log(kept) - np.log1p(-kept), axis=0)


def prefixes(network: Network, evidence: Evidence) -> dict[str, Numbers]:
    """Weights (K, readings + 1) of every node in rows with the first 0, 1, 2, ... readings only."""
    weights = {}
    for node, places in _by_node(evidence).items():
        weights[node] = np.ones((network.levels(node), len(evidence.readings) + 1))
        for done, place in enumerate(places, start=1):
            weights[node][:, place + 1 :] = _product(network, evidence, node, places[:done])[:, None]
    return weights


def _by_node(evidence: Evidence) -> dict[str, list[int]]:
    """Node -> places of its readings."""
    found: dict[str, list[int]] = {}
    for place, reading in enumerate(evidence.readings):
        found.setdefault(reading.node, []).append(place)
    return found


def _product(network: Network, evidence: Evidence, node: str, places: Sequence[int]) -> Numbers:
    """Weights of a node from the readings at these places."""
    weights = np.ones(network.levels(node))
    for place in places:
        weights = weights * evidence.readings[place].weights
    return weights


def joint(network: Network, evidence: Evidence, causes: Sequence[str], *, limits: Limits = LIMITS) -> Numbers:
    """P(these causes jointly | evidence): shape (2,) * len(causes), index 1 = present. At most six causes.

    Raises ValueError for more, or for evidence that is impossible.
    """
    if len(causes) > MOST_JOINT:
        raise ValueError(f"at most {MOST_JOINT} causes jointly")
    places = [network.cause_index[cause] for cause in causes]
    states = np.array(list(product((0.0, 1.0), repeat=len(places))))
    keep, drop = np.ones((2, len(network.causes), len(states)))
    keep[places], drop[places] = states.T, 1.0 - states.T
    vary = Variation(rows=len(states), keep=keep, drop=drop)
    log = posteriors(network, evidence, vary, limits=limits).log_evidence
    top = log.max()
    if np.isneginf(top):
        raise ValueError("the evidence is impossible")
    mass = np.exp(log - top)
    return np.asarray((mass / mass.sum()).reshape((2,) * len(places)))
