"""Is it more than error, and what do the signs say together?"""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.measures.baseline import side_difference, steady, value
from reasoner.measures.change import (
    UNWANTED,
    SignChange,
    benefit,
    chances,
    change_class,
    sign_change,
    verdict,
)
from tests.strategies import CALM

ORDER = {"worse": 0, "within": 1, "beyond": 2}

# readings to a tenth, as tools give them: borders (change = MDC exactly) come up often
tenths = st.integers(-250, 250).map(lambda n: n / 10)
errors = st.integers(1, 80).map(lambda n: n / 10)
drifts = st.integers(-5, 15).map(lambda n: n / 10)
betters = st.sampled_from(["higher", "lower"])
scales = st.sampled_from([10.0, 0.1, 1 / 2.54, 2.54, 1000.0, 1 / 3])


@CALM
@given(tenths, tenths, errors, drifts, betters, scales)
def test_the_class_does_not_depend_on_the_unit(
    before: float, after: float, mdc: float, drift: float, better: Any, scale: float
) -> None:
    here = sign_change("range", before, after, better, mdc, drift)
    there = sign_change("range", before * scale, after * scale, better, mdc * scale, drift * scale)
    assert here.result == there.result


@CALM
@given(tenths, tenths, errors, drifts)
def test_the_class_does_not_depend_on_which_way_the_measure_runs(
    before: float, after: float, mdc: float, drift: float
) -> None:
    up = sign_change("range", before, after, "higher", mdc, drift)
    down = sign_change("range", -before, -after, "lower", mdc, drift)
    assert up == down


@CALM
@given(tenths, tenths, tenths, tenths, errors, betters)
def test_sides_swapped_swap_the_sign_and_nothing_else(
    left: float, right: float, left_after: float, right_after: float, mdc: float, better: Any
) -> None:
    assert side_difference(left, right, better) == -side_difference(right, left, better)
    closer = side_difference(left, right, better) - side_difference(left_after, right_after, better)
    swapped = side_difference(right, left, better) - side_difference(right_after, left_after, better)
    assert closer == pytest.approx(-swapped)
    opposite = {"beyond": "worse", "worse": "beyond", "within": "within"}
    assert change_class(-closer, mdc) == opposite[change_class(closer, mdc)]


@CALM
@given(tenths, tenths, errors, drifts)
def test_more_change_is_never_a_lower_class(one: float, other: float, mdc: float, drift: float) -> None:
    less, more = sorted((one, other))
    assert ORDER[change_class(less, mdc, drift)] <= ORDER[change_class(more, mdc, drift)]


@CALM
@given(tenths, errors, errors, drifts)
def test_wider_error_never_turns_within_into_anything_else(
    change: float, one: float, other: float, drift: float
) -> None:
    narrow, wide = sorted((one, other))
    if change_class(change, narrow, drift) == "within":
        assert change_class(change, wide, drift) == "within"


@CALM
@given(tenths, errors, drifts, drifts)
def test_more_drift_never_makes_more_of_a_change(change: float, mdc: float, one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert ORDER[change_class(change, mdc, more)] <= ORDER[change_class(change, mdc, less)]


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [(4.0, 5.9, "beyond"), (8.2, 10.1, "beyond"), (4.0, 5.8, "within"), (5.9, 4.0, "worse"), (10.1, 8.2, "worse")],
)
def test_a_change_of_just_the_error_is_beyond_whatever_the_rounding(before: float, after: float, expected: str) -> None:
    # in floats 10.1 - 8.2 is a little less than 1.9
    assert sign_change("range", before, after, "higher", 1.9).result == expected


def test_worse_is_judged_without_drift_and_comes_first() -> None:
    assert change_class(-2.0, 1.9, drift=0.5) == "worse"
    assert change_class(-2.0, 1.9, drift=-5.0) == "worse"
    for bad in (0.0, -1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="error above zero"):
            change_class(1.0, bad)
    with pytest.raises(ValueError, match="finite"):
        change_class(float("nan"), 1.0)


def test_benefit_is_positive_for_the_better() -> None:
    assert benefit(4.0, 6.0, "higher") == 2.0
    assert benefit(6.0, 4.0, "lower") == 2.0


# ------------------------------------------------------------------------------------------------ verdict

signs = st.builds(
    SignChange,
    st.sampled_from(["range", "pain", "function", "strength"]),
    tenths,
    st.sampled_from(["beyond", "within", "worse"]),
)


def sign(kind: str, result: Any, change: float = 0.0) -> SignChange:
    """A sign of this class; the change matters for pain only."""
    return SignChange(kind, change, result)


