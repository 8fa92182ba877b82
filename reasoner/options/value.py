"""Chance of a worthwhile change from an option, on the retest sign its figures were measured in.

R = "a true change above t", t = drift + 1.645 sd of drift. q(m, s) = 1 - Phi((t - m)/s);
big(m, s) = 1 - Phi((max(t, worthwhile) - m)/s). The response node has the option's targets and the hidden contact
node as causes, so its chance given everything known comes from the exact engine; see `Response`.

    p1 = q(gain, tau)    tau^2 = max(SD^2 - 2 SEM^2, (gain/4)^2)        p0 = max(q(sham, sd of sham), least)
    contact c = min(.95, (p0 - leak)/((1 - leak) * base rate))          target c = max(0, 1 - (1 - p1)/(1 - p0))
    if the studies hold  = P(R | evidence) * big(gain, tau)/q(gain, tau)
    if only touch        = P(R | evidence, target c = 0) * big(sham, s)/q(sham, s)
    value                = w * first + (1 - w) * second

A trial's mean gain already averages those who do not respond: P(response) is not multiplied by P(mean gain) again.
Where figures are missing a word stands for p1 or p0; without either there is no value. No unit is converted.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Effect, Measure
from reasoner.measures.error import within_visit_sem

__all__ = [
    "Response", "Worth", "beyond_drift", "chance_if_hold", "chance_if_touch", "drift_limit", "response",
    "true_spread", "waiting", "worth",
]  # fmt: skip

_PHI = NormalDist().cdf
_ONE_SIDED_95 = 1.645


@dataclass(frozen=True, slots=True)
class Response:
    """An option's response on one sign. `share_*`: of changes above t, the part that is also worthwhile."""

    sign: str
    p1: float
    p0: float
    contact_c: float
    target_c: float
    leak: float
    share_if_hold: float
    share_if_touch: float
    weight: float
    certainty: str
    basis: str
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Worth:
    """Chances of a worthwhile change; `value` weighs the two by certainty."""

    value: float
    if_hold: float
    if_touch: float


def response(effect: Effect, knowledge: Knowledge, targets: int) -> Response | None:
    """Response figures of an effect, or None where neither figures nor words are stated.

    `targets`: how many hypotheses it acts on; with none it can do no more than touch.
    """
    policy = knowledge.policy
    measure = knowledge.measures[effect.sign]
    p1, share_hold = chance_if_hold(effect, measure, knowledge)
    if p1 is None:
        return None
    p0, share_touch = chance_if_touch(effect, measure, knowledge)
    p0 = max(p0, policy.least_p0)
    leak = policy.contact_leak
    contact = min(0.95, max(0.0, (p0 - leak) / ((1 - leak) * policy.contact_base_rate)))
    target = max(0.0, 1 - (1 - p1) / (1 - p0)) if targets else 0.0
    return Response(
        effect.sign, p1, p0, contact, target, leak, share_hold, share_touch,
        policy.certainty_weight[effect.certainty], effect.certainty, effect.basis, effect.evidence,
    )


def worth(figures: Response, chance: float, chance_if_touch: float) -> Worth:
    """Value from P(R | evidence) and the same with the target links off."""
    hold = chance * figures.share_if_hold
    touch = chance_if_touch * figures.share_if_touch
    return Worth(figures.weight * hold + (1 - figures.weight) * touch, hold, touch)


def waiting(measure: Measure, knowledge: Knowledge) -> float | None:
    """Chance that repeating the measure alone shows a worthwhile change: the line every option has to beat."""
    if measure.drift is None:
        return None
    above, share = beyond_drift(measure.drift.mean, measure.drift.sd, measure, _worthwhile(measure, knowledge))
    return above * share


def chance_if_hold(effect: Effect, measure: Measure, knowledge: Knowledge) -> tuple[float | None, float]:
    """(p1, share of those changes that is also worthwhile); p1 None where nothing is stated."""
    if effect.gain is not None and effect.sd is not None and measure.drift is not None:
        return beyond_drift(effect.gain, true_spread(effect, measure), measure, _worthwhile(measure, knowledge))
    if effect.p1 is not None:
        return knowledge.chance(effect.p1), 1.0
    return None, 1.0


def chance_if_touch(effect: Effect, measure: Measure, knowledge: Knowledge) -> tuple[float, float]:
    """(p0, share of those changes that is also worthwhile)."""
    if effect.sham is not None and effect.sham_sd is not None and measure.drift is not None:
        return beyond_drift(effect.sham, effect.sham_sd, measure, _worthwhile(measure, knowledge))
    if effect.p0 is not None:
        return knowledge.chance(effect.p0), 1.0
    return knowledge.policy.default_p0, 1.0


def drift_limit(measure: Measure) -> float:
    """t: what drift alone stays below in 95 of 100. The measure must state its drift."""
    assert measure.drift is not None
    return measure.drift.mean + _ONE_SIDED_95 * measure.drift.sd


def true_spread(effect: Effect, measure: Measure) -> float:
    """Spread of true changes: a trial's SD with the error of both occasions taken out."""
    assert effect.gain is not None
    assert effect.sd is not None
    sem = within_visit_sem(measure)
    return sqrt(max(effect.sd**2 - 2 * sem**2, (effect.gain / 4) ** 2))


def _worthwhile(measure: Measure, knowledge: Knowledge) -> float | None:
    return None if measure.worthwhile is None else knowledge.number(measure.worthwhile)


def beyond_drift(mean: float, sd: float, measure: Measure, worthwhile: float | None) -> tuple[float, float]:
    """(chance above drift, share of those that is also worthwhile)."""
    assert measure.drift is not None
    limit = drift_limit(measure)
    sd = max(sd, 1e-9)
    above = 1 - _PHI((limit - mean) / sd)
    big = 1 - _PHI((max(limit, limit if worthwhile is None else worthwhile) - mean) / sd)
    return above, (big / above if above > 0 else 0.0)
