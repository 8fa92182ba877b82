"""Evidence as likelihood weights: for each finding a vector over its levels, kept reading by reading as recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from reasoner.inference.groups import Member
from reasoner.inference.network import Numbers

__all__ = ["Evidence", "Reading"]


@dataclass(frozen=True, eq=False)
class Reading:
    """One observation: P(what was observed | the finding is at level l), up to a constant, for l = 0..K-1.

    `name` is what was asked or tested; `node` the finding it bears on (a group's members share one node).
    Yes/no: (0, 1) present, (1, 0) absent, (.3, .7) "present, .7 sure".
    """

    name: str
    node: str
    weights: Numbers
    # of a group's member: how it reads the sign, and what was observed of it as (not there, there)
    member: Member | None = None
    says: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True, eq=False)
class Evidence:
    """Readings in the order recorded. Readings of one node multiply."""

    readings: tuple[Reading, ...] = ()

    @classmethod
    def of(cls, weights: Mapping[str, Sequence[float]]) -> Evidence:
        """One reading a node, named like the node.

        >>> Evidence.of({"swelling": (0, 1)}).weights["swelling"].tolist()
        [0.0, 1.0]
        """
        return cls(tuple(Reading(n, n, np.array(w, dtype=np.float64)) for n, w in weights.items()))

    @cached_property
    def weights(self) -> Mapping[str, Numbers]:
        """Node -> product of its readings, shape (K,)."""
        found: dict[str, Numbers] = {}
        for reading in self.readings:
            earlier = found.get(reading.node)
            found[reading.node] = reading.weights if earlier is None else earlier * reading.weights
        return found

    def plus(self, *readings: Reading) -> Evidence:
        """With more readings after the others."""
        return Evidence((*self.readings, *readings))

    def without(self, name: str) -> Evidence:
        """As if this had not been asked."""
        return Evidence(tuple(r for r in self.readings if r.name != name))
