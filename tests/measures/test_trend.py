"""The line over visits, plateau, reversal, single-case bands. Expected numbers by hand beside each."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.measures.single_case import moving_range_band, overlap, serial, two_sd_band
from reasoner.measures.trend import fit_line, plateau, reversal, to_goal
from tests.strategies import CALM

tenths = st.integers(-100, 200).map(lambda n: n / 10)
series = st.lists(tenths, min_size=4, max_size=12)
betters = st.sampled_from(["higher", "lower"])
scales = st.sampled_from([10.0, 0.1, 2.54])
WEEKS = [7.0 * n for n in range(12)]


@CALM
@given(series, betters, scales, st.floats(0.2, 3))
def test_nothing_said_depends_on_the_unit(values: list[float], better: Any, scale: float, mdc: float) -> None:
    days = WEEKS[: len(values)]
    there = [v * scale for v in values]
    assert reversal(values, better, mdc) == reversal(there, better, mdc * scale)
    here, other = plateau(days, values, better, mdc), plateau(days, there, better, mdc * scale)
    assert here is not None
    assert other is not None
    assert abs(abs(here.gain) - mdc) < 1e-6 or here.state == other.state
    line, scaled = fit_line(days, values, [mdc] * len(values)), fit_line(days, there, [mdc * scale] * len(values))
    assert line is not None
    assert scaled is not None
    assert scaled.slope == pytest.approx(line.slope * scale, abs=1e-9)


@CALM
@given(series, st.floats(0.2, 3))
def test_nothing_said_depends_on_which_way_the_measure_runs(values: list[float], mdc: float) -> None:
    days, turned = WEEKS[: len(values)], [-v for v in values]
    assert reversal(values, "higher", mdc) == reversal(turned, "lower", mdc)
    here, other = plateau(days, values, "higher", mdc), plateau(days, turned, "lower", mdc)
    assert here is not None
    assert other is not None
    assert here.state == other.state
    o, p = overlap(values[:2], values[2:], "higher"), overlap([-v for v in values[:2]], turned[2:], "lower")
    assert (o.nap, o.tau_u) == pytest.approx((p.nap, p.tau_u))


@CALM
@given(series, st.floats(0.2, 3), st.floats(0.1, 5))
def test_a_wider_error_never_makes_a_reversal_and_a_lower_last_value_never_unmakes_one(
    values: list[float], mdc: float, more: float
) -> None:
    if reversal(values, "higher", mdc) is None:
        assert reversal(values, "higher", mdc + more) is None
    else:
        assert reversal([*values[:-1], values[-1] - more], "higher", mdc) is not None


@CALM
@given(series, st.floats(0.2, 3), st.floats(0.1, 3))
def test_a_wider_error_never_narrows_the_prediction(values: list[float], se: float, more: float) -> None:
    days = WEEKS[: len(values)]
    narrow, wide = fit_line(days, values, [se] * len(days)), fit_line(days, values, [se + more] * len(days))
    assert narrow is not None
    assert wide is not None
    low, high = narrow.prediction(days[-1] + 7, se)
    wider = wide.prediction(days[-1] + 7, se + more)
    assert wider[0] <= low + 1e-9
    assert high <= wider[1] + 1e-9


def test_the_scatter_is_never_taken_as_smaller_than_the_stated_errors() -> None:
    # four points on a line, errors 1: sum of (t - 10.5)^2 = 245, so the slope's error is 1 / sqrt(245) = .0639;
    # t with 2 degrees of freedom 4.3027: half width .2749
    line = fit_line([0, 7, 14, 21], [3, 4, 5, 6], [1, 1, 1, 1])
    assert line is not None
    low, high = line.slope_range()
    assert (high - low) / 2 == pytest.approx(0.2749, abs=5e-5)
    assert line.slope == pytest.approx(1 / 7)


def test_a_better_known_value_weighs_more() -> None:
    # weighted mean of 0 (weight 4) and 10 (weight 1) at one place, 0 at the other: by symmetry the line starts at 2
    line = fit_line([0, 0, 10], [0, 10, 0], [0.5, 1, 1])
    assert line is not None
    assert line.at(0) == pytest.approx(2.0)
    assert fit_line([0, 1], [1, 2], [1, 1]) is None
    assert fit_line([3, 3, 3], [1, 2, 3], [1, 1, 1]) is None
    with pytest.raises(ValueError, match="above zero"):
        fit_line([0, 1, 2], [1, 2, 3], [1, 0, 1])


def test_days_to_a_goal() -> None:
    line = fit_line([0, 7, 14, 21, 28], [3, 4, 5, 6, 7], [0.2] * 5)
    assert line is not None
    found = to_goal(line, 28, 10, "higher")  # 3 more at 1 a week
    assert found.state == "coming"
    assert found.days == pytest.approx(21)
    assert found.low < 21 < found.high
    assert to_goal(line, 28, 6, "higher").state == "reached"
    assert to_goal(line, 28, 1, "lower").state == "untold"  # it runs the other way
    three = fit_line([0, 7, 14], [3, 4, 5], [0.2] * 3)
    assert three is not None
    assert to_goal(three, 14, 10, "higher").state == "untold"  # too few values to say


def test_plateau_falling_and_slowly_on_the_way() -> None:
    flat = plateau(WEEKS[:6], [3, 5, 6, 6.1, 6, 6.1], "higher", 0.8)
    assert flat is not None
    assert (flat.state, flat.visits) == ("flat", 4)
    assert flat.gain == pytest.approx(0.06)  # slope of 6 6.1 6 6.1: (-3*6 - 6.1 + 6 + 3*6.1) / 20 * 2 = .02, times 3
    down = plateau(WEEKS[:4], [6, 5, 4, 3], "higher", 0.8)
    assert down is not None
    assert down.state == "falling"
    steady = [3 + 0.2 * n for n in range(12)]  # .6 over four visits: less than worthwhile, but surely on its way
    whole = fit_line(WEEKS, steady, [0.3] * 12)
    slow = plateau(WEEKS, steady, "higher", 0.8, whole)
    assert slow is not None
    assert slow.state == "gaining"
    assert plateau(WEEKS[:3], [3, 3, 3], "higher", 0.8) is None
    assert plateau([0, 1, 2, 3], [3, 3, 3, 3], "higher", 0.8) is None  # four visits in three days


def test_a_reversal_is_behind_the_best_by_more_than_error() -> None:
    assert reversal([3, 6, 4.1], "higher", 1.9) == 1
    assert reversal([3, 6, 4.2], "higher", 1.9) is None
    assert reversal([7, 2, 4], "lower", 2.0) == 1
    assert reversal([3], "higher", 1.9) is None


def test_bands_and_neighbours_that_go_together() -> None:
    # moving ranges 0 6 1 3 1, mean 2.2; 22.667 -+ 2.66 * 2.2 = 16.815 to 28.519 (Shewhart individuals chart)
    band = moving_range_band([20, 20, 26, 25, 22, 23], [28, 25, 24, 27, 30, 30, 29])
    assert (band.low, band.high) == pytest.approx((16.815, 28.519), abs=0.001)
    assert not two_sd_band([5, 5.5, 4.5], [6.4, 5, 6.4]).signal  # 5 -+ 1.0: outside, inside, outside
    assert two_sd_band([5, 5.5, 4.5], [3.9, 3.8], "lower").signal
    # by hand: 1..8 about 4.5: products of neighbours sum to 26.25, squares to 42
    lag = serial([1, 2, 3, 4, 5, 6, 7, 8])
    assert lag is not None
    assert lag[0] == pytest.approx(26.25 / 42)
    assert not lag[1]  # 2 / sqrt(8) = .707
    assert serial([1, 1, 1]) is None
    for bad in ([], [1.0]):
        with pytest.raises(ValueError, match="baseline values"):
            two_sd_band(bad, [1.0])
    with pytest.raises(ValueError, match="phases"):
        overlap([], [1.0])
