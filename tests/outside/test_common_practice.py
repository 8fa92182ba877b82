"""Facts of the trade as check values. Common practice: no published source stands behind these."""

from __future__ import annotations

from dataclasses import replace

from reasoner.advice.advise import advise
from reasoner.advice.beliefs import beliefs
from reasoner.case.state import Anchor, Answer, CaseState, Context, Immobilised, Surgery, Visit
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.measures.change import change_class
from reasoner.measures.error import standard_error
from reasoner.safety.screens import Screening
from tests.build import NOW


def case(knowledge: Knowledge, context: Context, **answers: str) -> CaseState:
    """Everything a hurried clinician would deny is denied; `answers` change single facts."""
    facts = [f for f in knowledge.findings.values() if f.kind not in ("measured", "composite")]
    made = tuple(
        Answer(f.id, "left" if f.sided else "none", answers.get(f.id, "absent"), None, NOW, seq=i)  # type: ignore[arg-type]
        for i, f in enumerate(facts)
    )
    return CaseState(case="t", region=knowledge.region.id, context=context, answers=made, visits=(Visit(1, NOW),))


SPRAIN = Context(
    side="left", age=34, sex="female", setting="after_sprain", days_since={"injury": Anchor(42, NOW)},
    surgery=Surgery(none=True), immobilised=Immobilised(none=True),
)  # fmt: skip


def test_calf_positioning_stretch_is_held_a_minute_on_thirty_degrees(knowledge: Knowledge) -> None:
    """60 s usual, 30 s to 3 min in use, wedge of 30 degrees."""
    option = knowledge.options["calf_positioning_stretch"]
    assert option.dose is not None
    assert "60 seconds" in option.dose.text
    assert "30 seconds to 3 minutes" in option.dose.text
    assert "30 degrees" in option.setup


def test_three_finger_widths_are_four_to_five_centimetres(knowledge: Knowledge) -> None:
    """What patients measure with at home."""
    tool = next(t for t in knowledge.measures["knee_to_wall"].tools if t.id == "finger_widths")
    assert 4 <= 3 * tool.per_unit <= 5


def test_knee_to_wall_is_signed(knowledge: Knowledge) -> None:
    """Minus is short of the wall, plus beyond."""
    low, high = knowledge.measures["knee_to_wall"].possible
    assert low < 0 < high


def test_a_jump_of_five_centimetres_is_beyond_error_and_checked_before_it_is_credited(knowledge: Knowledge) -> None:
    """-4 to +1 or +2 cm after one stretch: far beyond error, and so large that the set-up is looked at again."""
    measure = knowledge.measures["knee_to_wall"]
    error = standard_error(measure)
    assert error is not None
    assert measure.drift is not None
    for after in (1.0, 2.0):
        assert change_class(after - -4.0, error.mdc95, measure.drift.mean) == "beyond"
        assert measure.recheck_jump is not None
        assert after - -4.0 >= measure.recheck_jump


def test_the_band_lies_on_the_talus_and_hurts_less(knowledge: Knowledge) -> None:
    """Below the malleoli; on the shin it defeats the purpose; less pain with it than without."""
    text = knowledge.options["band_self_mobilisation"].how.lower()
    assert "below the malleoli" in text
    assert "defeats the purpose" in text
    assert "hurt less" in text


def test_a_foot_held_pointing_down_shortens_the_calf(knowledge: Knowledge) -> None:
    """Three weeks plantarflexed raise both calf hypotheses above the same weeks not immobilised."""

    def chance(immobilised: Immobilised) -> dict[str, float]:
        context = replace(SPRAIN, immobilised=immobilised)
        state = CaseState(case="t", region="ankle", context=context, visits=(Visit(1, NOW),))
        facts = Facts(knowledge, state, NOW, "left")
        found = beliefs(facts, Screening(replace(facts, side=None)), "left")
        return {h: found.chance(h) for h in ("gastrocnemius_short", "soleus_short")}

    held, free = chance(Immobilised(weeks=6, position="plantarflexed")), chance(Immobilised(none=True))
    assert all(held[h] > free[h] for h in held)


def test_subtalar_mobilisation_is_done_side_lying_in_full_available_dorsiflexion(knowledge: Knowledge) -> None:
    """Side-lying takes the calf off stretch; the bend keeps the talus from rocking in the mortise."""
    option = knowledge.options["subtalar_glide"]
    assert option.position == "side"
    assert "full available" in option.how
    assert "rock" in option.how


def test_a_posterior_glide_helps_the_lunge_in_the_short_term(knowledge: Knowledge) -> None:
    """Its figures are for knee to wall, and are marked short-term."""
    effects = knowledge.options["posterior_talar_glide_3"].effects
    assert any(e.sign == "knee_to_wall" and e.short_term_only for e in effects)


def test_every_technique_is_retested_straight_after(knowledge: Knowledge) -> None:
    """Nothing is in the lane "try now" without a sign to measure again."""
    assert all(o.retest for o in knowledge.options.values() if o.lane == "try_now")


def test_plain_lunging_warns_when_the_front_pinches(knowledge: Knowledge) -> None:
    """Pain at the front at the end of the bend: reduce the depth, find out why; never simply offered."""
    pinched = advise(knowledge, case(knowledge, SPRAIN, front_pinch="present"), NOW)
    option = next(o for o in pinched.options if o.id == "plain_repeated_lunging")
    assert option.state != "offered"
    assert any("depth" in reason for reason in option.reasons)


def test_after_surgery_these_techniques_wait_for_healing(knowledge: Knowledge) -> None:
    """Two weeks after fixation of a broken ankle none of them may be done, whatever else is denied."""
    context = replace(
        SPRAIN, setting="after_fixation", surgery=Surgery(procedure="ankle_fracture_fixation", orders="known"),
        days_since={"injury": Anchor(15, NOW), "surgery": Anchor(14, NOW)},
    )  # fmt: skip
    advice = advise(knowledge, case(knowledge, context), NOW)
    named = {"calf_positioning_stretch", "band_self_mobilisation", "subtalar_glide", "posterior_talar_glide_3"}
    assert {o.state for o in advice.options if o.id in named} <= {"not_yet", "barred"}
