"""The code judged on patients drawn from its own network: are the chances what they say? Says nothing of the figures.

Answers go the way a session's do (`observe.weights`): yes or no to findings, tests of a group read with their error.
For each patient the sums over causes of (there - chance) and of (there - chance) * log odds both have mean 0 if and
only if the chances are right in level and in slope; their means over patients, with their own covariance, give a
chi-squared of 2 degrees of freedom, which passes 13.82 once in a thousand (standard table).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

import numpy as np

from reasoner.facts.observed import Observed
from reasoner.inference.compile import Compiled
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Numbers
from reasoner.inference.observe import weights
from reasoner.inference.simulate import Patients, simulate

__all__ = ["LIMIT", "Band", "SelfTest", "selftest", "wilson"]

LIMIT = 13.82
_ENDS = (0.0, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_CLIP = 1e-9


@dataclass(frozen=True, slots=True)
class Band:
    """Chances between `low` and `high`: how many, their mean, how many of them were there, and a 95 % interval."""

    low: float
    high: float
    count: int
    said: float
    there: int
    interval: tuple[float, float]


@dataclass(frozen=True, slots=True)
class SelfTest:
    """loss: bits a hypothesis, by list, as (base rates alone, after the answers). chi_squared: see the module."""

    patients: int
    answers: int
    bands: tuple[Band, ...]
    loss: dict[str, tuple[float, float]]
    chi_squared: float

    @property
    def holds(self) -> bool:
        """Would such a figure come up more often than once in a thousand with code that is right?"""
        return self.chi_squared < LIMIT


def selftest(compiled: Compiled, *, patients: int, answers: int, seed: int) -> SelfTest:
    """Draw patients, answer some findings of each at random, and set the chances beside what was there."""
    rng = np.random.default_rng(seed)
    network = compiled.network
    drawn = simulate(network, patients, rng)
    askable = [f for f in compiled.knowledge.findings if compiled.node(f) is not None]
    chance = np.empty((patients, network.prior.size))
    for k in range(patients):
        seen = [str(f) for f in rng.permutation(askable)[:answers]]
        chance[k] = posterior(network, weights(compiled, _answers(compiled, drawn, k, seen, rng))).chance
    places = [network.cause_index[h] for h in compiled.knowledge.hypotheses]
    said, there = chance[:, places], drawn.on[:, places].astype(np.float64)
    return SelfTest(patients, answers, _bands(said, there), _losses(compiled, said, there), _pooled(said, there))


def _answers(
    compiled: Compiled, drawn: Patients, patient: int, seen: Sequence[str], rng: np.random.Generator
) -> dict[str, Observed]:
    """Yes where the finding is there (at any level); a test of a group reads its sign with its own error."""
    found = {}
    for finding in seen:
        node = compiled.node(finding)
        assert node is not None
        there = bool(drawn.level[node][patient])
        member = compiled.members.get(finding)
        if member is not None:
            there = bool(rng.random() < (member.when_present if there else member.when_absent))
        found[finding] = Observed("present" if there else "absent")
    return found


def _bands(said: Numbers, there: Numbers) -> tuple[Band, ...]:
    made = []
    for low, high in pairwise(_ENDS):
        inside = (said >= low) & ((said < high) | (high == 1.0))
        count, hits = int(inside.sum()), int(there[inside].sum())
        if count:
            made.append(Band(low, high, count, float(said[inside].mean()), hits, wilson(hits, count)))
    return tuple(made)


def wilson(hits: int, count: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson's score interval of a share (Wilson 1927).

    >>> [round(x, 4) for x in wilson(8, 10)]  # (.8 + .19208 -+ 1.96 sqrt(.016 + .009604))/(1 + .38416)
    [0.4902, 0.9433]
    """
    share, square = hits / count, z * z / count
    middle, half = share + square / 2, z * sqrt(share * (1 - share) / count + square / (4 * count))
    return max(0.0, (middle - half) / (1 + square)), min(1.0, (middle + half) / (1 + square))


def _losses(compiled: Compiled, said: Numbers, there: Numbers) -> dict[str, tuple[float, float]]:
    prior = np.array([compiled.network.prior[compiled.network.cause_index[h]] for h in compiled.knowledge.hypotheses])
    lists = [h.list for h in compiled.knowledge.hypotheses.values()]
    before, after = _loss(np.broadcast_to(prior, said.shape), there), _loss(said, there)
    return {
        name: (float(before[:, own].mean()), float(after[:, own].mean()))
        for name in dict.fromkeys(lists)
        if (own := [k for k, of in enumerate(lists) if of == name])
    }


def _loss(chance: Numbers, there: Numbers) -> Numbers:
    kept = np.clip(chance, _CLIP, 1 - _CLIP)
    return np.asarray(-np.where(there > 0, np.log2(kept), np.log2(1 - kept)))


def _pooled(said: Numbers, there: Numbers) -> float:
    kept = np.clip(said, _CLIP, 1 - _CLIP)
    off = there - kept
    table = np.stack([off.sum(axis=1), (off * (np.log(kept) - np.log1p(-kept))).sum(axis=1)], axis=1)
    mean = table.mean(axis=0)
    return float(len(table) * mean @ np.linalg.pinv(np.cov(table.T)) @ mean)
