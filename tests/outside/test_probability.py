"""Post-test probability against published figures and hand arithmetic, through the same path a case takes.

Bachmann 2003: Bachmann LM, Kolb E, Koller MT, Steurer J, ter Riet G. Accuracy of Ottawa ankle rules to exclude
fractures of the ankle and mid-foot: systematic review. BMJ 326:417, doi 10.1136/bmj.326.7386.417.
"""

from __future__ import annotations

import numpy as np
import pytest

from reasoner.facts.observed import Observed
from reasoner.inference.compile import Compiled, compile_network
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.observe import weights
from reasoner.inference.questions import candidates, gain_bits
from tests.inference.build import finding, group, hypothesis, knowledge, link, member
from tests.oracles import by_library, by_rationals
from tests.strategies import random_evidence, random_network


def one_cause(prior: float, **strength: float) -> Compiled:
    """A finding with one cause, from a published accuracy."""
    return compile_network(
        knowledge([finding("f", 0.3)], [hypothesis("h", prior, link("f", "published", **strength))]), "not_stated"
    )


def after(compiled: Compiled, **answers: str) -> float:
    """P(h) after these answers."""
    seen = {name: Observed(value) for name, value in answers.items()}  # type: ignore[arg-type]
    return float(posterior(compiled.network, weights(compiled, seen)).chance[0])


def test_a_negative_fracture_rule() -> None:
    """Bachmann 2003: 15 % prevalence and pooled LR- .08 leave less than 1.4 %. By hand .012/(.85 + .012) = .01392."""
    chance = after(one_cause(0.15, lr_neg=0.08), f="absent")
    assert chance < 0.014
    assert chance == pytest.approx(0.012 / 0.862, abs=1e-12)


def test_a_single_test_is_bayes_rule() -> None:
    """Sens .80, spec .70, prior .30. By hand: .24/(.24 + .21) = .5333 and .06/(.06 + .49) = .1091."""
    compiled = one_cause(0.3, sens=0.8, spec=0.7)
    assert after(compiled, f="present") == pytest.approx(0.24 / 0.45, abs=1e-12)
    assert after(compiled, f="absent") == pytest.approx(0.06 / 0.55, abs=1e-12)


def test_what_a_test_is_worth() -> None:
    """The same test: P(+) .45, entropy .8813 -> .45 H(.5333) + .55 H(.1091) = .7220 bits, gain .1593 bits."""
    compiled = one_cause(0.3, sens=0.8, spec=0.7)
    found = candidates(compiled.network, Evidence(), ["f"])
    assert found.answer[0] == pytest.approx([0.55, 0.45], abs=1e-12)
    assert gain_bits(found, compiled.entropy_weights)[0] == pytest.approx(0.1593, abs=5e-5)


def test_copies_of_a_test_count_once() -> None:
    """Two perfectly correlated tests of LR+ 4 (.8/.8), both positive, prior .30: .632; as if independent .873.

    By hand: 4*.3/(.7 + 1.2) = .6316; 16*.3/(.7 + 4.8) = .8727. The danger is described in J Clin Epidemiol 2009
    (dependence between tests; daneshyari.com/en/article/1083358).
    """
    copies = [member(n, sens=0.8, spec=0.8) for n in ("t1", "t2")]
    together = compile_network(
        knowledge([finding("t1"), finding("t2")], [hypothesis("h", 0.3)], [group("s", "h", *copies)]), "not_stated"
    )
    assert after(together, t1="present", t2="present") == pytest.approx(1.2 / 1.9, abs=1e-12)
    apart = compile_network(
        knowledge(
            [finding("t1"), finding("t2")],
            [hypothesis("h", 0.3, *(link(n, "published", sens=0.8, spec=0.8) for n in ("t1", "t2")))],
        ),
        "not_stated",
    )
    assert after(apart, t1="present", t2="present") == pytest.approx(4.8 / 5.5, abs=1e-12)


def test_three_tests_of_one_sign() -> None:
    """Accuracies .8/.7, .7/.8, .6/.9, prior .30.

    By hand the sign is .8/.9, each a - b = .5/.7, b = .2286, .1286, .0286. All positive: l1 = .9429*.8429*.7429 =
    .59041, l0 = .00084, so .3(.8 l1 + .2 l0)/(that + .7(.1 l1 + .9 l0)) = .7720 (as if separate .960). All negative:
    l1 = .0571*.1571*.2571 = .002309, l0 = .7714*.8714*.9714 = .65304, so .039737/(.039737 + .411578) = .0880 (as if
    separate .020).
    """
    tests = (("t1", 0.8, 0.7), ("t2", 0.7, 0.8), ("t3", 0.6, 0.9))
    compiled = compile_network(
        knowledge(
            [finding(n) for n, _, _ in tests],
            [hypothesis("h", 0.3)],
            [group("s", "h", *(member(n, sens=se, spec=sp) for n, se, sp in tests))],
        ),
        "not_stated",
    )
    assert after(compiled, t1="present", t2="present", t3="present") == pytest.approx(0.7720, abs=5e-5)
    assert after(compiled, t1="absent", t2="absent", t3="absent") == pytest.approx(0.0880, abs=5e-5)


@pytest.mark.parametrize("seed", range(10))
def test_against_rationals_and_a_library(seed: int) -> None:
    """Graded and unsure findings: exact fractions to 1e-12 and pyagrum to 1e-9 (forty more in tests/inference)."""
    rng = np.random.default_rng(1000 + seed)
    network = random_network(rng, causes=7, nodes=10, links=3, graded=0.5)
    evidence = random_evidence(rng, network, present=3, absent=2, soft=2)
    found = posterior(network, evidence).chance
    _, present = by_rationals(network, evidence.weights)
    assert found == pytest.approx([float(p) for p in present], abs=1e-12)
    assert found == pytest.approx(by_library(network, evidence.weights), abs=1e-9)
