"""Published accuracy in, published accuracy out."""

from __future__ import annotations

from math import exp, prod

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reasoner.inference.accuracy import (
    Span,
    chance_from_accuracy,
    leak_from_specificity,
    not_certain,
    odds_ratio_from_risk_ratio,
    sens_spec_from_ratios,
    shifted,
    shrink_factor,
)
from reasoner.inference.evidence import Evidence
from reasoner.inference.groups import latent_accuracy, member_chances, shrunk_by_agreement
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from tests.strategies import CALM, chances

accuracies = st.floats(0.05, 0.98)


@given(accuracies, accuracies, st.lists(st.tuples(st.floats(0.01, 0.4), st.floats(0.0, 0.9)), max_size=4))
@CALM
def test_the_network_hands_back_the_study(sens: float, spec: float, others: list[tuple[float, float]]) -> None:
    """In the study's population the finding is absent in Sp of those without h, and LR- is (1 - Se)/Sp."""
    assume(sens + spec > 1.01)
    leak = leak_from_specificity(spec, others)
    assume(leak >= 0)
    c = chance_from_accuracy(sens, spec)
    causes = ("h", *(f"o{k}" for k in range(len(others))))
    reach = [[c], *([o] for _, o in others)]
    absent = Evidence.of({"f": (1, 0)})
    log_without = posterior(Network.of(causes, [0.0, *(r for r, _ in others)], {"f": (reach, [leak])}), absent)
    log_with = posterior(Network.of(causes, [1.0, *(r for r, _ in others)], {"f": (reach, [leak])}), absent)
    assert exp(log_without.log_evidence) == pytest.approx(spec, rel=1e-12)
    assert exp(log_with.log_evidence) == pytest.approx(1 - sens, rel=1e-9)


@given(accuracies, accuracies)
@CALM
def test_ratios_and_accuracy_are_two_ways_to_say_one_thing(sens: float, spec: float) -> None:
    """LR+ = Se/(1-Sp), LR- = (1-Se)/Sp, and back."""
    assume(sens + spec > 1.01)
    assert sens_spec_from_ratios(sens / (1 - spec), (1 - sens) / spec) == pytest.approx((sens, spec), rel=1e-9)


def test_ratios_that_tell_nothing_are_refused() -> None:
    """LR+ below 1."""
    with pytest.raises(ValueError, match="lr_neg below 1"):
        sens_spec_from_ratios(0.8, 1.2)


@given(st.floats(0.3, 0.99), st.lists(st.tuples(st.floats(0.05, 0.6), st.floats(0.1, 0.95)), min_size=1, max_size=5))
@CALM
def test_shrinking_leaves_exactly_the_floor(spec: float, free: list[tuple[float, float]]) -> None:
    """prod(1 - pi k c) = Sp/(1 - floor), where the accuracies do not fit and shrinking can make them."""
    k = shrink_factor(spec, 0.02, [], free)
    if prod(1 - r * c for r, c in free) > spec / 0.98 or spec >= 0.98:
        assert k is None
    else:
        assert k is not None
        assert 0 <= k <= 1
        assert prod(1 - r * k * c for r, c in free) == pytest.approx(spec / 0.98, rel=1e-9)
        assert leak_from_specificity(spec, [(r, k * c) for r, c in free]) == pytest.approx(0.02, abs=1e-9)


def test_published_links_are_not_shrunk() -> None:
    """They alone leave too little room: no factor helps; with a little less, the free ones carry all of it."""
    assert shrink_factor(0.6, 0.02, [(0.5, 0.9)], [(0.2, 0.5)]) is None
    k = shrink_factor(0.6, 0.02, [(0.5, 0.7)], [(0.4, 0.5)])
    # .6/.98/.65 = .94192; 1 - .2 k = .94192
    assert k == pytest.approx(0.29042, abs=1e-4)


@given(st.floats(0.001, 0.6), st.floats(0.3, 5.0))
@CALM
def test_a_risk_ratio_does_what_it_says(rate: float, ratio: float) -> None:
    """Base rate times the ratio, as long as that stays a chance below .95."""
    assume(rate * ratio < 0.94)
    assert shifted(rate, [odds_ratio_from_risk_ratio(ratio, rate)]) == pytest.approx(max(rate * ratio, 1e-4), rel=1e-9)


def test_base_rates_stay_within_limits() -> None:
    """Never below .0001 or above .95, however many modifiers."""
    assert shifted(0.9, [50.0, 50.0]) == pytest.approx(0.95)
    assert shifted(0.001, [0.001]) == pytest.approx(0.0001)
    assert shifted(0.0, []) == pytest.approx(0.0001)
    assert shifted(0.2, []) == pytest.approx(0.2)


def test_nothing_is_certain() -> None:
    """0 and 1 without counts."""
    assert [not_certain(x, (0.02, 0.98)) for x in (0.0, 0.5, 1.0)] == [0.02, 0.5, 0.98]


def test_intervals_hold_their_number() -> None:
    """Widened if they do not; scaled and raised as a whole."""
    assert Span.of(0.5, (0.6, 0.7)) == (0.5, 0.5, 0.7)
    assert Span.of(0.5, (0.4, 0.7)).times(0.5) == pytest.approx((0.25, 0.2, 0.35))
    assert Span.of(0.01, (0.0, 0.1)).at_least(0.02) == (0.02, 0.02, 0.1)


# ------------------------------------------------------------------------------------------------ groups


@given(st.lists(st.tuples(accuracies, accuracies).filter(lambda t: sum(t) > 1.02), min_size=1, max_size=5))
@CALM
def test_every_test_of_a_group_keeps_its_own_accuracy(tests: list[tuple[float, float]]) -> None:
    """0 <= b <= a <= 1, and a Se_S + b (1 - Se_S) = Se, a (1 - Sp_S) + b Sp_S = 1 - Sp."""
    latent = latent_accuracy(tests)
    for sens, spec in tests:
        a, b = member_chances(sens, spec, latent)
        assert -1e-15 <= b <= a <= 1 + 1e-15
        assert a * latent[0] + b * (1 - latent[0]) == pytest.approx(sens, abs=1e-12)
        assert a * (1 - latent[1]) + b * latent[1] == pytest.approx(1 - spec, abs=1e-12)


def test_a_test_that_tells_nothing_is_refused() -> None:
    """Se + Sp of 1."""
    with pytest.raises(ValueError, match="above 1"):
        member_chances(0.4, 0.6, (0.8, 0.9))


@given(chances, chances, st.floats(-0.5, 1.0))
@CALM
def test_disagreement_takes_the_reading_away(a: float, b: float, kappa: float) -> None:
    """Between b (no agreement) and a (full); never below b."""
    assume(a >= b)
    shrunk, same = shrunk_by_agreement(a, b, kappa)
    assert same == b
    assert b - 1e-15 <= shrunk <= a + 1e-15
    if kappa <= 0:
        assert shrunk == b
