"""The network as plain arrays: causes above, findings below, each finding the highest level any cause pushes it to.

Noisy-OR and its graded form, noisy-MAX (Heckerman 1989 for the two-layer family; Diez 1993 for MAX). With u_i(l)
the chance that cause i *alone* pushes the finding to level l or higher, and leak u_0(l) the same with no cause,

    P(finding below level l | causes present H)  =  (1 - u_0(l)) * prod over i in H of (1 - u_i(l))

A yes/no finding has one level above 0: u_i(1) = c_i and P(absent | H) = (1 - leak) * prod (1 - c_i).
This is the only place where the formula is written; `chance_below` is it. By hand, the published fever example
(cold .4, flu .8, malaria .9, no leak) and one with a leak (.1; .8 and .6):

>>> fever = Network.of(
...     ("cold", "flu", "malaria"), (0.1, 0.1, 0.1), {"fever": (((0.4,), (0.8,), (0.9,)), (0.0,))}
... )
>>> for present in (["flu", "malaria"], ["cold", "malaria"], ["cold", "flu"], ["cold", "flu", "malaria"]):
...     print(round(1 - chance_below(fever, "fever", 1, present), 12))  # 1-.2*.1, 1-.6*.1, 1-.6*.2, 1-.6*.2*.1
0.98
0.94
0.88
0.988
>>> leaky = Network.of(("a", "b"), (0.5, 0.5), {"f": (((0.8,), (0.6,)), (0.1,))})
>>> [round(1 - chance_below(leaky, "f", 1, on), 12) for on in (["b"], ["a"], ["a", "b"])]  # 1-.9*.4, 1-.9*.2, ...
[0.64, 0.82, 0.928]

A graded finding, levels 0, 1, 2; below 2 with both present: (1-.05)*(1-.3)*(1-.2) = .532:

>>> graded = Network.of(("a", "b"), (0.5, 0.5), {"g": (((0.6, 0.3), (0.5, 0.2)), (0.1, 0.05))})
>>> round(chance_below(graded, "g", 2, ["a", "b"]), 12)
0.532

A cause that is not known to be present or absent is summed over with its prior; a finding not asked is left out;
"absent" is evidence. Priors of the causes are independent, but for those that `coupling.Coupling` names.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from reasoner.inference.coupling import Coupling

__all__ = ["Network", "Numbers", "chance_below", "touched"]

Numbers = npt.NDArray[np.float64]
_ROUNDING = 1e-12


@dataclass(frozen=True, eq=False)
class Network:
    """Causes with priors, findings with what each cause does to them. Build with `Network.of`, which checks.

    prior: (n,) chances. reach[f]: (n, K-1), column l-1 = chance that the cause alone pushes f to level l or higher.
    leak[f]: (K-1,), the same with no cause present. Columns never rise with the level.
    """

    causes: tuple[str, ...]
    prior: Numbers
    nodes: tuple[str, ...] = ()
    reach: tuple[Numbers, ...] = ()
    leak: tuple[Numbers, ...] = ()
    coupling: Coupling | None = None  # None: causes are independent of each other
    # what the kernel worked out from reach and leak alone; networks that share those share it
    memo: dict[Any, Any] = field(default_factory=dict, repr=False)

    @classmethod
    def of(
        cls,
        causes: Sequence[str],
        prior: Sequence[float] | Numbers,
        nodes: Mapping[str, tuple[Sequence[Sequence[float]] | Numbers, Sequence[float] | Numbers]],
        coupling: Coupling | None = None,
    ) -> Network:
        """A checked network; `nodes` maps a finding to (reach, leak). Raises ValueError saying what is wrong."""
        if len(set(causes)) != len(causes):
            raise ValueError("the same cause twice")
        priors = np.array(prior, dtype=np.float64)
        if priors.shape != (len(causes),) or not np.all((priors >= 0) & (priors <= 1)):
            raise ValueError(f"priors must be {len(causes)} chances between 0 and 1")
        network = cls(tuple(causes), priors)
        checked = [_checked(name, reach, leak, len(causes)) for name, (reach, leak) in nodes.items()]
        return replace(
            network,
            nodes=tuple(nodes),
            reach=tuple(reach for reach, _ in checked),
            leak=tuple(leak for _, leak in checked),
            coupling=coupling,
        )

    @cached_property
    def node_index(self) -> Mapping[str, int]:
        """Finding -> its place in `nodes`."""
        return {name: place for place, name in enumerate(self.nodes)}

    @cached_property
    def cause_index(self) -> Mapping[str, int]:
        """Cause -> its place in `causes`."""
        return {name: place for place, name in enumerate(self.causes)}

    def levels(self, node: str) -> int:
        """How many levels a finding has: 2 for yes/no."""
        return int(self.leak[self.place(node)].shape[0]) + 1

    def place(self, node: str) -> int:
        """Place of a finding. Raises ValueError for one the network does not hold."""
        try:
            return self.node_index[node]
        except KeyError:
            raise ValueError(f"the network holds no finding {node!r}") from None

    def with_node(
        self, name: str, reach: Sequence[Sequence[float]] | Numbers, leak: Sequence[float] | Numbers
    ) -> Network:
        """The same network with one finding more (a response to treatment, say). Arrays are shared, not copied."""
        if name in self.node_index:
            raise ValueError(f"the network already holds {name!r}")
        good_reach, good_leak = _checked(name, reach, leak, len(self.causes))
        return replace(
            self,
            nodes=(*self.nodes, name),
            reach=(*self.reach, good_reach),
            leak=(*self.leak, good_leak),
            memo={},
        )

    def with_link(self, name: str, links: Mapping[str, float], leak: float) -> Network:
        """`with_node` for a yes/no finding, links by cause name."""
        reach = np.zeros((len(self.causes), 1))
        for cause, chance in links.items():
            reach[self.cause_index[cause], 0] = chance
        return self.with_node(name, reach, (leak,))

    def without(self, nodes: Collection[str]) -> Network:
        """The same network with some findings left out."""
        kept = [k for k, name in enumerate(self.nodes) if name not in nodes]
        return replace(
            self,
            nodes=tuple(self.nodes[k] for k in kept),
            reach=tuple(self.reach[k] for k in kept),
            leak=tuple(self.leak[k] for k in kept),
            memo={},
        )

    def with_prior(self, prior: Numbers) -> Network:
        """The same network with other base rates, shape (n,)."""
        return replace(self, prior=prior)


def chance_below(network: Network, node: str, level: int, present: Iterable[str]) -> float:
    """P(node < level | exactly these causes are present), the formula at the head of this module."""
    place = network.place(node)
    on = [network.cause_index[cause] for cause in present]
    return float((1 - network.leak[place][level - 1]) * np.prod(1 - network.reach[place][on, level - 1]))


def touched(network: Network, nodes: Iterable[str]) -> npt.NDArray[np.bool_]:
    """(n,) True for a cause that bears on one of these findings, or hangs together with others.

    The rest is independent of all, given those findings.
    """
    found = np.zeros(len(network.causes), dtype=bool)
    if network.coupling is not None:
        found[[*network.coupling.members, *network.coupling.driven]] = True
    for node in nodes:
        found |= network.reach[network.place(node)].any(axis=1)
    return found


def _checked(
    name: str, reach: Sequence[Sequence[float]] | Numbers, leak: Sequence[float] | Numbers, causes: int
) -> tuple[Numbers, Numbers]:
    good_reach, good_leak = np.array(reach, dtype=np.float64), np.array(leak, dtype=np.float64)
    if good_leak.ndim != 1 or good_leak.size == 0 or good_reach.shape != (causes, good_leak.size):
        raise ValueError(f"{name}: reach must be (causes, levels-1) and leak (levels-1,)")
    both = np.vstack([good_reach, good_leak[None]])
    if not np.all((both >= 0) & (both <= 1)):
        raise ValueError(f"{name}: chances must lie between 0 and 1")
    if np.any(np.diff(both, axis=1) > _ROUNDING):
        raise ValueError(f"{name}: the chance to reach a level must not rise with the level")
    # rounding must not leave a negative share for a level
    both = np.minimum.accumulate(both, axis=1)
    return both[:-1], both[-1]