@pytest.mark.parametrize(
    ("given_signs", "expected"),
    [
        # the table of the verdict: any worse; else range beyond and function not; else any beyond; else within
        ([sign("range", "beyond"), sign("function", "worse")], "worse"),
        ([sign("range", "worse"), sign("function", "beyond")], "worse"),
        ([sign("range", "beyond"), sign("function", "within")], "range_only"),
        ([sign("range", "beyond"), sign("function", "within"), sign("pain", "beyond", 3.0)], "range_only"),
        ([sign("range", "beyond")], "range_only"),
        ([sign("range", "beyond"), sign("function", "beyond")], "beyond"),
        ([sign("range", "within"), sign("function", "beyond")], "beyond"),
        ([sign("range", "within"), sign("pain", "beyond", 2.0)], "beyond"),
        ([sign("range", "within"), sign("function", "within"), sign("pain", "within")], "within"),
        ([sign("pain", "within", -2.0)], "worse"),  # pain up two of ten, whatever the error
        ([sign("pain", "within", -1.9)], "within"),
        ([sign("function", "within", -2.0)], "within"),  # the rule is about pain
    ],
)
def test_the_verdict_over_all_signs(given_signs: list[SignChange], expected: str) -> None:
    for order in itertools.permutations(given_signs):
        assert verdict(order) == expected


@CALM
@given(st.lists(signs, min_size=1, max_size=4), st.sampled_from(UNWANTED))
def test_anything_unwanted_is_worse_whatever_the_signs(given_signs: list[SignChange], unwanted: str) -> None:
    assert verdict(given_signs, [unwanted]) == "worse"
    assert verdict([], [unwanted]) == "worse"


@CALM
@given(st.lists(signs, min_size=1, max_size=4), signs)
def test_another_sign_never_takes_back_a_worse(given_signs: list[SignChange], more: SignChange) -> None:
    if verdict(given_signs) == "worse":
        assert verdict([*given_signs, more]) == "worse"


def test_nothing_retested_is_no_verdict() -> None:
    with pytest.raises(ValueError, match="retested sign"):
        verdict([])


# ------------------------------------------------------------------------------------------------ chances, baseline


def test_chances_by_hand() -> None:
    # change 1.0, SEM .5: error of a change sqrt(2)*.5 = .7071
    told = chances(1.0, 0.5, drift=0.3, drift_sd=0.0, worthwhile=1.7071)
    assert told.above_zero == pytest.approx(0.9214, abs=5e-5)  # Phi(1.4142), normal table: .9214
    assert told.above_drift == pytest.approx(0.8389, abs=5e-5)  # Phi(.7/.7071 = .9899), table: .8389
    assert told.above_worthwhile == pytest.approx(0.1587, abs=5e-5)  # Phi(-1)
    assert chances(1.0, 0.5).above_worthwhile is None
    with pytest.raises(ValueError, match="above zero"):
        chances(1.0, 0.0)


@CALM
@given(tenths, tenths, errors, drifts)
def test_chances_rise_with_the_change_and_fall_with_drift(one: float, other: float, sem: float, drift: float) -> None:
    less, more = sorted((one, other))
    low, high = chances(less, sem, drift, 0.2, 1.0), chances(more, sem, drift, 0.2, 1.0)
    assert low.above_zero <= high.above_zero
    assert low.above_drift <= high.above_drift
    assert low.above_worthwhile is not None
    assert high.above_worthwhile is not None
    assert low.above_worthwhile <= high.above_worthwhile
    assert chances(one, sem, drift + 0.5, 0.2).above_drift <= chances(one, sem, drift, 0.2).above_drift


def test_the_value_is_the_mean_of_the_trials() -> None:
    assert value([4.0, 4.5, 4.5]) == pytest.approx(13 / 3)
    with pytest.raises(ValueError, match="no trials"):
        value([])


@pytest.mark.parametrize(
    ("trials", "within", "expected"),
    [
        ([4.0], 0.5, False),
        ([], 0.5, False),
        ([4.0, 4.5], 0.5, True),
        ([4.0, 4.6], 0.5, False),
        ([9.3, 9.8], 0.5, True),  # in floats 9.8 - 9.3 is a little more than .5
        ([3.0, 4.0, 4.5], 0.5, True),
        ([4.5, 4.5, 6.0], 0.5, False),
        ([4.0, 4.0], None, None),
        ([4.0, 4.0], 0.0, True),
    ],
)
def test_a_baseline_is_steady_when_its_last_two_trials_agree(
    trials: list[float], within: float | None, expected: bool | None
) -> None:
    assert steady(trials, within) is expected
