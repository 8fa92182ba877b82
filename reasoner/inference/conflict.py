"""Do the answers fit together in any picture? Their surprise beside what is to be expected of the same questions.

Surprise is -log P(answers), which is the sum of -log P(answer | answers before it). Of a patient whom the network
describes, each term has mean H(p) and variance V(p), p the chance of that answer before it was given:

    H(p) = -p log p - (1-p) log(1-p)        V(p) = p (1-p) (log p - log(1-p))^2

and the terms less their means are uncorrelated (each is foreseen from all before it), so that

    z = sum of (-log p - H(p)) / sqrt(sum of V(p))

is about standard normal (prequential test; Seillier-Moiseiwitsch and Dawid 1993, "On testing the validity of
sequential probability forecasts"). It says what simulating patients of whom the same was asked says, for one batch in
place of hundreds (a test compares the two). This holds for answers of which there are two, yes and no, also unsure and
masked ones. A measured number or a response has a density, not a chance: it is taken as known before the answers and
not counted itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.explain import prefixes
from reasoner.inference.kernel import LIMITS, Limits, posteriors
from reasoner.inference.network import Network, Numbers
from reasoner.inference.rows import Variation

__all__ = ["Surprise", "left_alone", "surprise"]

_CLIP = 1e-12


@dataclass(frozen=True, slots=True)
class Surprise:
    """z: how far beyond what is to be expected, in standard deviations. counted: answers that went into it."""

    z: float
    counted: int


def surprise(
    network: Network, evidence: Evidence, counts: Callable[[Reading], bool], *, limits: Limits = LIMITS
) -> Surprise:
    """Of the readings that count (weights P(what was said | level), of two answers), in the order recorded.

    By hand: two causes of nothing in common, .9 each (c .5, leak 0): each finding is there in .45. Neither is there:
    -log .55 - H(.45) = .5978 - .6881, V = .45 * .55 * log(.55/.45)^2 = .009966, so z = 2 * -.0903 / sqrt(2 * .009966)

    >>> network = Network.of(("a", "b"), (0.9, 0.9), {"f": ([[0.5], [0.0]], [0.0]), "g": ([[0.0], [0.5]], [0.0])})
    >>> said = Evidence.of({"f": (1, 0), "g": (1, 0)})
    >>> round(surprise(network, said, lambda r: True).z, 2)
    -1.28
    """
    first = [r for r in evidence.readings if not counts(r)]
    counted = [r for r in evidence.readings if counts(r)]
    ordered = Evidence((*first, *counted))
    rows = len(ordered.readings) + 1
    batch = posteriors(network, ordered, Variation(rows=rows, weights=prefixes(network, ordered)), limits=limits)
    if not counted or batch.impossible.any():
        return Surprise(0.0, 0)
    p = np.clip(np.exp(np.diff(batch.log_evidence)[len(first) :]), _CLIP, 1.0 - _CLIP)
    q = 1.0 - p
    beyond = -np.log(p) - (-p * np.log(p) - q * np.log(q))
    spread = p * q * (np.log(p) - np.log(q)) ** 2
    return Surprise(float(beyond.sum() / np.sqrt(max(spread.sum(), _CLIP))), len(counted))


def left_alone(network: Network, evidence: Evidence, *, limits: Limits = LIMITS) -> Numbers:
    """P(what was said | everything else), (readings,): the smaller, the worse it goes with the rest."""
    rows = len(evidence.readings) + 1
    weights: dict[str, Numbers] = {}
    for node in evidence.weights:
        weights[node] = np.repeat(evidence.weights[node][:, None], rows, axis=1)
    for row, reading in enumerate(evidence.readings, start=1):
        weights[reading.node][:, row] = evidence.without(reading.name).weights.get(reading.node, 1.0)
    log = posteriors(network, evidence, Variation(rows=rows, weights=weights), limits=limits).log_evidence
    return np.asarray(np.exp(log[0] - log[1:]))
