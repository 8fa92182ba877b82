"""The same question asked again with every number drawn from its interval: how much hangs on the figures."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import LIMITS, Batch, Limits, posteriors
from reasoner.inference.network import Network, Numbers
from reasoner.inference.rows import Variation

__all__ = ["Intervals", "draws"]


@dataclass(frozen=True, eq=False)
class Intervals:
    """Low and high ends beside a network's numbers: prior (n, 2); reach[f] (n, K-1, 2); leak[f] (K-1, 2)."""

    prior: Numbers
    reach: tuple[Numbers, ...]
    leak: tuple[Numbers, ...]

    @classmethod
    def none(cls, network: Network) -> Intervals:
        """Every number exactly as it is."""
        return cls(
            np.stack([network.prior] * 2, axis=-1),
            tuple(np.stack([r] * 2, axis=-1) for r in network.reach),
            tuple(np.stack([k] * 2, axis=-1) for k in network.leak),
        )

    def with_prior(self, prior: Numbers) -> Intervals:
        """The same with other base rates, (n, 2)."""
        return replace(self, prior=prior)

    def without(self, network: Network, nodes: Collection[str]) -> Intervals:
        """Findings left out; `network` is the one these intervals belong to."""
        kept = [k for k, name in enumerate(network.nodes) if name not in nodes]
        return Intervals(self.prior, tuple(self.reach[k] for k in kept), tuple(self.leak[k] for k in kept))


def draws(
    network: Network,
    intervals: Intervals,
    evidence: Evidence,
    rng: np.random.Generator,
    count: int,
    *,
    limits: Limits = LIMITS,
) -> Batch:
    """`count` posteriors, chance (count, n), each with every number drawn anew.

    Triangular within the interval, peak at the stated value; numbers are drawn independently, but the levels of one
    link move together, so that they keep their order. A finding beyond the intervals' (a response) keeps its numbers.
    """
    prior = _triangular(intervals.prior, network.prior, rng.random((network.prior.size, count)))
    reach, leak = {}, {}
    for node in evidence.weights:
        place = network.place(node)
        if place >= len(intervals.reach):
            continue
        levels = network.leak[place].size
        each = np.repeat(rng.random((network.prior.size, 1, count)), levels, axis=1)
        reach[node] = _triangular(intervals.reach[place], network.reach[place], each)
        alone = np.repeat(rng.random((1, count)), levels, axis=0)
        leak[node] = _triangular(intervals.leak[place], network.leak[place], alone)
    vary = Variation(rows=count, prior=prior, reach=reach, leak=leak)
    return posteriors(network, evidence, vary, limits=limits)


def _triangular(ends: Numbers, mode: Numbers, level: Numbers) -> Numbers:
    """Inverse of the triangular distribution at `level` (..., count); ends (..., 2), mode (...)."""
    low, high, peak = ends[..., 0, None], ends[..., 1, None], mode[..., None]
    width = high - low
    share = np.divide(peak - low, width, out=np.zeros_like(width), where=width > 0)
    left = low + np.sqrt(level * width * (peak - low))
    right = high - np.sqrt((1.0 - level) * width * (high - peak))
    return np.clip(np.where(level < share, left, right), low, high)
