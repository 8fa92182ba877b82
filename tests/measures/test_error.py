"""Which error figure is used, and what is worked out from it. Expected numbers are worked by hand beside each."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reasoner.measures.derived import derived_error, derived_value, terms
from reasoner.measures.error import (
    combined_error,
    mdc_from_sem,
    sem_from_mdc,
    side_difference_error,
    standard_error,
    within_visit_sem,
)
from tests.measures.build import figure, reach

SAME = figure(sem=0.5)
LATER = figure(interval="between_visits", sem=0.7)
OTHERS = figure(rater="between", sem=0.6)
FINGERS = figure(tool="finger_widths", sem=0.9)


def test_sem_and_mdc_are_each_other_s_inverse() -> None:
    assert mdc_from_sem(1.0) == pytest.approx(2.7719, abs=5e-5)  # 1.96 * 1.41421
    assert sem_from_mdc(mdc_from_sem(0.37)) == pytest.approx(0.37)
    for bad in (0.0, -1.0, math.nan, math.inf):
        with pytest.raises(ValueError, match="above zero"):
            mdc_from_sem(bad)


def test_the_figure_of_this_tool_interval_and_rater_is_used_without_a_note() -> None:
    measure = reach(LATER, OTHERS, SAME, FINGERS)
    for tool, rater, interval, expected in [
        (None, "within", "within_visit", 0.5),
        ("tape", "within", "between_visits", 0.7),
        ("tape", "between", "within_visit", 0.6),
        ("finger_widths", "within", "within_visit", 0.9),
    ]:
        used = standard_error(measure, tool, rater, interval)  # type: ignore[arg-type]
        assert used is not None
        assert (used.value, used.note, used.exact) == (expected, "", True)
    assert within_visit_sem(measure) == 0.5


def test_of_several_that_match_the_largest_is_used() -> None:
    used = standard_error(reach(SAME, figure(sem=0.6), figure(mdc95=1.2)))  # 1.2 / 2.7719 = .433
    assert used is not None
    assert used.value == 0.6


def test_same_tool_comes_before_everything_then_interval_then_rater() -> None:
    used = standard_error(reach(LATER, FINGERS), "tape")
    assert used is not None
    assert used.value == 0.7
    assert "separate visits" in used.note
    used = standard_error(reach(OTHERS, LATER), "tape")  # interval before rater
    assert used is not None
    assert used.value == 0.6
    assert "two people" in used.note
    used = standard_error(reach(SAME), "tape", interval="between_visits")
    assert used is not None
    assert "real error is larger" in used.note


def test_without_the_tool_the_largest_of_the_measure_stands_in_and_says_so() -> None:
    used = standard_error(reach(SAME, LATER), "finger_widths")
    assert used is not None
    assert used.value == 0.7
    assert "no figure for finger_widths" in used.note
    assert used.figure is LATER


def test_no_figure_is_none_and_nothing_to_take_off() -> None:
    assert standard_error(reach()) is None
    assert side_difference_error(reach()) is None
    assert within_visit_sem(reach()) == 0.0


def test_the_stated_mdc_is_kept_beside_the_sem() -> None:
    used = standard_error(reach(figure(sem=0.5, mdc95=1.5)))
    assert used is not None
    assert (used.value, used.mdc95) == (0.5, 1.5)  # 1.96 sqrt 2 * .5 = 1.39: the printed one is rounded up
    used = standard_error(reach(figure(mdc95=1.9)))
    assert used is not None
    assert used.value == pytest.approx(0.6855, abs=5e-5)  # 1.9 / 2.77186
    assert used.mdc95 == 1.9


def test_fewer_trials_are_noted() -> None:
    used = standard_error(reach(SAME), trials=1)
    assert used is not None
    assert (used.value, used.exact) == (0.5, False)
    assert "1 of the usual 3" in used.note
    assert standard_error(reach(SAME), trials=5) == standard_error(reach(SAME), trials=3)
    with pytest.raises(ValueError, match="one trial"):
        standard_error(reach(SAME), trials=0)


def test_the_error_of_a_difference_is_its_published_mdc_over_1_96_root_2() -> None:
    used = side_difference_error(reach(figure(sem=0.5, mdc95_side_difference=1.5)))
    assert used is not None
    assert used.value == pytest.approx(0.5412, abs=5e-5)  # 1.5 / 2.77186
    assert used.mdc95 == 1.5


def test_else_the_root_of_summed_squares() -> None:
    used = side_difference_error(reach(SAME))
    assert used is not None
    assert used.value == pytest.approx(0.5 * math.sqrt(2))
    mixed = side_difference_error(reach(SAME, FINGERS), "tape", other_tool="finger_widths")
    assert mixed is not None
    assert mixed.value == pytest.approx(math.sqrt(0.25 + 0.81))


def test_a_difference_published_for_another_tool_is_not_used() -> None:
    measure = reach(figure(sem=0.5, mdc95_side_difference=1.5), FINGERS)
    used = side_difference_error(measure, "finger_widths")
    assert used is not None
    assert used.value == pytest.approx(0.9 * math.sqrt(2))


def test_one_side_from_the_figure_of_a_difference_alone() -> None:
    used = standard_error(reach(figure(mdc95_side_difference=1.5)))
    assert used is not None
    assert used.value == pytest.approx(0.3827, abs=5e-5)  # 1.5 / 2.77186 / 1.41421
    assert "difference between sides" in used.note


def test_a_combination_has_the_weakest_basis_and_needs_every_part() -> None:
    strong = standard_error(reach(SAME))
    weak = standard_error(reach(figure(sem=1.2)))
    assert strong is not None
    assert weak is not None
    both = combined_error(strong, replace(weak, basis="recalled"))
    assert both is not None
    assert both.value == pytest.approx(1.3)  # 5-12-13
    assert both.basis == "recalled"
    assert combined_error(strong, None) is None
    assert combined_error() is None


def test_derived_measures() -> None:
    assert terms("bent - straight") == ((1, "bent"), (-1, "straight"))
    assert terms("a + b - c") == ((1, "a"), (1, "b"), (-1, "c"))
    assert derived_value("bent - straight", {"bent": 12.0, "straight": 5.0}) == 7.0
    assert derived_value("bent - straight", {"bent": 12.0}) is None
    three, four = standard_error(reach(figure(sem=3.0))), standard_error(reach(figure(sem=4.0)))
    used = derived_error("bent - straight", {"bent": three, "straight": four})
    assert used is not None
    assert used.value == pytest.approx(5.0)  # 3-4-5
    assert derived_error("bent - straight", {"bent": three}) is None
    for bad in ("", "a b", "a *b", "a - ", "2 - a", "a - (b)"):
        with pytest.raises(ValueError, match=r"derive|sum or difference"):
            terms(bad)
