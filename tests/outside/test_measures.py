"""Measures against published figures and facts of common practice. Each check names its source.

None of the expected values comes from this project's code.
"""

from __future__ import annotations

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.measures.baseline import value
from reasoner.measures.change import change_class, sign_change
from reasoner.measures.entry import parse_trials
from reasoner.measures.error import mdc_from_sem, sem_from_mdc, side_difference_error, standard_error
from reasoner.measures.units import in_unit

KONOR = "Konor MM et al. 2012, Int J Sports Phys Ther 7(3):279-287, PMID 22666642"
POWDEN = "Powden CJ et al. 2015, Man Ther 20(4):524-532, doi 10.1016/j.math.2015.01.004"
CHISHOLM = "Chisholm MD et al. 2012, Physiother Can 64(4):347-355, doi 10.3138/ptc.2011-41"
POOLED_WITHIN_RATER = 1.9  # cm, POWDEN


@pytest.mark.parametrize(
    ("sem", "half_a_digit", "mdc", "mdc_half_a_digit", "source"),
    [
        # published pairs; both numbers are printed rounded, so the SEM may be half a last digit off
        (0.4, 0.05, 1.1, 0.05, f"{KONOR}: tape, lower"),
        (0.6, 0.05, 1.5, 0.05, f"{KONOR}: tape, upper"),
        (1.3, 0.05, 3.7, 0.05, f"{KONOR}: inclinometer, lower"),
        (1.4, 0.05, 3.8, 0.05, f"{KONOR}: inclinometer, upper"),
        (1.8, 0.05, 5.0, 0.05, f"{KONOR}: goniometer, lower"),
        (2.8, 0.05, 7.7, 0.05, f"{KONOR}: goniometer, upper"),
        (1.65, 0.005, 4.57, 0.005, "phone in the lunge, doi 10.1177/10538127251395837"),
        (0.48, 0.005, 1.33, 0.005, "Alghadir AH et al. 2018, J Pain Res 11:851-856, doi 10.2147/JPR.S158847"),
        (0.71, 0.005, 1.96, 0.005, "Arabic 0-10 pain rating, knee osteoarthritis, n 121 (authors not seen)"),
        (2.94, 0.005, 8.15, 0.005, "Munro AG, Herrington LC 2010, doi 10.1016/j.ptsp.2010.07.002"),
    ],
)  # fmt: skip
def test_mdc_from_sem_as_published(
    sem: float, half_a_digit: float, mdc: float, mdc_half_a_digit: float, source: str
) -> None:
    lowest, highest = mdc_from_sem(sem - half_a_digit), mdc_from_sem(sem + half_a_digit)
    assert lowest - mdc_half_a_digit <= mdc <= highest + mdc_half_a_digit, source
    assert sem_from_mdc(mdc) == pytest.approx(sem, abs=half_a_digit + mdc_half_a_digit / 2.77), source


def test_a_change_of_one_and_a_half_cm_is_within_the_pooled_error_and_two_and_a_half_is_beyond() -> None:
    assert change_class(1.5, POOLED_WITHIN_RATER) == "within", POWDEN
    assert change_class(2.5, POOLED_WITHIN_RATER) == "beyond", POWDEN
    assert sign_change("range", 4.0, 5.5, "higher", POOLED_WITHIN_RATER).result == "within"
    assert sign_change("range", 4.0, 6.5, "higher", POOLED_WITHIN_RATER).result == "beyond"
    assert sign_change("range", 6.5, 4.0, "higher", POOLED_WITHIN_RATER).result == "worse"


def test_the_shipped_lunge_errors_are_the_published_ones(knowledge: Knowledge) -> None:
    lunge = knowledge.measures["knee_to_wall"]
    later = standard_error(lunge, "tape", "within", "between_visits")
    assert later is not None
    assert later.mdc95 == POOLED_WITHIN_RATER, POWDEN
    assert "powden-2015-wblt-review" in later.figure.evidence  # type: ignore[union-attr]
    now = standard_error(lunge, "tape")
    assert now is not None
    assert 0.4 <= now.value <= 0.6, KONOR
    assert 1.1 <= now.mdc95 <= 1.5, KONOR
    difference = side_difference_error(lunge, "tape", interval="between_visits")
    assert difference is not None
    assert difference.mdc95 == 1.5, CHISHOLM
    assert difference.value == pytest.approx(0.541, abs=5e-4)  # 1.5 / (1.96 * 1.41421)
    shin = standard_error(knowledge.measures["tibial_inclination"], "inclinometer", "within", "between_visits")
    assert shin is not None
    assert shin.mdc95 == pytest.approx(4.7, abs=0.02), POWDEN


def test_three_fingers_are_about_four_to_five_centimetres(knowledge: Knowledge) -> None:
    """Common practice: people measure knee to wall at home in finger widths; three are about 4-5 cm."""
    lunge = knowledge.measures["knee_to_wall"]
    (three,) = in_unit(lunge, "finger_widths", [3])
    assert 4.0 <= three <= 5.0
    found, problems = parse_trials("L 3 fingers R 6 fingers", lunge)
    assert not [p for p in problems if p.level == "error"]
    assert [t.tool for t in found] == ["finger_widths", "finger_widths"]
    assert 4.0 <= value(found[0].values) <= 5.0
    fingers, tape = standard_error(lunge, "finger_widths"), standard_error(lunge, "tape")
    assert fingers is not None
    assert tape is not None
    assert fingers.value > tape.value  # a cruder tool has the wider error
    assert fingers.basis != "published"  # and nobody published it


def test_minus_is_short_of_the_wall_and_plus_beyond(knowledge: Knowledge) -> None:
    """Common practice: from about -4 cm to +1 or +2 right after one stretch is far beyond measurement error."""
    lunge = knowledge.measures["knee_to_wall"]
    found, _ = parse_trials("L \u22124 R 1", lunge)
    assert [t.values for t in found] == [(-4.0,), (1.0,)]
    error = standard_error(lunge, "tape")
    assert error is not None
    drift = lunge.drift.mean if lunge.drift else 0.0
    for after in (1.0, 2.0):
        sign = sign_change("range", -4.0, after, lunge.better, error.mdc95, drift)
        assert sign.result == "beyond"
        assert sign.change > 2 * error.mdc95
        assert lunge.recheck_jump is not None
        assert sign.change >= lunge.recheck_jump  # so large that the set-up is looked at again first
