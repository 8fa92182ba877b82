"""When too many findings are open at once: take the least telling ones as if the other causes were independent.

For a frozen finding with weights w, each cause's pair is multiplied by sum_l w(l) P(l | cause on) : P(l | cause off),
the other causes at their chances given everything not frozen (and given the frozen findings already taken, most
telling first). What is lost is only how causes compete over that finding. Unsure and measured findings are frozen
before plain "present" answers. The result is marked approximate by the caller.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from reasoner.inference.evidence import Evidence
from reasoner.inference.network import Network, Numbers
from reasoner.inference.order import plan
from reasoner.inference.rows import Digit, Frozen, Rows

__all__ = ["freeze", "independent_levels", "updated"]


def freeze(
    network: Network, evidence: Evidence, bits: float, rows: Rows, solve: Callable[[Evidence], Numbers]
) -> dict[str, Frozen]:
    """Tables of the findings to freeze so that at most `bits` are live.

    `rows`: built with nothing frozen; `solve`: exact chances (n,) for the evidence that is left.
    """
    chosen = _choose(network, evidence, bits, rows)
    chance = solve(Evidence(tuple(r for r in evidence.readings if r.node not in chosen)))
    tables: dict[str, Frozen] = {}
    for node in reversed(chosen):  # most telling first
        table = independent_levels(network, node, chance)
        tables[node] = table
        if node in evidence.weights:
            chance = updated(table, evidence.weights[node], chance)
    return tables


def independent_levels(network: Network, node: str, chance: Numbers) -> Frozen:
    """P(level | cause on), P(level | off), (n, K), and P(level), (K,), with independent causes at `chance` (n,)."""
    place = network.place(node)
    reach, leak = network.reach[place], network.leak[place]
    silent = 1.0 - chance[:, None] * reach
    before = np.cumprod(np.vstack([np.ones_like(leak), silent[:-1]]), axis=0)
    after = np.cumprod(np.vstack([np.ones_like(leak), silent[:0:-1]]), axis=0)[::-1]
    others = (1.0 - leak) * before * after  # P(below l) from everything but this cause
    whole = (1.0 - leak) * silent.prod(axis=0)
    return Frozen(_levels(others * (1.0 - reach)), _levels(others), _levels(whole[None])[0])


def _levels(below: Numbers) -> Numbers:
    """P(below l), l = 1..K-1, to P(level l), l = 0..K-1."""
    ends = np.zeros_like(below[:, :1]), np.ones_like(below[:, :1])
    return np.maximum(np.diff(np.hstack([ends[0], below, ends[1]]), axis=1), 0.0)


def updated(table: Frozen, weights: Numbers, chance: Numbers) -> Numbers:
    """Chances (n,) after a finding with these weights, each cause taken by itself."""
    on, off = chance * (table.on @ weights), (1.0 - chance) * (table.off @ weights)
    total = on + off
    return np.asarray(np.where(total > 0, on / np.where(total > 0, total, 1.0), chance))


def _choose(network: Network, evidence: Evidence, bits: float, rows: Rows) -> list[str]:
    """Nodes to freeze, least telling first: unsure before plain, then by how far they move the chances."""
    total = rows.on + rows.off  # 0 where a row takes a cause as present and as absent
    chance = (rows.on / np.where(total > 0, total, 1.0)).mean(axis=1)
    digits = {d.node: d for d in rows.digits}

    def key(node: str) -> tuple[bool, float]:
        weights = evidence.weights.get(node)
        if weights is None:  # open only because some row asks about it
            return False, 0.0
        plain = bool(np.any(weights == 0))
        return plain, float(np.abs(updated(independent_levels(network, node, chance), weights, chance) - chance).sum())

    chosen: list[str] = []
    for node in sorted(digits, key=key):
        left = [d for d in rows.digits if d.node not in chosen]
        if _peak(rows, left) <= bits:
            break
        chosen.append(node)
    return chosen


def _peak(rows: Rows, digits: Sequence[Digit]) -> float:
    parents = tuple(d.parents for d in digits)
    sizes = tuple(d.weights.shape[0] for d in digits)
    return plan(rows.off.shape[0], parents, sizes).peak_bits
