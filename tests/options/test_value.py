"""The chance of a worthwhile change, against hand calculation with an independent normal distribution (scipy)."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest
from scipy.stats import norm

from reasoner.graph.records import Effect, ErrorFigure, Figure, Measure, Spread, Tool
from reasoner.options.value import response, waiting, worth
from tests.build import knowledge

MEASURE = Measure(
    id="reach", name="reach", unit="cm", possible=(-10, 20), better="higher", trials=1,
    tools=(Tool(id="tape", name="tape"),),
    errors=(ErrorFigure(tool="tape", interval="within_visit", sem=0.5, basis="practice"),),
    drift=Spread(mean=0.2, sd=0.3, basis="practice"), worthwhile=Figure(value=0.8, basis="practice"),
)  # fmt: skip
KNOWN = knowledge(measures=[MEASURE])
EFFECT = Effect(sign="reach", gain=1.0, sd=1.0, sham=0.3, sham_sd=0.4, certainty="moderate", basis="practice")
LIMIT = 0.2 + 1.645 * 0.3


def test_figures_by_hand() -> None:
    """tau^2 = max(1 - 2 * .25, 1/16) = .5; q and big from scipy's normal distribution."""
    got = response(EFFECT, KNOWN, targets=1)
    assert got is not None
    tau = sqrt(0.5)
    p1, p0 = norm.sf(LIMIT, 1.0, tau), norm.sf(LIMIT, 0.3, 0.4)
    assert got.p1 == pytest.approx(p1, abs=1e-12)
    assert got.p0 == pytest.approx(p0, abs=1e-12)
    assert got.share_if_hold == pytest.approx(norm.sf(0.8, 1.0, tau) / p1, abs=1e-12)
    assert got.share_if_touch == pytest.approx(norm.sf(0.8, 0.3, 0.4) / p0, abs=1e-12)
    assert got.contact_c == pytest.approx((p0 - 0.05) / (0.95 * 0.25), abs=1e-12)
    assert got.target_c == pytest.approx(1 - (1 - p1) / (1 - p0), abs=1e-12)


def test_margins_are_reproduced() -> None:
    """With the target certain and contact at its base rate the chance is p1; without the target it is p0.

    P(no response | no target) = (1-leak)(1 - .25 c_contact) = 1-p0 by construction; times (1 - c_target) = 1-p1.
    """
    got = response(EFFECT, KNOWN, targets=1)
    assert got is not None
    silent = (1 - got.leak) * (1 - 0.25 * got.contact_c)
    assert 1 - silent == pytest.approx(got.p0, abs=1e-12)
    assert 1 - silent * (1 - got.target_c) == pytest.approx(got.p1, abs=1e-12)


def test_value_weighs_by_certainty() -> None:
    """Moderate weighs .75: .75 * .5 * share + .25 * .2 * share."""
    got = response(EFFECT, KNOWN, targets=1)
    assert got is not None
    value = worth(got, 0.5, 0.2)
    assert value.if_hold == pytest.approx(0.5 * got.share_if_hold)
    assert value.value == pytest.approx(0.75 * 0.5 * got.share_if_hold + 0.25 * 0.2 * got.share_if_touch)


def test_words_stand_in_for_figures_and_nothing_stands_in_for_words() -> None:
    """`often` is .6, the default if it does no more than touch is .25; with neither there is no value."""
    words = response(replace(EFFECT, gain=None, sd=None, sham=None, sham_sd=None, p1="often"), KNOWN, targets=1)
    assert words is not None
    assert (words.p1, words.p0) == (0.6, 0.25)
    assert response(replace(EFFECT, gain=None, sd=None), KNOWN, targets=1) is None


def test_a_small_response_arm_keeps_a_floor_of_spread() -> None:
    """SD below the error of two measurements: tau = gain/4, so .25 here."""
    got = response(replace(EFFECT, sd=0.5), KNOWN, targets=1)
    assert got is not None
    assert got.p1 == pytest.approx(norm.sf(LIMIT, 1.0, 0.25), abs=1e-12)


def test_without_a_target_it_is_touch() -> None:
    """An option that acts on nothing in the network has no target link."""
    got = response(EFFECT, KNOWN, targets=0)
    assert got is not None
    assert got.target_c == 0


def test_waiting_is_the_line_to_beat() -> None:
    """Repeating alone passes max(limit, worthwhile) = .8 with P(N(.2, .3) > .8)."""
    assert waiting(MEASURE, KNOWN) == pytest.approx(norm.sf(0.8, 0.2, 0.3), abs=1e-12)
