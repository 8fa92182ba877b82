"""The shipped network with random observations, against the witnesses; and its figures worked out together."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from reasoner.facts.observed import Observed
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from reasoner.inference.compile import Compiled, compile_network, compile_problems
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.observe import weights
from tests.oracles import by_library, by_signed_sum


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    """The ankle pack."""
    knowledge, problems = load(Path(default_folder()), region="ankle")
    assert knowledge is not None, "\n".join(str(p) for p in problems[:10])
    return knowledge


def observations(compiled: Compiled, rng: np.random.Generator, count: int) -> Evidence:
    """Random answers, some unsure or masked, and a few measures with some number."""
    knowledge = compiled.knowledge
    names = [n for n in knowledge.findings if compiled.node(n) is not None and n not in compiled.scales]
    seen = {}
    for name in rng.permutation(names)[:count]:
        kind = rng.choice(["present", "absent", "absent", "unsure", "masked"])
        if kind == "unsure":
            seen[str(name)] = Observed("present", sure=float(rng.uniform(0.2, 0.9)))
        elif kind == "masked":
            seen[str(name)] = Observed("absent", masked=0.4)
        else:
            seen[str(name)] = Observed("present" if kind == "present" else "absent")
    measures = {}
    for name, scale in compiled.scales.items():
        if compiled.node(name) is not None and rng.random() < 0.15:
            mean, sd = scale.reference
            measures[name] = (scale.sign * float(rng.normal(mean, sd)), 0.3 * sd)
    return weights(compiled, seen, measures)


def test_no_problem_in_the_figures(shipped: Knowledge) -> None:
    """Notes are allowed, errors are not."""
    errors = [str(p) for p in compile_problems(shipped) if p.level == "error"]
    assert errors == []


@pytest.mark.parametrize("seed", range(6))
def test_randomobservations(shipped: Knowledge, seed: int) -> None:
    """Every setting in turn: pyagrum to 1e-9, and 60 digits to a relative 1e-10."""
    rng = np.random.default_rng(seed)
    settings = list(shipped.settings)
    holding = {
        (h.id, n) for h in shipped.hypotheses.values() for n in range(len(h.modifiers)) if rng.random() < 0.15
    }
    compiled = compile_network(shipped, settings[seed % len(settings)], holding)
    evidence = observations(compiled, rng, 12)
    found = posterior(compiled.network, evidence)
    assert not found.approximate
    assert found.chance == pytest.approx(by_library(compiled.network, evidence.weights), abs=1e-9)
    _, present = by_signed_sum(compiled.network, evidence.weights)
    assert found.chance == pytest.approx(present, rel=1e-10)
