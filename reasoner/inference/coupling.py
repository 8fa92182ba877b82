"""Causes that hang together: drivers that shift others' base rates, and variants of which at most one is there.

A unit is one driver, or the variants of one problem. A joint state says for each unit which of its causes is there, or
none. Given a state all causes are independent, so a row of the batch becomes one row a state, each with its own base
rates, and the rows are summed with the states' shares: exact by total probability.

A base rate stays what it says, the chance over all states: with ln(odds ratio) L(i, s) of what is there in state s,

    P(i | s) = 1 / (1 + exp(-(b_i + L(i, s)))),   b_i such that   sum over s of P(s) P(i | s) = base rate of i

By hand: a driver in .5 with odds ratio 6, base rate .4. From 1 in 4 (odds 1/3) to odds 2 is six times: rates 1/4 and
2/3 would mean .4583; at odds 1/4 and 3/2 they are .2 and .6, whose mean is .4:

>>> coupled = Coupling(((0,),), np.array([[0.0], [np.log(6.0)]]))
>>> rates, share = coupled.given(np.array([[0.5], [0.4]]))
>>> share.tolist(), rates[1, 0].round(12).tolist()
([[0.5, 0.5]], [0.2, 0.6])

Certain states (0 and 1) fold into the pairs (off, on) as they are; no odds are formed in the sweep.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
import numpy.typing as npt

__all__ = ["Coupling"]

Numbers = npt.NDArray[np.float64]
_NEWTON = 60
_TINY = 1e-12


@dataclass(frozen=True, eq=False)
class Coupling:
    """units: places of causes, each unit one driver or the variants of one problem.

    shift: (n, m), ln odds ratio by which the m causes of the units, in their order, move cause n; 0 for most.
    """

    units: tuple[tuple[int, ...], ...]
    shift: Numbers

    @cached_property
    def there(self) -> Numbers:
        """(S, m), 1 where a state has this cause of the units. The first state has none."""
        each = [np.vstack([np.zeros(len(unit)), np.eye(len(unit))]) for unit in self.units]
        return np.array([np.concatenate(rows) for rows in product(*each)])

    @property
    def states(self) -> int:
        """How many joint states there are."""
        return len(self.there)

    @cached_property
    def members(self) -> npt.NDArray[np.intp]:
        """(m,) places of the units' causes."""
        return np.array([cause for unit in self.units for cause in unit], dtype=np.intp)

    @cached_property
    def driven(self) -> npt.NDArray[np.intp]:
        """Places of the causes whose base rate depends on the state."""
        return np.flatnonzero(self.shift.any(axis=1))

    def given(self, prior: Numbers) -> tuple[Numbers, Numbers]:
        """From base rates (n, R): rates given each state (n, R, S), and the states' shares (R, S)."""
        share = self._shares(prior)
        rates = np.repeat(prior[:, :, None], self.states, axis=2)
        rates[self.members] = self.there.T[:, None, :]
        if self.driven.size:
            rates[self.driven] = _moved(prior[self.driven], self.shift[self.driven] @ self.there.T, share)
        return rates, share

    def _shares(self, prior: Numbers) -> Numbers:
        """P(state), (R, S)."""
        each = []
        for unit in self.units:
            inside = prior[list(unit)]  # (k, R)
            whole = np.maximum(inside.sum(axis=0), 1.0)  # more than one in all: they share it
            each.append(np.vstack([1.0 - inside.sum(axis=0) / whole, inside / whole]))
        share = np.ones((1, prior.shape[1]))
        for values in each:
            share = (share[:, None] * np.maximum(values, 0.0)[None]).reshape(-1, prior.shape[1])
        return np.ascontiguousarray(share.T)


def _moved(goal: Numbers, shift: Numbers, share: Numbers) -> Numbers:
    """Rates (d, R, S) with log odds b + shift (d, S) whose mean under `share` (R, S) is `goal` (d, R)."""
    kept = np.clip(goal, _TINY, 1.0 - _TINY)
    start = np.log(kept) - np.log1p(-kept)
    low, high = start - shift.max(axis=1, keepdims=True), start - shift.min(axis=1, keepdims=True)
    b = start - (share @ shift.T).T
    for _ in range(_NEWTON):
        rates = 1.0 / (1.0 + np.exp(-(b[:, :, None] + shift[:, None, :])))
        off = np.einsum("drs,rs->dr", rates, share) - kept
        slope = np.einsum("drs,rs->dr", rates * (1.0 - rates), share)
        low, high = np.where(off <= 0, b, low), np.where(off >= 0, b, high)
        step = b - off / slope
        step = np.where((step < low) | (step > high), (low + high) / 2, step)
        if np.all(np.abs(step - b) <= 4e-16 * np.maximum(np.abs(b), 1.0)):
            break
        b = step
    rates = 1.0 / (1.0 + np.exp(-(b[:, :, None] + shift[:, None, :])))
    certain = (goal <= 0) | (goal >= 1)
    return np.where(certain[:, :, None], goal[:, :, None], rates)
