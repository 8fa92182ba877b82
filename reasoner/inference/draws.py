"""The same question asked again with every number drawn from its interval: how much hangs on the figures."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.kernel import LIMITS, Batch, Limits, posteriors
from reasoner.inference.network import Network, Numbers
from reasoner.inference.rows import Variation

__all__ = ["Intervals", "drawn", "draws", "stream", "triangular"]


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


def stream(seed: int, name: str) -> np.random.Generator:
    """Random numbers that belong to one thing: another thing more or less in the case leaves them as they are."""
    return np.random.default_rng([seed, crc32(name.encode())])


def draws(
    network: Network, intervals: Intervals, evidence: Evidence, seed: int, count: int, *, limits: Limits = LIMITS
) -> Batch:
    """`count` posteriors, chance (count, n), each with every number drawn anew (see `drawn`)."""
    return posteriors(network, evidence, drawn(network, intervals, evidence, seed, count), limits=limits)


def drawn(network: Network, intervals: Intervals, evidence: Evidence, seed: int, count: int) -> Variation:
    """`count` rows with base rates, the links and leaks of what was observed, and how readings of a group are read.

    Triangular within the interval, peak at the stated value; numbers are drawn independently, but the levels of one
    link move together, so that they keep their order. A finding beyond the intervals' (a response) keeps its numbers.
    """
    prior = triangular(intervals.prior, network.prior, stream(seed, "").random((network.prior.size, count)))
    reach, leak = {}, {}
    for node in evidence.weights:
        place = network.place(node)
        if place >= len(intervals.reach):
            continue
        levels, rng = network.leak[place].size, stream(seed, node)
        alone = np.repeat(rng.random((1, count)), levels, axis=0)
        leak[node] = triangular(intervals.leak[place], network.leak[place], alone)
        linked = np.flatnonzero(network.reach[place].any(axis=1))
        each = np.repeat(rng.random((linked.size, 1, count)), levels, axis=1)
        reach[node] = np.zeros((network.prior.size, levels, count))
        reach[node][linked] = triangular(intervals.reach[place][linked], network.reach[place][linked], each)
    return Variation(rows=count, prior=prior, reach=reach, leak=leak, weights=_read_otherwise(evidence, seed, count))


def _read_otherwise(evidence: Evidence, seed: int, count: int) -> dict[str, Numbers]:
    """Weights (2, count) of the groups with a reading whose own chances have an interval."""
    by_node: dict[str, list[Reading]] = {}
    for reading in evidence.readings:
        by_node.setdefault(reading.node, []).append(reading)
    return {
        node: _product(readings, seed, count)
        for node, readings in by_node.items()
        if any(r.member is not None and r.member.uncertain for r in readings)
    }


def _product(readings: Sequence[Reading], seed: int, count: int) -> Numbers:
    weights = np.ones((readings[0].weights.size, count))
    for reading in readings:
        member = reading.member
        if member is None or not member.uncertain:
            weights = weights * reading.weights[:, None]
            continue
        level = stream(seed, reading.name).random((2, count))
        ends = np.array([member.ends_present, member.ends_absent])
        a, b = triangular(ends, np.array([member.when_present, member.when_absent]), level)
        b = np.minimum(a, b)  # a reading never comes to speak for the opposite
        says = reading.says
        weights = weights * np.array([(1 - b) * says[0] + b * says[1], (1 - a) * says[0] + a * says[1]])
    return weights


def triangular(ends: Numbers, mode: Numbers, level: Numbers) -> Numbers:
    """Inverse of the triangular distribution at `level` (..., count); ends (..., 2), mode (...).

    Half of the draws lie below the peak of a symmetric one; no width, no spread:

    >>> triangular(np.array([[0.2, 0.6], [0.3, 0.3]]), np.array([0.4, 0.3]), np.array([[0.5], [0.9]])).tolist()
    [[0.4], [0.3]]
    """
    low, high, peak = ends[..., 0, None], ends[..., 1, None], mode[..., None]
    width = high - low
    share = np.divide(peak - low, width, out=np.zeros_like(width), where=width > 0)
    left = low + np.sqrt(level * width * (peak - low))
    right = high - np.sqrt((1.0 - level) * width * (high - peak))
    return np.minimum(np.maximum(np.where(level < share, left, right), low), high)
