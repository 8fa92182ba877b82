"""Published noisy-OR numbers.

Fever: inhibition by cold .6, flu .2, malaria .1, no leak; the worked example of lecture notes on Bayesian networks
(sambuz.com/doc/outline-pdf-document-763250), after Russell and Norvig, Artificial Intelligence: A Modern Approach,
chapter on probabilistic reasoning. With a leak: BayesiaLab user guide, noisy-OR formula (leak .1, .8 and .6).
Three causes: the test vector of Heckerman's two-layer family (Heckerman 1989, "A tractable inference algorithm for
diagnosing multiple diseases"), worked out by full enumeration, done again here in fractions.
"""

from __future__ import annotations

from fractions import Fraction as F
from itertools import product
from math import exp

import pytest

from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network, chance_below

FEVER = Network.of(("cold", "flu", "malaria"), (0.1, 0.1, 0.1), {"fever": ([[0.4], [0.8], [0.9]], [0.0])})
LEAKY = Network.of(("x", "y"), (0.5, 0.5), {"f": ([[0.8], [0.6]], [0.1])})


@pytest.mark.parametrize(
    ("present", "published"),
    [
        ([], 0.0), (["malaria"], 0.9), (["flu"], 0.8), (["flu", "malaria"], 0.98), (["cold"], 0.4),
        (["cold", "malaria"], 0.94), (["cold", "flu"], 0.88), (["cold", "flu", "malaria"], 0.988),
    ],
)  # fmt: skip
def test_fever(present: list[str], published: float) -> None:
    """The formula, and the kernel with the causes made certain."""
    assert 1 - chance_below(FEVER, "fever", 1, present) == pytest.approx(published, abs=1e-12)
    certain = Network.of(
        FEVER.causes, [float(c in present) for c in FEVER.causes], {"fever": (FEVER.reach[0], FEVER.leak[0])}
    )
    found = posterior(certain, Evidence.of({"fever": (0, 1)}))
    assert found.impossible if not present else exp(found.log_evidence) == pytest.approx(published, abs=1e-12)


@pytest.mark.parametrize(("present", "published"), [([], 0.1), (["y"], 0.64), (["x"], 0.82), (["x", "y"], 0.928)])
def test_with_a_leak(present: list[str], published: float) -> None:
    """The leak is one more cause that is always there."""
    assert 1 - chance_below(LEAKY, "f", 1, present) == pytest.approx(published, abs=1e-12)


THREE = Network.of(
    ("A", "B", "C"), (0.3, 0.2, 0.1),
    {"f1": ([[0.8], [0.5], [0.0]], [0.05]), "f2": ([[0.3], [0.0], [0.9]], [0.02]),
     "f3": ([[0.0], [0.7], [0.4]], [0.1])},
)  # fmt: skip


def test_three_causes() -> None:
    """f1 and f2 present, f3 absent: P(evidence) .06743232; A .951824, B .094817, C .193299."""
    found = posterior(THREE, Evidence.of({"f1": (0, 1), "f2": (0, 1), "f3": (1, 0)}))
    assert exp(found.log_evidence) == pytest.approx(0.06743232, abs=5e-9)
    assert found.chance == pytest.approx([0.951824, 0.094817, 0.193299], abs=5e-7)


def test_three_causes_in_fractions() -> None:
    """The same vector from its definition, to the last digit."""
    priors = (F(3, 10), F(2, 10), F(1, 10))
    keep = {"f1": (F(2, 10), F(5, 10), F(1)), "f2": (F(7, 10), F(1), F(1, 10)), "f3": (F(1), F(3, 10), F(6, 10))}
    leaks = {"f1": F(95, 100), "f2": F(98, 100), "f3": F(9, 10)}
    total, mass = F(0), [F(0)] * 3
    for state in product((0, 1), repeat=3):
        share = F(1)
        for on, p in zip(state, priors, strict=True):
            share *= p if on else 1 - p
        for name, factors in keep.items():
            dark = leaks[name]
            for on, k in zip(state, factors, strict=True):
                dark *= k if on else 1
            share *= dark if name == "f3" else 1 - dark
        total += share
        mass = [m + share * on for m, on in zip(mass, state, strict=True)]
    found = posterior(THREE, Evidence.of({"f1": (0, 1), "f2": (0, 1), "f3": (1, 0)}))
    assert exp(found.log_evidence) == pytest.approx(float(total), rel=1e-14)
    assert found.chance == pytest.approx([float(m / total) for m in mass], rel=1e-14)
