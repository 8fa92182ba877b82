"""Response to treatment: the hidden cause that answers to any hands, and a change as evidence.

A response is one more finding: its causes are what the option acts on and CONTACT, which is in every network and
linked to nothing else. It is added to a network only for the question at hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, log

import numpy as np

from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.kernel import LIMITS, Limits, posteriors
from reasoner.inference.network import Network, Numbers
from reasoner.inference.rows import Variation

__all__ = [
    "CONTACT", "response_chances", "response_pair", "response_reading", "silent_apart",
    "silent_held",
]

CONTACT = "responds_to_contact"


def response_chances(
    network: Network, evidence: Evidence, c: Numbers, leak: Numbers, *, limits: Limits = LIMITS
) -> Numbers:
    """P(response | evidence), (m,), for m candidate responses in one batch: c (m, n) links, leak (m,).

    1 - P(no response): one row each, with no finding more to sum over. Impossible evidence gives the base-rate answer.
    """
    count = c.shape[0]
    keep = np.concatenate([np.ones((network.prior.size, 1)), 1.0 - c.T], axis=1)
    batch = posteriors(network, evidence, Variation(rows=count + 1, keep=keep), limits=limits)
    if batch.impossible[0]:
        silent = (1.0 - network.prior * c).prod(axis=1)
    else:
        silent = np.exp(batch.log_evidence[1:] - batch.log_evidence[0])
    return np.asarray(np.clip(1.0 - (1.0 - leak) * silent, 0.0, 1.0))


def silent_apart(links: Mapping[int, Numbers | float], chance: Numbers) -> Numbers:
    """P(no response but for its leak) as if the causes were independent: links place -> c, chance (..., n) -> (...)."""
    silent = np.ones(chance.shape[:-1])
    for cause, c in links.items():
        silent = silent * (1.0 - c * chance[..., cause])
    return silent


def silent_held(now: float | Numbers, apart_now: float | Numbers, apart: Numbers) -> Numbers:
    """`apart` (see `silent_apart`), times what the exact figure differs from it by now."""
    bound = np.divide(now, apart_now, out=np.ones_like(np.asarray(now, dtype=float)), where=np.asarray(apart_now) > 0)
    return np.asarray(np.clip(bound * apart, 0.0, 1.0))


def response_pair(
    change: float, *, gain: float, gain_sd: float, drift: float, drift_sd: float, sem: float
) -> tuple[float, float]:
    """(l1, l0): density of an observed change with a true response, and with drift alone; the larger is 1.

    N(change; gain, gain_sd^2 + 2 sem^2) : N(change; drift, drift_sd^2 + 2 sem^2), in the measure's unit, benefit
    positive. Two normals of unequal spread cross twice; beyond the vertex the ratio is held, so that it never falls
    as the change grows. A gain no larger than drift says nothing: (1, 1). A verdict "worse" is not for this function:
    enter it as absent.

    With equal spreads the point half way says nothing:

    >>> response_pair(0.75, gain=1.0, gain_sd=0.5, drift=0.5, drift_sd=0.5, sem=0.3)
    (1.0, 1.0)
    """
    v1, v0 = gain_sd**2 + 2 * sem**2, drift_sd**2 + 2 * sem**2
    if gain <= drift or v1 <= 0 or v0 <= 0:
        return 1.0, 1.0
    if v1 != v0:
        vertex = (drift * v1 - gain * v0) / (v1 - v0)
        change = max(change, vertex) if v1 > v0 else min(change, vertex)
    log1 = -0.5 * ((change - gain) ** 2 / v1 + log(v1))
    log0 = -0.5 * ((change - drift) ** 2 / v0 + log(v0))
    top = max(log1, log0)
    return exp(log1 - top), exp(log0 - top)


def response_reading(name: str, node: str, pair: tuple[float, float]) -> Reading:
    """A pair (l1, l0) as a reading of a response node; (0, 1) for a verdict "worse"."""
    return Reading(name, node, np.array([pair[1], pair[0]]))
