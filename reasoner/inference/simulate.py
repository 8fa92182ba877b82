"""Patients drawn from a network: which causes are there, and how far each pushes every finding."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reasoner.inference.network import Network

__all__ = ["Patients", "simulate"]


@dataclass(frozen=True, eq=False)
class Patients:
    """on: (N, n) causes there; level[node]: (N,) level reached."""

    on: npt.NDArray[np.bool_]
    level: Mapping[str, npt.NDArray[np.intp]]


def simulate(network: Network, count: int, rng: np.random.Generator) -> Patients:
    """`count` patients: causes by their base rates (and what they hang together with), each pushing by itself.

    A finding takes the highest level that any cause that is there, or the leak, pushes it to.
    """
    n = network.prior.size
    rates = np.repeat(network.prior[:, None], count, axis=1)
    if network.coupling is not None:
        given, share = network.coupling.given(network.prior[:, None])
        rates = given[:, 0, rng.choice(network.coupling.states, size=count, p=share[0] / share[0].sum())]
    on = (rng.random((n, count)) < rates).T
    level = {}
    for node, reach, leak in zip(network.nodes, network.reach, network.leak, strict=True):
        pushed = (rng.random(count)[:, None] < leak).sum(axis=1)
        for cause in np.flatnonzero(reach.any(axis=1)):
            alone = (rng.random(count)[:, None] < reach[cause]).sum(axis=1)
            pushed = np.maximum(pushed, np.where(on[:, cause], alone, 0))
        level[node] = pushed
    return Patients(on, level)
