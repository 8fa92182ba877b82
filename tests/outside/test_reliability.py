"""Reliability, error formulas and single-case statistics against published data, tables and libraries, by name."""

from __future__ import annotations

import math
import random

import pytest
import scipy.stats

from reasoner.measures.distributions import chi2_quantile, f_quantile, t_quantile
from reasoner.measures.error import mdc_from_sem
from reasoner.measures.formulas import (
    mdc90_from_sem,
    reliable_change,
    sem_from_limits,
    sem_from_reliability,
    split_error,
    within_person_sd,
)
from reasoner.measures.reliability import reliability
from reasoner.measures.single_case import overlap, two_sd_band
from reasoner.measures.trend import fit_line

# Shrout PE, Fleiss JL 1979, Psychol Bull 86(2):420-428, table 2: six targets by four judges
SHROUT_FLEISS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
PUBLISHED = {"1,1": 0.17, "2,1": 0.29, "3,1": 0.71, "1,k": 0.44, "2,k": 0.62, "3,k": 0.91}
# pingouin 0.7.0, intraclass_corr on the same data: coefficient and 95 % interval as it prints them
PINGOUIN = {
    "1,1": (0.16574177, -0.13, 0.72), "2,1": (0.28976378, 0.02, 0.76), "3,1": (0.71484071, 0.34, 0.95),
    "1,k": (0.44279713, -0.88, 0.91), "2,k": (0.62005055, 0.07, 0.93), "3,k": (0.90931554, 0.68, 0.99),
}  # fmt: skip
# Parker RI, Vannest KJ, Davis JL 2011, Behav Modif 35(4):303-322
PARKER_A, PARKER_B = [20, 20, 26, 25, 22, 23], [28, 25, 24, 27, 30, 30, 29]


@pytest.mark.parametrize("form", PUBLISHED)
def test_icc_of_shrout_and_fleiss_1979(form: str) -> None:
    found = reliability(SHROUT_FLEISS).icc[form]
    assert round(found.value, 2) == PUBLISHED[form]
    value, low, high = PINGOUIN[form]
    assert found.value == pytest.approx(value, abs=5e-9)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.005)


def test_shrout_and_fleiss_1979_through_the_mean_squares_of_statsmodels() -> None:
    """Two-way analysis of variance by statsmodels, then the paper's own formulas for its six forms."""
    ols = pytest.importorskip("statsmodels.formula.api").ols
    anova = pytest.importorskip("statsmodels.stats.anova").anova_lm
    cells = [(t, j, x) for t, row in enumerate(SHROUT_FLEISS) for j, x in enumerate(row)]
    target, judge, value = ([c[i] for c in cells] for i in range(3))
    frame = pytest.importorskip("pandas").DataFrame({"target": target, "judge": judge, "value": value})
    fitted = ols("value ~ C(target) + C(judge)", frame).fit()
    square = anova(fitted)["mean_sq"]
    bms, jms, ems, n, k = square["C(target)"], square["C(judge)"], square["Residual"], 6, 4
    wms = (jms * (k - 1) + ems * (k - 1) * (n - 1)) / (n * (k - 1))
    theirs = {
        "1,1": (bms - wms) / (bms + (k - 1) * wms), "2,1": (bms - ems) / (bms + (k - 1) * ems + k * (jms - ems) / n),
        "3,1": (bms - ems) / (bms + (k - 1) * ems), "1,k": (bms - wms) / bms,
        "2,k": (bms - ems) / (bms + (jms - ems) / n), "3,k": (bms - ems) / bms,
    }  # fmt: skip
    ours = reliability(SHROUT_FLEISS).icc
    assert {form: ours[form].value for form in theirs} == pytest.approx(theirs, rel=1e-9)


def test_sem_of_shrout_and_fleiss_1979_from_its_mean_squares() -> None:
    # the paper's table: between targets 11.24, within 6.26, judges 32.49, residual 1.02
    found = reliability(SHROUT_FLEISS)
    assert found.sem_consistency.value == pytest.approx(math.sqrt(1.02), abs=0.003)
    assert found.sem_agreement.value == pytest.approx(math.sqrt(6.26), abs=0.002)
    # interval of a variance with 15 degrees of freedom, scipy
    low = math.sqrt(1.0194 * 15 / scipy.stats.chi2.ppf(0.975, 15))
    assert found.sem_consistency.low == pytest.approx(low, rel=1e-3)


def test_quantiles_equal_scipy() -> None:
    made = random.Random(7)
    for _ in range(200):
        p, a, b = made.uniform(0.002, 0.998), made.uniform(0.7, 300), made.uniform(0.7, 300)
        assert f_quantile(p, a, b) == pytest.approx(scipy.stats.f.ppf(p, a, b), rel=1e-7)
        assert chi2_quantile(p, a) == pytest.approx(scipy.stats.chi2.ppf(p, a), rel=1e-7)
        assert t_quantile(p, a) == pytest.approx(scipy.stats.t.ppf(p, a), rel=1e-6, abs=1e-9)


def test_two_way_mean_squares_of_a_published_table_give_its_icc_and_least_difference() -> None:
    """Method agreement table, J Am Soc Nephrol: mean square of error 1.64 -> SDD 3.55, printed there."""
    assert mdc_from_sem(math.sqrt(1.64)) == pytest.approx(3.55, abs=0.005)


