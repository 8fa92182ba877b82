"""Exact posteriors in batches. Cost is the number of states open at the peak times the rows; never unbounded.

Where the peak would pass what can be afforded, findings are frozen (see `freeze.py`) and the answer is marked
approximate; it is never silently so, and it never hangs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, log2

import numpy as np
import numpy.typing as npt

from reasoner.inference.evidence import Evidence
from reasoner.inference.freeze import freeze
from reasoner.inference.network import Network, Numbers
from reasoner.inference.order import Plan, plan
from reasoner.inference.rows import Frozen, Rows, Variation, build
from reasoner.inference.states import by_state, summed
from reasoner.inference.sweep import evidence_log, sweep

__all__ = ["LIMITS", "Batch", "Limits", "Posterior", "log_with", "peak_bits", "posterior", "posteriors"]


@dataclass(frozen=True, slots=True)
class Limits:
    """What is affordable. Bits: log2 of the states open at once; a finding with K levels is log2 K bits.

    live_bits: up to it everything is exact; above it candidates are ranked by the cheap formula first (policy:
    live_bits) and the best `exact` evaluated. row_bits: most for one row. work_bits: most for log2(rows * states).
    """

    live_bits: float = 14.0
    row_bits: float = 18.0
    work_bits: float = 22.5
    exact: int = 24

    def affordable(self, rows: int) -> float:
        """Most live bits for a batch of so many rows."""
        return min(self.row_bits, max(self.live_bits, self.work_bits - log2(max(rows, 1))))


LIMITS = Limits()
_CHUNK_STATES = 1 << 19  # states * rows handled at a time: 4 MB, so that it stays in cache,
_CHUNK_ROWS = 48  # but no fewer rows than make one inner loop worth its start,
_KEPT_STATES = 1 << 24  # and no more states than this (128 MB) kept for the way back


@dataclass(frozen=True, eq=False)
class Posterior:
    """chance: (n,) P(cause | evidence). log_evidence: natural log of P(evidence), -inf when impossible.

    Impossible evidence leaves the base rates in `chance`. `frozen`: findings taken approximately, if any.
    """

    chance: Numbers
    log_evidence: float
    impossible: bool = False
    frozen: tuple[str, ...] = ()
    peak_bits: float = 0.0  # of the sweep that found it

    @property
    def approximate(self) -> bool:
        """Was any finding taken approximately?"""
        return bool(self.frozen)


@dataclass(frozen=True, eq=False)
class Batch:
    """The same for many rows: chance (rows, n), log_evidence (rows,), impossible (rows,)."""

    chance: Numbers
    log_evidence: Numbers
    impossible: npt.NDArray[np.bool_]
    frozen: tuple[str, ...] = ()
    peak_bits: float = 0.0

    @property
    def approximate(self) -> bool:
        """Was any finding taken approximately?"""
        return bool(self.frozen)


def posterior(network: Network, evidence: Evidence, *, limits: Limits = LIMITS) -> Posterior:
    """P(cause | evidence) for every cause, and P(evidence).

    By hand: prior .3, sensitivity .8, specificity .7, so c = 1 - .2/.7, leak .3: .24/(.24+.21) and .06/(.06+.49).

    >>> net = Network.of(("a",), (0.3,), {"f": (((1 - 0.2 / 0.7,),), (0.3,))})
    >>> [round(float(posterior(net, Evidence.of({"f": w})).chance[0]), 4) for w in ((0, 1), (1, 0))]
    [0.5333, 0.1091]
    """
    batch = posteriors(network, evidence, limits=limits)
    return Posterior(
        batch.chance[0], float(batch.log_evidence[0]), bool(batch.impossible[0]), batch.frozen,
        batch.peak_bits,
    )  # fmt: skip


def posteriors(
    network: Network, evidence: Evidence, vary: Variation | None = None, *, limits: Limits = LIMITS
) -> Batch:
    """Posteriors of a batch of rows, in any of which every parameter may differ (see `Variation`).

    Raises ValueError for weights that do not fit their finding.
    """
    vary = vary if vary is not None else Variation()
    each = vary if network.coupling is None else by_state(network.coupling, network.prior[:, None], vary)
    rows, order, frozen = _affordable(network, evidence, each, limits)
    chance, log = _run(rows, order)
    if network.coupling is not None:
        log, chance = summed(log, network.coupling.states, chance)
    impossible = np.isneginf(log)
    if impossible.any():
        base = network.prior[:, None] if vary.prior is None else vary.prior
        chance = np.where(impossible, base, chance)
    return Batch(
        np.clip(chance.T, 0.0, 1.0), log, impossible, tuple(frozen), order.peak_bits
    )


def log_with(
    network: Network,
    evidence: Evidence,
    vary: Variation,
    keeps: Sequence[Mapping[int, Numbers]],
    *,
    limits: Limits = LIMITS,
) -> Numbers:
    """log P(evidence and something more absent), (m, rows), for m such things in turn, from one set of rows.

    keeps[k]: place of a cause -> factor (rows,) on "cause present": 1 - c of what is absent.
    """
    states = 1
    if network.coupling is not None:
        states, vary = network.coupling.states, by_state(network.coupling, network.prior[:, None], vary)
    rows, order, _ = _affordable(network, evidence, vary, limits)
    found = np.empty((len(keeps), rows.count))
    for k, keep in enumerate(keeps):
        off, on, log = _wide(rows.off, rows.count), _wide(rows.on, rows.count), rows.log.copy()
        for cause, factor in keep.items():
            lit = on[cause] * np.repeat(factor, states)
            total = off[cause] + lit
            with np.errstate(divide="ignore"):
                log += np.log(total)
            total = np.where(total > 0, total, 1.0)
            off[cause], on[cause] = off[cause] / total, lit / total
        found[k] = _logs(replace(rows, off=off, on=on, log=log), order)
    return found if states == 1 else summed(found, states)[0]


def _wide(array: Numbers, rows: int) -> Numbers:
    return np.array(np.broadcast_to(array, (array.shape[0], rows)))


def _affordable(
    network: Network, evidence: Evidence, vary: Variation, limits: Limits
) -> tuple[Rows, Plan, dict[str, Frozen]]:
    """Rows and order, with findings frozen where it would cost too much."""
    rows = build(network, evidence, vary)
    order = plan_for(rows)
    if order.peak_bits <= limits.affordable(vary.rows):
        return rows, order, {}
    whole = Limits(row_bits=inf, work_bits=inf)
    frozen = freeze(
        network, evidence, limits.affordable(vary.rows), rows,
        solve=lambda rest: posterior(network, rest, limits=whole).chance,
    )
    rows = build(network, evidence, vary, frozen)
    return rows, plan_for(rows), frozen


def peak_bits(network: Network, evidence: Evidence) -> float:
    """Live bits at the peak of a sweep with this evidence, nothing frozen."""
    return plan_for(build(network, evidence, Variation())).peak_bits


def plan_for(rows: Rows) -> Plan:
    """The sweep order for these rows."""
    return plan(
        rows.off.shape[0],
        tuple(d.parents for d in rows.digits),
        tuple(d.weights.shape[0] for d in rows.digits),
    )


def _run(rows: Rows, order: Plan) -> tuple[Numbers, Numbers]:
    """Sweep in chunks of rows: chance (n, rows), log (rows,)."""
    parts = [sweep(part, order) for part in _chunks(rows, order)]
    if len(parts) == 1:
        return parts[0].chance, parts[0].log
    return np.concatenate([p.chance for p in parts], axis=1), np.concatenate([p.log for p in parts])


def _logs(rows: Rows, order: Plan) -> Numbers:
    """log P(evidence) in chunks of rows, (rows,)."""
    return np.concatenate([evidence_log(part, order) for part in _chunks(rows, order)])


def _chunks(rows: Rows, order: Plan) -> list[Rows]:
    fits = max(_CHUNK_STATES / 2**order.peak_bits, _CHUNK_ROWS)
    width = int(min(fits, _KEPT_STATES / max(order.total_size, 1)))
    width = max(1, min(width, rows.count))
    if width == rows.count:
        return [rows]
    return [rows.part(k, min(k + width, rows.count)) for k in range(0, rows.count, width)]
