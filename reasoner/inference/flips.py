"""Which single number, changed within its interval, would put another cause first soonest; exact, in one batch.

P(cause and evidence) is linear in every base rate, link and leak taken by itself, and P(evidence) cancels where two
causes are compared. So two rows a number, at the ends of its interval, give both lines, and they cross where they do.
Base rates that hang together (`coupling`) give no straight line: there the crossing is closed in on by halving.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from reasoner.inference.draws import Intervals
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import LIMITS, Limits, posteriors
from reasoner.inference.network import Network, Numbers
from reasoner.inference.rows import Variation

__all__ = ["Flip", "Parameter", "flips"]

_LEAST = 1e-9  # width below which an interval is none
_MOST_ROWS = 1024  # at a time
_HALVINGS = 30


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number of a network, with its interval. node "" for a base rate, cause "" for a leak; level from 1."""

    kind: Literal["base_rate", "link", "leak"]
    cause: str
    node: str
    level: int
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Flip:
    """At `at`, between its stated value and an end of its interval, `other` draws level; `share` of the way there."""

    parameter: Parameter
    other: str
    at: float
    share: float


def flips(
    network: Network,
    intervals: Intervals,
    evidence: Evidence,
    lead: str,
    rivals: Sequence[str],
    *,
    limits: Limits = LIMITS,
) -> tuple[Flip, ...]:
    """Every single number that would put a rival before `lead`, soonest first; the first rival it would put there.

    Only numbers that bear on the evidence. Raises ValueError where the rows are too many open findings to be exact.
    """
    parameters = [p for p in _parameters(network, intervals, evidence) if p.high - p.low > _LEAST]
    first, others = network.cause_index[lead], [network.cause_index[r] for r in rivals if r != lead]
    found = []
    for start in range(0, len(parameters) if others else 0, _MOST_ROWS // 2):
        part = parameters[start : start + _MOST_ROWS // 2]
        batch = posteriors(network, evidence, _rows(network, evidence, part), limits=limits)
        if batch.approximate:
            raise ValueError("too many findings are open at once for exact figures")
        mass = batch.chance * np.exp(batch.log_evidence - np.max(batch.log_evidence))[:, None]
        ahead = mass[:, first, None] - mass[:, others]  # (rows, rivals)
        for k, parameter in enumerate(part):
            found += list(_crossings(parameter, ahead[2 * k], ahead[2 * k + 1], [network.causes[o] for o in others]))
    bent = [f for f in found if _bends(network, f.parameter)]
    straight = [f for f in found if f not in bent]
    best: dict[Parameter, Flip] = {}
    for flip in sorted([*straight, *_closed_in(network, evidence, lead, bent, limits)], key=lambda f: f.share):
        best.setdefault(flip.parameter, flip)
    return tuple(best.values())


def _crossings(parameter: Parameter, low: Numbers, high: Numbers, others: Sequence[str]) -> Iterator[Flip]:
    """Where the lead over each rival, linear from `low` to `high`, is nothing; only on the way out from the value."""
    for place, other in enumerate(others):
        a, b = float(low[place]), float(high[place])
        if (a < 0) == (b < 0):
            continue  # never behind, or behind throughout
        at = parameter.low + (parameter.high - parameter.low) * a / (a - b)
        end = parameter.low if a < 0 else parameter.high
        if (at - parameter.value) * (end - parameter.value) >= 0 and end != parameter.value:
            yield Flip(parameter, other, at, (at - parameter.value) / (end - parameter.value))


def _bends(network: Network, parameter: Parameter) -> bool:
    """Is it a base rate on which P(cause and evidence) does not depend linearly?"""
    coupling = network.coupling
    if coupling is None or parameter.kind != "base_rate":
        return False
    return network.cause_index[parameter.cause] in (*coupling.members, *coupling.driven)


def _closed_in(
    network: Network, evidence: Evidence, lead: str, flips_: Sequence[Flip], limits: Limits
) -> Iterator[Flip]:
    """Halve each interval, value to end, until the two are level; all in one batch a step."""
    if not flips_:
        return
    first, others = network.cause_index[lead], [network.cause_index[f.other] for f in flips_]
    causes = [network.cause_index[f.parameter.cause] for f in flips_]
    near = np.array([f.parameter.value for f in flips_])
    end = np.array([f.parameter.low if f.at < f.parameter.value else f.parameter.high for f in flips_])
    far, rows = end.copy(), np.arange(len(flips_))
    for _ in range(_HALVINGS):
        middle = (near + far) / 2
        prior = np.repeat(network.prior[:, None], len(flips_), axis=1)
        prior[causes, rows] = middle
        chance = posteriors(network, evidence, Variation(rows=len(flips_), prior=prior), limits=limits).chance
        ahead = chance[:, first] > chance[rows, others]
        near, far = np.where(ahead, middle, near), np.where(ahead, far, middle)
    for k, flip in enumerate(flips_):
        value = flip.parameter.value
        yield Flip(flip.parameter, flip.other, float(far[k]), float((far[k] - value) / (end[k] - value)))


def _parameters(network: Network, intervals: Intervals, evidence: Evidence) -> Iterator[Parameter]:
    for place, cause in enumerate(network.causes):
        low, high = intervals.prior[place]
        yield Parameter("base_rate", cause, "", 0, float(network.prior[place]), float(low), float(high))
    for node in evidence.weights:
        at = network.place(node)
        if at >= len(intervals.reach):
            continue
        for row in np.flatnonzero(network.reach[at].any(axis=1)):
            values, ends = network.reach[at][row], intervals.reach[at][row]
            yield from _levels("link", network.causes[int(row)], node, values, ends)
        yield from _levels("leak", "", node, network.leak[at], intervals.leak[at])


def _levels(
    kind: Literal["link", "leak"], cause: str, node: str, values: Numbers, ends: Numbers
) -> Iterator[Parameter]:
    """One number a level, kept between its neighbours: a chance to reach a level never rises with it."""
    for k, value in enumerate(values):
        least = float(values[k + 1]) if k + 1 < len(values) else 0.0
        most = float(values[k - 1]) if k else 1.0
        low, high = max(float(ends[k, 0]), least), min(float(ends[k, 1]), most)
        yield Parameter(kind, cause, node, k + 1, float(value), min(low, float(value)), max(high, float(value)))


def _rows(network: Network, evidence: Evidence, parameters: Sequence[Parameter]) -> Variation:
    """Two rows a number: at its low end and at its high end, all else as it is."""
    count = 2 * len(parameters)
    prior = np.repeat(network.prior[:, None], count, axis=1)
    reach: dict[str, Numbers] = {}
    leak: dict[str, Numbers] = {}
    for k, p in enumerate(parameters):
        for row, value in ((2 * k, p.low), (2 * k + 1, p.high)):
            if p.kind == "base_rate":
                prior[network.cause_index[p.cause], row] = value
                continue
            at = network.place(p.node)
            if p.kind == "link":
                if p.node not in reach:
                    reach[p.node] = np.repeat(network.reach[at][:, :, None], count, axis=2)
                reach[p.node][network.cause_index[p.cause], p.level - 1, row] = value
            else:
                if p.node not in leak:
                    leak[p.node] = np.repeat(network.leak[at][:, None], count, axis=1)
                leak[p.node][p.level - 1, row] = value
    return Variation(rows=count, prior=prior, reach=reach, leak=leak)
