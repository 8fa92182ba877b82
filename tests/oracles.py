"""Witnesses for the inference tests: three ways to the same numbers, none sharing code with the engine.

1. `by_rationals`: every combination of causes, in exact fractions (small networks).
2. `by_signed_sum`: P(level l) as a difference of "below" terms, which are products over causes; the signs cancel
   badly in doubles, so 60 digits are used (any number of causes, some ten open findings).
3. `by_library`: an independent engine (pyagrum), each finding a chain of two-parent nodes; drivers are parents of what
   they shift (rates by scipy's root finder), variants are one variable of many values.
Also sampling of patients from a network.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from decimal import Decimal, localcontext
from fractions import Fraction
from importlib import import_module
from itertools import product
from typing import Any

import numpy as np

from reasoner.inference.network import Network

Weights = Mapping[str, Sequence[float]]


def by_rationals(network: Network, weights: Weights) -> tuple[Fraction, list[Fraction]]:
    """(P(evidence), [P(cause | evidence)]) by enumeration in fractions. Raises ZeroDivisionError if impossible."""
    prior = [Fraction(float(p)) for p in network.prior]
    total, present = Fraction(0), [Fraction(0)] * len(prior)
    for state in product((False, True), repeat=len(prior)):
        mass = Fraction(1)
        for on, chance in zip(state, prior, strict=True):
            mass *= chance if on else 1 - chance
        for node, given in weights.items():
            mass *= _likelihood(network, node, given, state)
        total += mass
        for place, on in enumerate(state):
            if on:
                present[place] += mass
    return total, [mass / total for mass in present]


def _likelihood(network: Network, node: str, given: Sequence[float], state: Sequence[bool]) -> Fraction:
    """Sum over levels of weight * P(level | state)."""
    place = network.nodes.index(node)
    below = [Fraction(0)]
    for level in range(len(given) - 1):
        chance = 1 - Fraction(float(network.leak[place][level]))
        for cause, on in enumerate(state):
            if on:
                chance *= 1 - Fraction(float(network.reach[place][cause, level]))
        below.append(chance)
    below.append(Fraction(1))
    return sum((Fraction(float(w)) * (below[k + 1] - below[k]) for k, w in enumerate(given)), Fraction(0))


def by_signed_sum(network: Network, weights: Weights, digits: int = 60) -> tuple[float, list[float]]:
    """The same for many causes: sum over m of g(m) P(below m), expanded over all findings, in `digits` digits."""
    with localcontext() as context:
        context.prec = digits
        prior = [Decimal(float(p)) for p in network.prior]
        terms = []
        for node, given in weights.items():
            place = network.nodes.index(node)
            w = [Decimal(float(x)) for x in given]
            # sum_l w(l) (below(l+1) - below(l)) = sum_m below(m) (w(m-1) - w(m)), and below(K) = 1
            choices = [(w[-1], Decimal(1), [Decimal(1)] * len(prior))]
            for m in range(1, len(w)):
                leak = 1 - Decimal(float(network.leak[place][m - 1]))
                keep = [1 - Decimal(float(c)) for c in network.reach[place][:, m - 1]]
                choices.append((w[m - 1] - w[m], leak, keep))
            terms.append([c for c in choices if c[0] != 0])
        total, present = Decimal(0), [Decimal(0)] * len(prior)
        for picked in product(*terms):
            sign, keep = Decimal(1), [Decimal(1)] * len(prior)
            for g, leak, factors in picked:
                sign *= g * leak
                keep = [a * b for a, b in zip(keep, factors, strict=True)]
            pairs = [(1 - p, p * k) for p, k in zip(prior, keep, strict=True)]
            forward, backward = [Decimal(1)], [Decimal(1)]
            for off, on in pairs:
                forward.append(forward[-1] * (off + on))
            for off, on in reversed(pairs):
                backward.append(backward[-1] * (off + on))
            total += sign * forward[-1]
            for place, (_, on) in enumerate(pairs):
                present[place] += sign * on * forward[place] * backward[len(pairs) - 1 - place]
        return float(total), [float(mass / total) for mass in present]


def by_library(network: Network, weights: Weights) -> list[float]:
    """P(cause | evidence) from pyagrum: a finding is a chain max(max(leak, cause 1), cause 2) ... of small tables."""
    pyagrum = _pyagrum()
    net: Any = pyagrum.BayesNet()
    for place, cause in enumerate(network.causes):
        net.add(pyagrum.LabelizedVariable(f"c{place}", cause, 2))
    units = _units(pyagrum, net, network)
    for place in range(len(network.causes)):
        _base_rate(net, network, place, units)
    evidence = {}
    for node, given in weights.items():
        evidence[_chain(pyagrum, net, network, node)] = [float(w) / max(given) for w in given]
    engine = pyagrum.LazyPropagation(net)
    engine.setEvidence(evidence)
    engine.makeInference()
    return [float(engine.posterior(f"c{place}")[1]) for place in range(len(network.causes))]


def _units(pyagrum: Any, net: Any, network: Network) -> dict[str, tuple[int, ...]]:
    """Name -> causes of every unit of the coupling, each a variable of its own: none, or which of them."""
    units = {f"u{k}": unit for k, unit in enumerate(network.coupling.units)} if network.coupling is not None else {}
    for name, unit in units.items():
        net.add(pyagrum.LabelizedVariable(name, name, len(unit) + 1))
        inside = [float(network.prior[c]) for c in unit]
        net.cpt(name).fillWith([1 - sum(inside), *inside])
    return units


def _base_rate(net: Any, network: Network, place: int, units: Mapping[str, tuple[int, ...]]) -> None:
    """The table of one cause: its base rate, its unit's value, or a rate for every joint value of the units."""
    name, rate = f"c{place}", float(network.prior[place])
    own = next((u for u, unit in units.items() if place in unit), None)
    if own is not None:
        net.addArc(own, name)
        for value in range(len(units[own]) + 1):
            here = float(value > 0 and units[own][value - 1] == place)
            net.cpt(name)[{own: value}] = [1 - here, here]
        return
    moved = None if network.coupling is None else network.coupling.shift[place]
    if moved is None or not moved.any():
        net.cpt(name).fillWith([1 - rate, rate])
        return
    shifts = iter(float(x) for x in moved)
    by_unit = {u: [0.0, *(next(shifts) for _ in unit)] for u, unit in units.items()}
    values = list(product(*(range(len(s)) for s in by_unit.values())))
    share = [float(np.prod([net.cpt(u)[v] for u, v in zip(units, joint, strict=True)])) for joint in values]
    total = [sum(s[v] for s, v in zip(by_unit.values(), joint, strict=True)) for joint in values]

    def mean(b: float) -> float:
        return sum(w / (1 + np.exp(-b - t)) for w, t in zip(share, total, strict=True)) - rate

    base = import_module("scipy.optimize").brentq(mean, -60, 60, xtol=1e-15, rtol=1e-15)
    for unit in units:
        net.addArc(unit, name)
    for joint, t in zip(values, total, strict=True):
        on = float(1 / (1 + np.exp(-base - t)))
        net.cpt(name)[dict(zip(units, joint, strict=True))] = [1 - on, on]


