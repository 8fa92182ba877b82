"""A batch of rows for the kernel: what each row's network and evidence leave to be summed over.

Rows are the last, contiguous axis everywhere; an array whose last axis is 1 is shared by all rows. Evidence that
says only "below level m" (for yes/no: absent) folds into a cause's pair (off, on): exact, no digit needed.
Everything else keeps a digit: the highest level reached so far. Pairs stay pairs; no odds are formed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from reasoner.inference.evidence import Evidence
from reasoner.inference.network import Network, Numbers

__all__ = ["Digit", "Frozen", "Rows", "Variation", "build"]


@dataclass(frozen=True, eq=False)
class Variation:
    """How rows differ from the network and evidence given; every field may be left out. R = `rows`.

    prior: (n, R). weights[node]: (K, R), in place of the evidence on that node. reach[node]: (n, K-1, R).
    leak[node]: (K-1, R). keep, drop: (n, R), a factor on "cause present" (extra absent evidence) and on "cause
    absent"; 0 takes the cause as absent, or as present. log: (R,), added to the log of P(evidence).
    """

    rows: int = 1
    prior: Numbers | None = None
    weights: Mapping[str, Numbers] = field(default_factory=dict)
    reach: Mapping[str, Numbers] = field(default_factory=dict)
    leak: Mapping[str, Numbers] = field(default_factory=dict)
    keep: Numbers | None = None
    drop: Numbers | None = None
    log: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Frozen:
    """A finding taken as if the other causes were independent.

    on, off: (n, K), P(level | cause on), P(level | cause off); level: (K,), P(level).
    """

    on: Numbers
    off: Numbers
    level: Numbers


@dataclass(eq=False, slots=True)
class Digit:
    """One open finding, the highest level reached so far, and what a cause that is present does to it.

    parents: causes that touch it. moves: (parents, K, K, R or 1), chance to get to a level from a level: one at l
    stays with 1 - u(l+1), from any lower one it goes to l with u(l) - u(l+1). start: (K, R or 1), the leak's share of
    each level; weights: (K, R or 1), largest 1.
    """

    node: str
    parents: tuple[int, ...]
    moves: Numbers
    start: Numbers
    weights: Numbers


@dataclass(frozen=True, eq=False)
class Rows:
    """off, on: (n, R or 1), summing to 1 in each row; log: (R,), log of every factor taken out; digits share axes."""

    count: int
    off: Numbers
    on: Numbers
    log: Numbers
    digits: tuple[Digit, ...]

    def part(self, first: int, last: int) -> Rows:
        """Rows first..last-1."""

        def cut(array: Numbers) -> Numbers:
            return array if array.shape[-1] == 1 else np.ascontiguousarray(array[..., first:last])

        digits = tuple(
            Digit(d.node, d.parents, cut(d.moves), cut(d.start), cut(d.weights)) for d in self.digits
        )
        return Rows(last - first, cut(self.off), cut(self.on), self.log[first:last], digits)


def build(
    network: Network, evidence: Evidence, vary: Variation, frozen: Mapping[str, Frozen] | None = None
) -> Rows:
    """Rows for a network, evidence and what varies. Raises ValueError for weights of a wrong length or sign."""
    count = vary.rows
    prior = network.prior[:, None] if vary.prior is None else vary.prior
    on, off = prior.copy(), 1.0 - prior
    log = np.zeros(count) if vary.log is None else vary.log.astype(np.float64, copy=True)
    digits: list[Digit] = []
    absent: list[tuple[Numbers, float]] = []  # of what every row shares: folded in at once, numpy is slow on so little
    told = frozen or {}
    weights = {**{node: w[:, None] for node, w in evidence.weights.items()}, **vary.weights}
    for node, given in weights.items():
        place = network.place(node)
        varies = node in vary.reach or node in vary.leak
        if given.shape == (2, 1) and given[1, 0] == 0.0 and given[0, 0] == 1.0 and not varies and node not in told:
            absent.append((network.reach[place][:, 0], network.leak[place][0]))
            continue
        weight, scale = _scaled(node, given, network.leak[place].shape[0] + 1)
        log += scale
        if node in told:
            on, off = _fold_frozen(told[node], weight, on, off, log)
            continue
        reach = vary.reach.get(node, network.reach[place][:, :, None])
        leak = vary.leak.get(node, network.leak[place][:, None])
        if _is_below(weight):
            keep, share = _below(weight, reach, leak)
            on = on * keep
            log += _log(share)
        else:
            digits.append(_digit(node, weight, reach, leak, {} if varies else network.memo))
    if absent:
        on = on * (1.0 - np.array([reach for reach, _ in absent])).prod(axis=0)[:, None]
        log += _log(1.0 - np.array([leak for _, leak in absent])).sum()
    if vary.keep is not None:
        on = on * vary.keep
    if vary.drop is not None:
        off = off * vary.drop
    total = on + off
    log += _log(total).sum(axis=0)
    total = np.where(total > 0, total, 1.0)
    return Rows(count, off / total, on / total, log, tuple(digits))


def _scaled(node: str, weights: Numbers, levels: int) -> tuple[Numbers, Numbers | float]:
    """Weights with the largest 1 in each row, and the log of what was taken out; impossible rows become all ones."""
    if weights.ndim != 2 or weights.shape[0] != levels:
        raise ValueError(f"{node}: {levels} weights needed, one a level")
    if weights.shape[1] == 1 and 1.0 in (column := weights[:, 0].tolist()) and all(0.0 <= w <= 1.0 for w in column):
        return weights, 0.0  # the usual case, and numpy is slow on so little
    top = weights.max(axis=0)
    if not (weights.min() >= 0 and np.isfinite(top).all()):
        raise ValueError(f"{node}: weights must be numbers of 0 or more")
    if np.all(top == 1.0):
        return weights, 0.0
    return np.where(top > 0, weights / np.where(top > 0, top, 1.0), 1.0), _log(top)


def _is_below(weight: Numbers) -> bool:
    """Is every row either silent (all ones) or "below level m" (ones, then zeros)?"""
    if weight.shape[1] == 1:  # the usual case, and numpy is slow on so little
        column = weight[:, 0].tolist()
        ones = column.count(1.0)
        return bool(column == [1.0] * ones + [0.0] * (len(column) - ones))
    return bool(np.all((weight == 0) | (weight == 1)) and np.all(weight[:-1] >= weight[1:]))


def _below(weight: Numbers, reach: Numbers, leak: Numbers) -> tuple[Numbers, Numbers]:
    """Factor on "cause present" (n, R or 1) and on P(evidence) (R or 1) of "below level m", m from the ones."""
    cut = weight.sum(axis=0).astype(np.intp) - 1  # level m is column m-1; m = K (silent) is the column of zeros added
    if cut.shape[0] == 1 and cut[0] < reach.shape[1]:
        return 1.0 - reach[:, cut[0]], 1.0 - leak[cut[0]]
    reach = np.concatenate([reach, np.zeros_like(reach[:, :1])], axis=1)
    leak = np.concatenate([leak, np.zeros_like(leak[:1])], axis=0)
    if cut.shape[0] == 1:
        return 1.0 - reach[:, cut[0]], 1.0 - leak[cut[0]]
    rows = np.arange(cut.shape[0])
    return (
        1.0 - reach[:, cut, rows if reach.shape[-1] > 1 else 0],
        1.0 - leak[cut, rows if leak.shape[-1] > 1 else 0],
    )


def _digit(node: str, weight: Numbers, reach: Numbers, leak: Numbers, memo: dict[Any, Any]) -> Digit:
    """A digit over the levels that the weights tell apart: neighbours of equal weight are one level."""
    key: Any = node
    if weight.shape[0] > 2:
        cuts = np.flatnonzero((weight[1:] != weight[:-1]).any(axis=1))
        reach, leak, weight, key = reach[:, cuts], leak[cuts], weight[[0, *(cuts + 1)]], (node, *cuts.tolist())
    if key not in memo:
        memo[key] = _moves(reach, leak)
    parents, moves, start = memo[key]
    return Digit(node, parents, moves, start, weight)


def _moves(reach: Numbers, leak: Numbers) -> tuple[tuple[int, ...], Numbers, Numbers]:
    """(parents, moves, start) of a digit from u of its levels: reach (n, K-1, R or 1), leak (K-1, R or 1)."""
    parents = np.flatnonzero(reach[:, 0].any(axis=1))  # what reaches a level reaches the lower ones
    reach = reach[parents]
    levels = leak.shape[0] + 1
    moves = np.zeros((len(parents), levels, levels, reach.shape[2]))
    start = np.empty((levels, leak.shape[1]))
    moves[:, 0, 0] = 1.0 - reach[:, 0]
    start[0] = 1.0 - leak[0]
    for level in range(1, levels):
        last = level == levels - 1
        moves[:, level, level] = 1.0 if last else 1.0 - reach[:, level]
        moves[:, level, :level] = (reach[:, level - 1] - (0.0 if last else reach[:, level]))[:, None]
        start[level] = leak[level - 1] - (0.0 if last else leak[level])
    return tuple(parents.tolist()), moves, start


def _fold_frozen(
    table: Frozen, weight: Numbers, on: Numbers, off: Numbers, log: Numbers
) -> tuple[Numbers, Numbers]:
    """Fold a frozen finding's share into the pairs; P(evidence) gets it once."""
    whole = table.level @ weight
    log += _log(whole)
    whole = np.where(whole > 0, whole, 1.0)
    return on * (table.on @ weight) / whole, off * (table.off @ weight) / whole


def _log(value: Numbers) -> Numbers:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(value))
