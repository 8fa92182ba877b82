"""One row a joint state of the causes that hang together (see `coupling`), and the sum over the states again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reasoner.inference.coupling import Coupling
from reasoner.inference.network import Numbers
from reasoner.inference.rows import Variation

__all__ = ["by_state", "summed"]


def by_state(coupling: Coupling, prior: Numbers, vary: Variation) -> Variation:
    """Each row once a state, states of a row next to each other; log P(state) is in `log`. prior: (n, 1), shared."""
    rates, share = coupling.given(prior if vary.prior is None else vary.prior)
    count, states = vary.rows, coupling.states

    def wide(array: Numbers) -> Numbers:
        return array if array.shape[-1] == 1 else np.repeat(array, states, axis=-1)

    with np.errstate(divide="ignore"):
        log = np.broadcast_to(np.log(share), (count, states)).reshape(-1)
    return replace(
        vary,
        rows=count * states,
        prior=np.broadcast_to(rates, (len(rates), count, states)).reshape(len(rates), -1),
        weights={node: wide(w) for node, w in vary.weights.items()},
        reach={node: wide(r) for node, r in vary.reach.items()},
        leak={node: wide(k) for node, k in vary.leak.items()},
        keep=None if vary.keep is None else wide(vary.keep),
        drop=None if vary.drop is None else wide(vary.drop),
        log=log if vary.log is None else log + np.repeat(vary.log, states),
    )


def summed(log: Numbers, states: int, chance: Numbers | None = None) -> tuple[Numbers, Numbers]:
    """Over the states of each row: log of the sum (..., R), and chances (n, R) as their mean by share.

    log: (..., R * states); chance: (n, R * states), or None where only the first is wanted.
    """
    each = log.reshape(*log.shape[:-1], -1, states)
    top = each.max(axis=-1)
    part = np.exp(each - np.where(np.isneginf(top), 0.0, top)[..., None])
    whole = part.sum(axis=-1)
    with np.errstate(divide="ignore"):
        found = np.log(whole) + np.where(np.isneginf(top), 0.0, top)
    if chance is None:
        return found, np.zeros((0, found.shape[-1]))
    share = part / np.where(whole > 0, whole, 1.0)[..., None]
    return found, np.einsum("nrs,rs->nr", chance.reshape(len(chance), -1, states), share)
