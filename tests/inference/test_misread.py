"""What a measure is worth before it is taken: its reading may fall into the next level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from reasoner.inference.compile import compile_network
from reasoner.inference.evidence import Evidence
from reasoner.inference.misread import reading_table
from reasoner.inference.questions import Asked, candidates, gain_bits
from tests.inference.build import finding, hypothesis, knowledge, link, measured
from tests.strategies import CALM

KNOWN = knowledge(
    [measured("m", (1.0, 3.0)), finding("f")],
    [
        hypothesis("stiff", 0.4, link("m", levels=(0.8, 0.4)), kind="restriction"),
        hypothesis("h", 0.2, link("f", chance=0.5)),
    ],
)  # fmt: skip


def test_beside_the_bivariate_normal() -> None:
    """P(d in level, D in level) by scipy's two-dimensional normal, divided by P(D in level)."""
    cuts, mean, sd, se = (1.0, 2.5), 0.5, 1.5, 0.6
    table = reading_table(cuts, mean, sd, se)
    both = multivariate_normal([mean, mean], [[sd**2, sd**2], [sd**2, sd**2 + se**2]])
    ends = (-20.0, *cuts, 20.0)
    for level in range(3):
        whole = norm.cdf(ends[level + 1], mean, sd) - norm.cdf(ends[level], mean, sd)
        for answer in range(3):
            corner = [
                both.cdf([ends[level + a], ends[answer + b]]) * (1 if a == b else -1) for a in (0, 1) for b in (0, 1)
            ]
            assert table[answer, level] == pytest.approx(sum(corner) / whole, abs=2e-3)


@given(st.floats(0.05, 5.0), st.floats(0.3, 4.0), st.lists(st.floats(-3, 3), min_size=1, max_size=3, unique=True))
@CALM
def test_columns_are_chances(se: float, sd: float, cuts: list[float]) -> None:
    table = reading_table(tuple(sorted(cuts)), 0.0, sd, se)
    assert np.all(table >= -1e-12)
    assert table.sum(axis=0) == pytest.approx(np.ones(len(cuts) + 1))


def test_without_error_the_reading_is_the_level() -> None:
    assert reading_table((1.0, 2.0), 1.0, 2.0, 1e-9) == pytest.approx(np.eye(3), abs=1e-2)


def test_an_inexact_measure_is_worth_less_the_less_exact_it_is() -> None:
    """Gains in bits: the level itself, the pack's own error, four times that."""
    compiled = compile_network(KNOWN, "not_stated")
    own = compiled.asked("m")
    assert own is not None
    assert own.table is not None
    scale = compiled.scales["m"]
    worse = replace(own, table=reading_table(scale.cuts, *scale.reference, 4 * 1.5 / (1.96 * 2**0.5)))
    found = candidates(compiled.network, Evidence(), [Asked("level", "m"), own, worse])
    level, stated, coarse = gain_bits(found, compiled.entropy_weights)
    assert level > 1.05 * stated > 1.05 * coarse > 0


def test_a_published_cut_off_already_contains_the_error() -> None:
    """Where the accuracy is for the measured cut-off the answer is taken as it stands."""
    hard = knowledge(
        [measured("m", (1.0,))], [hypothesis("stiff", 0.4, link("m", sens=0.8, spec=0.9), kind="restriction")]
    )
    asked = compile_network(hard, "not_stated").asked("m")
    assert asked is not None
    assert asked.table is None
