"""Beliefs on one side under draws of every number from its interval; what steadiness and ranges are read from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log2

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.inference.draws import drawn
from reasoner.inference.kernel import Batch, posteriors
from reasoner.inference.network import Numbers
from reasoner.inference.rows import Variation

__all__ = ["COUNT", "SEED", "Drawn", "draw", "inside"]

COUNT = 200
SEED = 20
_MOST_BITS = 18.0  # log2 of states times draws: beyond it the step would be felt
_INSIDE = (0.05, 0.95)


@dataclass(frozen=True, eq=False)
class Drawn:
    """Posteriors under `COUNT` draws of every number: what varied, and the batch, chance (COUNT, n)."""

    vary: Variation
    batch: Batch
    causes: tuple[str, ...]

    def ranges(self) -> Mapping[str, tuple[float, float]]:
        """Cause -> 5th to 95th hundredth of its chance."""
        low, high = np.quantile(self.batch.chance, _INSIDE, axis=0)
        return {cause: (float(low[k]), float(high[k])) for k, cause in enumerate(self.causes)}


def inside(values: Numbers) -> tuple[float, float]:
    """5th to 95th hundredth of draws (COUNT,)."""
    low, high = np.quantile(values, _INSIDE)
    return float(low), float(high)


def draw(believed: Beliefs) -> Drawn | None:
    """The draws for one side; None where they would cost too much or the answers are impossible.

    The same seed every time, and each number its own stream: an answer more leaves the other draws as they are.
    """
    costs = believed.posterior.peak_bits + log2(COUNT)
    if costs > _MOST_BITS or believed.posterior.impossible or believed.posterior.approximate:
        return None
    network, evidence = believed.network, believed.evidence
    vary = drawn(network, believed.compiled.intervals, evidence, SEED, COUNT)
    return Drawn(vary, posteriors(network, evidence, vary), network.causes)
