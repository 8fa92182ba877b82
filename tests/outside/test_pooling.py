"""Pooling against an independent library and a published worked example.

Library: statsmodels.stats.meta_analysis.combine_effects (its own code; fixed, DerSimonian-Laird, Paule-Mandel).
Example: the thirteen trials of BCG vaccine against tuberculosis (Colditz et al. 1994, JAMA 271:698-702; the two by two
tables as in the data set dat.bcg of the R package metadat). Published re-analysis with restricted maximum likelihood
(metafor): risk ratio 0.489 (0.344 to 0.696), tau^2 0.313, Q 152.23 on 12, I^2 92.2 %, leave-one-out 0.452 to 0.533.
"""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from scipy import stats

from reasoner.upkeep.pooling import Method, Study, leave_one_out, pool

BCG = (  # vaccinated with and without tuberculosis, controls with and without
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232), (17, 1699, 65, 1600),
    (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
)  # fmt: skip


def bcg() -> list[Study]:
    made = []
    for n, (a, b, c, d) in enumerate(BCG, 1):
        se = sqrt(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))
        made.append(Study(f"trial {n}", log((a / (a + b)) / (c / (c + d))), se))
    return made


def test_bcg_as_published() -> None:
    found = pool(bcg(), "reml")
    assert exp(found.effect) == pytest.approx(0.489, abs=5e-4)
    assert [exp(x) for x in found.interval] == pytest.approx([0.344, 0.696], abs=5e-4)
    assert found.tau2 == pytest.approx(0.313, abs=5e-4)
    assert (found.q, found.df) == (pytest.approx(152.23, abs=5e-3), 12)
    without = [exp(p.effect) for _, p in leave_one_out(bcg(), "reml")]
    assert (min(without), max(without)) == (pytest.approx(0.452, abs=5e-4), pytest.approx(0.533, abs=5e-4))


def test_published_i2_of_bcg() -> None:
    """metafor sets tau^2 against a typical sampling variance (92.2 %); ours is from Q: 1 - 12 / 152.23 = 92.1 %."""
    assert pool(bcg()).i2 == pytest.approx(1 - 12 / 152.23, abs=1e-4)


def random_studies(seed: int) -> list[Study]:
    """Studies that differ by more than chance: with less the library leaves a negative tau^2 as it is."""
    rng = np.random.default_rng(seed)
    while True:
        count = int(rng.integers(3, 15))
        between = float(rng.choice([0.3, 0.8, 1.5]))
        ses = rng.uniform(0.1, 1.0, count)
        made = [Study(str(i), float(rng.normal(0.5, sqrt(between**2 + se**2))), float(se)) for i, se in enumerate(ses)]
        if pool(made, "fixed").q > count - 1:
            return made


def q_at(studies: list[Study], tau2: float) -> float:
    """The generalised Q, written out."""
    w = np.array([1 / (s.variance + tau2) for s in studies])
    y = np.array([s.effect for s in studies])
    return float((w * (y - (w * y).sum() / w.sum()) ** 2).sum())


@pytest.mark.parametrize("seed", range(30))
def test_paule_mandel_by_its_definition(seed: int) -> None:
    """Paule and Mandel 1982: at tau^2 the generalised Q equals k - 1."""
    studies = random_studies(seed)
    assert q_at(studies, pool(studies, "pm").tau2) == pytest.approx(len(studies) - 1, abs=1e-8)


def test_no_more_than_chance_gives_nothing_between() -> None:
    alike = [Study(str(i), 1.0 + 0.01 * i, 0.5) for i in range(5)]
    assert [pool(alike, m).tau2 for m in ("dl", "pm", "reml")] == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize(("ours", "theirs"), [("dl", "dl"), ("pm", "pm")])
def test_against_statsmodels(seed: int, ours: Method, theirs: str) -> None:
    combine = pytest.importorskip("statsmodels.stats.meta_analysis").combine_effects
    studies = random_studies(seed)
    effects, variances = np.array([s.effect for s in studies]), np.array([s.variance for s in studies])
    fixed, found = pool(studies, "fixed"), pool(studies, ours)
    given = {"atol": 1e-13, "maxiter": 500} if theirs == "pm" else {}
    other = combine(effects, variances, method_re=theirs, **given)
    if theirs == "pm" and other.tau2 == 0:
        # its iteration stepped below 0 and stopped there, which is no root: ours is checked by the definition above
        assert q_at(studies, 0.0) > len(studies) - 1
        return
    assert fixed.effect == pytest.approx(other.mean_effect_fe, abs=1e-8)
    assert fixed.se == pytest.approx(other.sd_eff_w_fe, abs=1e-8)
    assert found.tau2 == pytest.approx(max(0.0, other.tau2), abs=1e-8)
    assert found.effect == pytest.approx(other.mean_effect_re, abs=1e-8)
    assert found.se == pytest.approx(other.sd_eff_w_re, abs=1e-8)
    assert found.q == pytest.approx(other.q, abs=1e-8)
    assert found.weights == pytest.approx(tuple(other.weights_rel_re), abs=1e-8)
    # their Hartung-Knapp standard error is not held up to 1; ours is (Knapp and Hartung 2003)
    assert found.hartung_knapp is not None
    half = stats.t.ppf(0.975, len(studies) - 1) * max(other.sd_eff_w_re_hksj, other.sd_eff_w_re)
    assert found.hartung_knapp[1] - found.effect == pytest.approx(half, abs=1e-8)


@pytest.mark.parametrize("seed", range(10))
def test_reml_is_at_the_top_of_its_likelihood(seed: int) -> None:
    """The restricted log-likelihood written out (Viechtbauer 2005), and its top found by a plain search."""
    studies = random_studies(seed)
    effects, variances = np.array([s.effect for s in studies]), np.array([s.variance for s in studies])

    def restricted(tau2: float) -> float:
        w = 1 / (variances + tau2)
        mean = float((w * effects).sum() / w.sum())
        return float(0.5 * np.log(w).sum() - 0.5 * np.log(w.sum()) - 0.5 * (w * (effects - mean) ** 2).sum())

    found = pool(studies, "reml").tau2
    for near in (found * 0.99, found * 1.01 + 1e-6, found + 0.01, max(0.0, found - 0.01)):
        assert restricted(found) >= restricted(near) - 1e-10


def test_prediction_interval_by_hand() -> None:
    """Higgins, Thompson and Spiegelhalter 2009: effect -+ t(k-2) sqrt(tau^2 + SE^2)."""
    found = pool(bcg(), "dl")
    assert found.prediction is not None
    half = stats.t.ppf(0.975, 11) * sqrt(found.tau2 + found.se**2)
    assert found.prediction == pytest.approx((found.effect - half, found.effect + half), abs=1e-8)
