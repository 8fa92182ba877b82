"""Facts: sides, shelf life, whole days that move on, and measures that are only as sharp as their error."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from math import sqrt

import pytest

from reasoner.case.state import Anchor, Answer, CaseState, Context, Loop, Measurement, Surgery, Visit
from reasoner.facts.facts import Facts
from reasoner.facts.measured import bound, difference, reading
from reasoner.facts.observations import observed
from reasoner.facts.verdict import FALSE, TRUE, UNKNOWN
from reasoner.graph.records import ErrorFigure, Figure, Masking, Measure, Tool
from tests.build import NOW, finding, knowledge, state

REACH = Measure(
    id="reach", name="reach", unit="cm", possible=(-15, 25), better="higher", trials=3,
    tools=(Tool(id="tape", name="tape"),),
    errors=(ErrorFigure(tool="tape", interval="within_visit", sem=0.5, basis="practice"),),
)  # fmt: skip
KNOWN = knowledge(
    [
        finding("front", sided=True),
        finding("danger", danger=True),
        finding("old", holds_for="lasting"),
        finding("week", holds_for="7 days"),
    ],
    measures=[
        REACH,
        replace(REACH, id="far", name="far"),
        replace(REACH, id="gap", name="gap", derived="far - reach", errors=()),
    ],
)
LEFT = Context(side="left")


def measured(measure: str, side: str, values: tuple[float, ...], **fields: object) -> Measurement:
    """Three trials with a tape."""
    return Measurement(measure, side, "tape", values, at=NOW, **fields)  # type: ignore[arg-type]


def test_a_bare_answer_counts_for_its_side_only() -> None:
    """Left present says nothing of the right."""
    made = state({"front": ("present", "left")}, Context(side="both"))
    assert Facts(KNOWN, made, NOW, "left").truth("front") == TRUE
    assert Facts(KNOWN, made, NOW, "right").truth("front") == UNKNOWN
    assert Facts(KNOWN, made, NOW).truth("front") == TRUE


def test_absent_on_both_sides_is_needed_when_both_are_in_question() -> None:
    """One side absent and the other not asked is unknown."""
    one = state({"front": ("absent", "left")}, Context(side="both"))
    assert Facts(KNOWN, one, NOW).truth("front") == UNKNOWN


def test_what_nobody_has_from_an_age_on_need_not_be_asked() -> None:
    """At 18 and later absent without an answer; younger or of unknown age it stays unknown; a yes always counts."""
    known = knowledge([finding("growing", sided=False, absent_from_age=18)])

    def at(age: int | None, value: str = "") -> object:
        told = {"growing": value} if value else {}
        return Facts(known, state(told, replace(LEFT, age=age)), NOW).truth("growing")

    assert [at(age) for age in (None, 17, 18, 47)] == [UNKNOWN, UNKNOWN, FALSE, FALSE]
    assert at(47, "unknown") == FALSE
    assert at(47, "present") == TRUE


def test_the_latest_answer_counts() -> None:
    """A changed mind replaces what was said."""
    made = state({"danger": "absent"})
    made = replace(made, answers=(*made.answers, Answer("danger", "none", "present", None, NOW, seq=2)))
    assert Facts(KNOWN, made, NOW).truth("danger") == TRUE


@pytest.mark.parametrize(("ident", "held"), [("danger", False), ("week", True), ("old", True)])
def test_shelf_life_at_the_next_visit(ident: str, held: bool) -> None:
    """Three days later, at visit two: visit answers expire, seven-day and lasting ones hold."""
    later = NOW + timedelta(days=3)
    made = replace(state({ident: "absent"}), visits=(Visit(1, NOW), Visit(2, later)), assessment=2)
    facts = Facts(KNOWN, made, later)
    assert facts.truth(ident) == (FALSE if held else UNKNOWN)
    assert ((ident, "none") in facts.expired) is not held


def test_seven_day_answers_end_on_the_eighth_day() -> None:
    """Seven days hold, eight do not."""
    made = state({"week": "absent"})
    assert Facts(KNOWN, made, NOW + timedelta(days=7)).truth("week") == FALSE
    assert Facts(KNOWN, made, NOW + timedelta(days=8)).truth("week") == UNKNOWN


def test_days_since_move_on_in_whole_days() -> None:
    """42 days when stated; 12 hours later 42, 24 hours later 43; before it was stated: not known."""
    made = state(context=Context(days_since={"injury": Anchor(42, NOW)}))
    assert Facts(KNOWN, made, NOW + timedelta(hours=12)).days_since("injury") == (TRUE, 42)
    assert Facts(KNOWN, made, NOW + timedelta(hours=24)).days_since("injury") == (TRUE, 43)
    assert Facts(KNOWN, made, NOW - timedelta(hours=1)).days_since("injury") == (TRUE, None)


def test_no_surgery_answers_the_time_since_it() -> None:
    """`surgery: none` makes a bound on time since surgery certainly false, not unknown."""
    made = state(context=Context(surgery=Surgery(none=True)))
    assert Facts(KNOWN, made, NOW).days_since("surgery") == (FALSE, None)


def test_side_difference_is_worse_side_positive_with_root_sum_of_squares() -> None:
    """Left 4, right 9: left is 5 worse, right is -5; each side .5, so sqrt(.5) (hand calculation)."""
    made = replace(
        state(context=LEFT),
        measurements=(measured("reach", "left", (4.0, 4.0, 4.0)), measured("reach", "right", (9.0, 9.0, 9.0))),
    )
    facts = Facts(KNOWN, made, NOW, "left")
    left = difference(facts, "reach", "left")
    right = difference(facts, "reach", "right")
    assert left is not None
    assert right is not None
    assert (left.value, right.value) == (5.0, -5.0)
    assert left.se == pytest.approx(sqrt(0.5))


def test_a_derived_measure_needs_both_parts() -> None:
    """far - reach: 12 - 4 = 8 with sqrt(.5); one part alone is nothing."""
    made = replace(
        state(context=LEFT),
        measurements=(measured("reach", "left", (4.0, 4.0, 4.0)), measured("far", "left", (12.0, 12.0, 12.0))),
    )
    gap = reading(Facts(KNOWN, made, NOW, "left"), "gap", "left")
    assert gap is not None
    assert (gap.value, gap.se) == (8.0, pytest.approx(sqrt(0.5)))
    alone = replace(made, measurements=made.measurements[:1])
    assert reading(Facts(KNOWN, alone, NOW, "left"), "gap", "left") is None


@pytest.mark.parametrize(
    ("value", "expected"), [(4.9, TRUE), (5.0, UNKNOWN), (5.8, UNKNOWN), (5.83, FALSE), (9.0, FALSE)]
)
def test_a_bound_is_false_only_beyond_its_error(value: float, expected: object) -> None:
    """Below 5 with a standard error of .5: false from 5 + 1.64 * .5 = 5.82 on; between, measure again."""
    made = replace(state(context=LEFT), measurements=(measured("reach", "left", (value,) * 3),))
    rule = {"measure": "reach", "of": "value", "below": 5.0}
    assert bound(Facts(KNOWN, made, NOW, "left"), rule, "left") == expected


def test_a_retest_never_replaces_the_baseline() -> None:
    """What is measured or seen after treatment is a response, not the picture before it."""
    loop = Loop(1, "glide", "3x2", "left", 1, 1, NOW, seq=2)
    made = replace(
        state({"front": ("present", "left")}, LEFT),
        loops=(loop,),
        measurements=(
            measured("reach", "left", (4.0, 4.0, 4.0)),
            measured("reach", "left", (7.0, 7.0, 7.0), phase="retest", loop=1),
        ),
    )
    after = Answer("front", "left", "absent", None, NOW, seq=3)
    made = replace(made, answers=(*made.answers, after))
    facts = Facts(KNOWN, made, NOW, "left")
    assert observed(facts, "left")["front"].value == "present"
    assert reading(facts, "reach", "left").value == 4.0  # type: ignore[union-attr]


def test_a_pain_killer_hides_an_absence_and_no_presence() -> None:
    """While what masks is present, absent is read as possibly hidden; present stays present."""
    mask = Masking(id="m", when="old", hides=("front",), mu=Figure(value=0.4, basis="practice"))
    known = replace(KNOWN, maskings={"m": mask})
    for value, masked in (("absent", 0.4), ("present", None)):
        made: CaseState = state({"old": "present", "front": (value, "left")}, LEFT)
        assert observed(Facts(known, made, NOW, "left"), "left")["front"].masked == masked


def test_unknown_carries_no_weight() -> None:
    """Asked and not known is no observation."""
    assert observed(Facts(KNOWN, state({"danger": "unknown"}), NOW), "none") == {}