def _pyagrum() -> Any:
    """Its extension module warns while it loads, and crashes where warnings are errors."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return import_module("pyagrum")


def _chain(pyagrum: Any, net: Any, network: Network, node: str) -> str:
    """Add a finding as a chain; returns the name of its last node."""
    place = network.nodes.index(node)
    reach, leak = network.reach[place], network.leak[place]
    levels = len(leak) + 1
    last = f"n{place}_leak"
    net.add(pyagrum.LabelizedVariable(last, node, levels))
    net.cpt(last).fillWith(_alone(leak))
    for cause in np.flatnonzero(reach.any(axis=1)):
        name = f"n{place}_{cause}"
        net.add(pyagrum.LabelizedVariable(name, node, levels))
        net.addArc(last, name)
        net.addArc(f"c{cause}", name)
        push = _alone(reach[cause])
        for old in range(levels):
            net.cpt(name)[{last: old, f"c{cause}": 0}] = [float(k == old) for k in range(levels)]
            risen = [push[k] if k > old else sum(push[: old + 1]) if k == old else 0.0 for k in range(levels)]
            net.cpt(name)[{last: old, f"c{cause}": 1}] = risen
        last = name
    return last


def _alone(reach: Any) -> list[float]:
    """Chance of each level from the chances to reach it or higher."""
    ends = [1.0, *(float(u) for u in reach), 0.0]
    return [ends[k] - ends[k + 1] for k in range(len(ends) - 1)]


def sample_patient(network: Network, rng: np.random.Generator) -> tuple[np.ndarray, dict[str, int]]:
    """(causes present (n,), level of every finding), drawn cause by cause: each pushes, the highest level counts."""
    on = rng.random(len(network.causes)) < network.prior
    levels = {}
    for node, reach, leak in zip(network.nodes, network.reach, network.leak, strict=True):
        pushes = np.vstack([leak, reach[on]])
        levels[node] = int((rng.random(len(pushes))[:, None] < pushes).sum(axis=1).max())
    return on, levels