@pytest.mark.parametrize(
    ("sw", "repeatability"), [(6.2, 17.2), (2.6, 7.1), (3.2, 8.7), (1.2, 3.2), (4.7, 13.0), (3.5, 9.7)]
)
def test_repeatability_pairs_of_a_lung_diffusion_study(sw: float, repeatability: float) -> None:
    """Eur Respir J, table: repeatability = 2.77 within-subject SD; both printed to one decimal."""
    assert mdc_from_sem(sw - 0.05) - 0.05 <= repeatability <= mdc_from_sem(sw + 0.05) + 0.05


def test_error_formulas_against_worked_examples() -> None:
    # Baker R, gait analysis teaching page: within-person SDs 5.7 4.2 5.7 2.8 2.1; mean square 94.87 / 5, root 4.356
    assert within_person_sd([5.7, 4.2, 5.7, 2.8, 2.1]) == pytest.approx(4.356, abs=0.001)
    # Jacobson & Truax formula as applied to a dependence questionnaire: SD 7.6, r .95: 7.6 * sqrt(.05) = 1.699
    sem = sem_from_reliability(7.6, 0.95)
    assert mdc_from_sem(sem) == pytest.approx(4.711, abs=0.002)  # 1.96 * 1.4142 * 1.6994
    # Jacobson & Truax 1991 (from memory): 47.5 to 32.5, SD 7.5, r .80: RC 3.162
    assert abs(reliable_change(47.5, 32.5, sem_from_reliability(7.5, 0.8))) == pytest.approx(3.162, abs=0.001)
    # Hebert-Losier 2017 limits of agreement -6.2 to 6.5: 12.7 / (2 * 1.96 * 1.4142) = 2.291
    assert sem_from_limits(-6.2, 6.5) == pytest.approx(2.291, abs=0.001)
    assert mdc90_from_sem(1.0) == pytest.approx(1.645 * 1.41421356)


def test_averaging_three_reaches_gains_less_than_independent_trials_would() -> None:
    """Shaffer 2013, reach forwards between raters: SEM 3.1 of one reach, 2.0 of the mean of three (not 1.79)."""
    between, trial = split_error(3.1, 2.0, 3)
    # by hand: trial^2 = (9.61 - 4) / (2/3) = 8.415; between^2 = 9.61 - 8.415 = 1.195
    assert (between**2, trial**2) == pytest.approx((1.195, 8.415), abs=0.001)
    assert math.sqrt(between**2 + trial**2 / 3) == pytest.approx(2.0)


def test_nap_tau_and_tau_u_of_parker_2011() -> None:
    """NAP 38.5/42, Tau 35/42 (Parker 2011); Tau-U .7380952 and the standard errors as SingleCaseES prints them."""
    found = overlap(PARKER_A, PARKER_B)
    assert found.pairs == 42
    assert found.nap == pytest.approx(38.5 / 42)
    assert found.tau == pytest.approx(35 / 42)
    assert found.tau_u == pytest.approx(0.7380952, abs=5e-8)
    assert found.nap_se == pytest.approx(0.06900656, abs=5e-9)
    assert overlap(PARKER_A, PARKER_B, "lower").nap == pytest.approx(0.08333333, abs=5e-9)


def test_tau_u_of_parker_2011_behavior_therapy() -> None:
    """Behav Ther 42(2):284-299: A 3 3 4 5, B 4 5 6 7 7: Tau 16/20, Tau-U 11/20."""
    found = overlap([3, 3, 4, 5], [4, 5, 6, 7, 7])
    assert (found.tau, found.tau_u) == pytest.approx((0.80, 0.55))


def test_two_standard_deviation_band_on_the_parker_series() -> None:
    """Sample SD by hand: mean 136/6 = 22.667, sum of squares 31.33, /5, root 2.5033; band 17.66 to 27.673."""
    band = two_sd_band(PARKER_A, PARKER_B)
    assert (band.low, band.high) == pytest.approx((17.660, 27.673), abs=0.001)
    assert [PARKER_B[i] for i in band.outside] == [28, 30, 30, 29]
    assert band.signal


def test_the_line_equals_scipy_where_all_errors_are_alike_and_scatter_is_large() -> None:
    times, values = [0.0, 3, 7, 11, 14, 20], [3.0, 9.0, 4.0, 12.0, 6.0, 14.0]
    line = fit_line(times, values, [0.5] * 6)
    assert line is not None
    assert line.spread2 > 1  # so the scatter is the series' own, as in ordinary regression
    other = scipy.stats.linregress(times, values)
    assert line.slope == pytest.approx(other.slope)
    assert line.at(0) == pytest.approx(other.intercept)
    half = scipy.stats.t.ppf(0.975, 4) * other.stderr
    assert line.slope_range() == pytest.approx((other.slope - half, other.slope + half))
    # ordinary prediction interval at day 25, by its textbook formula
    mean = sum(times) / 6
    sxx = sum((t - mean) ** 2 for t in times)
    residual = sum((v - other.intercept - other.slope * t) ** 2 for t, v in zip(times, values, strict=True)) / 4
    half = scipy.stats.t.ppf(0.975, 4) * math.sqrt(residual * (1 + 1 / 6 + (25 - mean) ** 2 / sxx))
    middle = other.intercept + other.slope * 25
    assert line.prediction(25, 0.5) == pytest.approx((middle - half, middle + half))
