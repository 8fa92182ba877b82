"""Published danger rules item by item. Expected values come from the publications named, never from this project."""

from __future__ import annotations

from datetime import timedelta

import pytest

from reasoner.case.state import Anchor, Answer, CaseState, Context, Visit
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.safety.screens import Screening, ScreenResult
from tests.build import NOW

STIELL = "Stiell IG et al. 1993, JAMA 269(9):1127-1132: tender back edge or tip of either malleolus, or no four steps"
ANDERSON = "Anderson R et al. 2022, Emerg Med J 39(3):258: from day 10 on the rule finds 4 of 19 breaks"
WELLS = "Wells PS et al. 2003, N Engl J Med 349:1227-1235: ten items, likely at 2 or more"

ANKLE_ITEMS = (
    "lateral_malleolus_tender", "medial_malleolus_tender", "cannot_take_four_steps_then", "cannot_take_four_steps",
)  # fmt: skip
# of the 2003 form, with their points
CLOT_ITEMS = {
    "active_cancer": 1,
    "leg_paralysed_or_plaster": 1,
    "bedridden_or_surgery": 1,
    "deep_vein_tender": 1,
    "whole_leg_swollen": 1,
    "calf_3cm_bigger": 1,
    "pitting_one_leg": 1,
    "collateral_veins": 1,
    "previous_clot": 1,
    "other_diagnosis_as_likely": -2,
}


def result(
    knowledge: Knowledge, screen: str, answers: dict[str, str], days: int | None = None, age: int | None = 30
) -> ScreenResult:
    """One screen over a left-sided case with these answers, so many days after an injury."""
    since = {} if days is None else {"injury": Anchor(days, NOW)}
    made = tuple(
        Answer(f, "left" if knowledge.findings[f].sided else "none", value, None, NOW, seq=i)  # type: ignore[arg-type]
        for i, (f, value) in enumerate(answers.items(), 1)
    )
    state = CaseState(
        case="t", region=knowledge.region.id, context=Context(side="left", age=age, days_since=since), answers=made,
        visits=(Visit(1, NOW - timedelta(minutes=1)),),
    )  # fmt: skip
    return next(r for r in Screening(Facts(knowledge, state, NOW)).results() if r.screen.id == screen)


@pytest.mark.parametrize(
    ("days", "expected"),
    [(2, "not_met"), (9, "not_met"), (10, "does_not_apply"), (40, "does_not_apply"), (None, "open")],
)
def test_fracture_rule_all_items_negative(knowledge: Knowledge, days: int | None, expected: str) -> None:
    """STIELL for the items, ANDERSON for the limit of ten days. Unknown day: nothing is said."""
    answers = {**dict.fromkeys(ANKLE_ITEMS, "absent"), "loss_of_protective_sensation": "absent"}
    assert result(knowledge, "acute_ankle_fracture", answers, days).state == expected


@pytest.mark.parametrize("days", [2, 9])
@pytest.mark.parametrize("positive", range(16))
def test_fracture_rule_truth_table(knowledge: Knowledge, positive: int, days: int) -> None:
    """STIELL: either malleolus alone meets it; not walking counts only both at the time and now."""
    bits = [bool(positive >> n & 1) for n in range(4)]
    outer, inner, then, now = bits
    answers = {f: "present" if bit else "absent" for f, bit in zip(ANKLE_ITEMS, bits, strict=True)}
    state = result(knowledge, "acute_ankle_fracture", {**answers, "loss_of_protective_sensation": "absent"}, days).state
    assert state == ("met" if outer or inner or (then and now) else "not_met")


def test_fracture_rule_is_open_while_an_item_is_unknown(knowledge: Knowledge) -> None:
    """Unknown is never absent: three of four negative leave it open. Under 16 and without feeling it does not apply."""
    negative = {**dict.fromkeys(ANKLE_ITEMS, "absent"), "loss_of_protective_sensation": "absent"}
    for item in ANKLE_ITEMS[:2]:
        rest = {k: v for k, v in negative.items() if k != item}
        assert result(knowledge, "acute_ankle_fracture", rest, 2).state == "open"
        assert result(knowledge, "acute_ankle_fracture", {**rest, item: "unknown"}, 2).state == "open"
    assert result(knowledge, "acute_ankle_fracture", negative, 2, age=12).state == "does_not_apply"
    assert result(knowledge, "acute_ankle_fracture", negative, 2, age=None).state == "open"
    numb = {**negative, "loss_of_protective_sensation": "present"}
    assert result(knowledge, "acute_ankle_fracture", numb, 2).state == "does_not_apply"


# ------------------------------------------------------------------------------------------------ clot


def clot(knowledge: Knowledge, present: set[str], **more: str) -> ScreenResult:
    """The clot screen with these items present and the others absent, a clot in question."""
    items = {f: "present" if f in present else "absent" for f in CLOT_ITEMS}
    return result(knowledge, "suspected_clot", {"clot_suspected": "present", **items, **more})


@pytest.mark.parametrize("item", CLOT_ITEMS)
def test_each_clot_item_has_its_points(knowledge: Knowledge, item: str) -> None:
    """WELLS, item by item, the others absent."""
    assert clot(knowledge, {item}).score == (CLOT_ITEMS[item], CLOT_ITEMS[item])


def test_clot_score_runs_from_minus_two_to_nine(knowledge: Knowledge) -> None:
    """WELLS: nine single points, two taken off. Nothing answered: the whole range, not nought."""
    plus = {f for f, points in CLOT_ITEMS.items() if points > 0}
    assert clot(knowledge, plus).score == (9, 9)
    assert clot(knowledge, {"other_diagnosis_as_likely"}).score == (-2, -2)
    assert result(knowledge, "suspected_clot", {"clot_suspected": "present"}).score == (-2, 9)


@pytest.mark.parametrize("present", [set(), {"other_diagnosis_as_likely"}, {"active_cancer", "previous_clot"}])
def test_no_clot_score_unblocks(knowledge: Knowledge, present: set[str]) -> None:
    """In general practice 12 of 100 with a low score had a clot (Oudega R et al. 2005, Ann Intern Med 143:100-107)."""
    assert clot(knowledge, present).state == "met"


def test_two_points_read_likely(knowledge: Knowledge) -> None:
    """WELLS: likely at 2 or more, unlikely below. The composite is what stands in the network."""
    rule = knowledge.findings["clot_score"].composite
    assert isinstance(rule, dict)
    assert rule["score"]["at_least"] == 2
    assert {i["when"]: i["points"] for i in rule["score"]["items"]} == CLOT_ITEMS
