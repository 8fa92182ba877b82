"""The course of a visit on the shipped knowledge: length, limits, agreement, judgement, no progress, what is shown."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from reasoner.case import events as ev
from reasoner.consult import commands as c
from reasoner.consult.agenda import Ask, all_asks
from reasoner.consult.limits import is_overpressure, may_suggest, provoking_ended
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.prompt.desk import Desk
from reasoner.views import beliefs, options
from reasoner.views.page import Page
from reasoner.views.render import plain_lines
from reasoner.views.summary import bottom_line
from tests.visit import START, Visit, begin, of, said
from tests.walks.test_properties import every_ask

READY = (
    "left, turned it 6 weeks ago, boot 3 weeks foot pointing down, no surgery, age 34",
    "stop-now person injury limb clot heat slow in_question no", "problem: stairs",
    "signs function_score, pain_at_sign, knee_to_wall: stairs", "fn 4, pain at sign 5",
    "thinners -, steroids -, quinolones -, osteoporosis -, inflammatory flare -, hypermobility -, pregnant -",
)  # fmt: skip
LOW, HIGH = "irritability stairs, much, 2/10, 5 min", "irritability a step, little, 8/10, 2 h"
TESTED = (
    "ktw L 3 3.5 3.5 R 9 9 9.5 tape heel down",
    "skin broken here -, joint stuck in one position now -, swelling -, end feel bony -, front pinch -",
    "squeeze test -, external rotation test -, syndesmosis tender -",
)  # fmt: skip
TYPED = {
    "context.side": "left, turned it 6 weeks ago, boot 3 weeks foot pointing down, no surgery", "bundle.person": "34 n",
    "text.problem": "coming down stairs, it grabs at the front", "signs": "", "measure.function_score": "4",
    "measure.pain_at_sign": "5", "irritability": "ten stairs, some, 5/10, 5 min", "exam": "", "options": "",
    "measure.knee_to_wall": "L 3 3.5 3.5 R 9 9 9.5 heel down", "act": "treat glide3 3x60 s",
    "retest": "retest stairs 6, pain at sign 3, ktw L 4.5 4.5 5", "close": "y",
}  # fmt: skip

OF_KIND = {"text": "as they said it", "judgement": "talus back glide > soleus short; fairly sure"}


@pytest.fixture
def visit(knowledge: Knowledge, tmp_path: Path) -> Visit:
    """A fresh case on the shipped knowledge."""
    return begin(knowledge, tmp_path)


def shown(page: Page) -> str:
    """A page in one line."""
    return " ".join(" ".join(plain_lines(page)).split())


@pytest.mark.parametrize("role", ["physio", "graduate"])
def test_the_simple_visit_takes_at_most_45_entries_and_4_positions(
    role: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(knowledge, tmp_path, role=role)
    desk, entries, positions, now = Desk(visit.sitting, lambda page: None), 0, 0, ""
    desk.start()
    while not desk.left:
        entries += 1
        assert entries <= 45
        if desk.pending is not None:
            desk.line("y")
            continue
        ask = desk.ask
        assert ask is not None
        if ask.position and ask.position != now:
            now, positions = ask.position, positions + 1
        desk.line(TYPED.get(ask.id, OF_KIND.get(ask.kind, "n")))
    assert positions <= 4
    assert len(of(visit.events, ev.Retested)) == 1
    assert len(of(visit.events, ev.Judged)) == (2 if role == "graduate" else 0)
    (closed,) = of(visit.events, ev.VisitClosed)
    assert not any("in your words" in item for item in closed.open_items)  # type: ignore[attr-defined]


# ------------------------------------------------------------------------------------------------ limits


@pytest.mark.parametrize("stated", [HIGH, "note irritability was not asked"])
def test_high_or_unknown_irritability_leaves_four_provoking_tests_and_no_overpressure(
    stated: str, visit: Visit, knowledge: Knowledge
) -> None:
    visit.script(*READY, stated)
    outcome = visit.submit(c.PlanExam(("knee_to_wall", "squeeze_test", "heel_squeeze", "windlass_hurts", "cannot_hop")))
    assert outcome.refused
    assert "at most 4" in said(outcome)
    assert "no overpressure" in said(visit.submit(c.PlanExam(("swelling",), extent="overpressure")))
    assert "pushes past the limit" in said(visit.submit(c.PlanExam(("external_rotation_test",))))
    visit.script("exam must knee to wall, squeeze test; active only")
    visit.script("ktw L 3 3.5 3.5 R 9 9 9.5", "squeeze test -", "heel squeeze -", "windlass hurts -")
    for ask in every_ask(visit):
        assert not (ask.kind in ("finding", "measure") and _provokes(knowledge, ask.name)), ask
    assert "provoking tests are enough" in " ".join(" ".join(visit.script("resisted eversion hurts -")).split())
    visit.script("conclusion irritable", "plan less", "close")
    (closed,) = of(visit.events, ev.VisitClosed)
    assert any("5 provoking tests" in item for item in closed.open_items)  # type: ignore[attr-defined]


def test_low_irritability_has_no_such_limit(visit: Visit) -> None:
    visit.script(*READY, LOW)
    outcome = visit.submit(c.PlanExam(("knee_to_wall", "squeeze_test", "heel_squeeze", "windlass_hurts", "cannot_hop")))
    assert not outcome.refused


def test_the_limit_is_over_must_and_should_together(visit: Visit) -> None:
    visit.script(*READY, HIGH)
    three = ("heel_squeeze", "windlass_hurts", "cannot_hop")
    must = ("knee_to_wall", "squeeze_test")
    assert "5 provoking tests planned; at most 4" in said(visit.submit(c.PlanExam(must, three)))
    assert not visit.submit(c.PlanExam(must, three[:2])).refused


def test_nothing_that_pushes_past_the_limit_is_suggested_in_an_irritable_joint(
    visit: Visit, knowledge: Knowledge
) -> None:
    pushing = [i for i in (*knowledge.findings, *knowledge.measures) if is_overpressure(knowledge, i)]
    assert pushing
    visit.script(*READY, LOW)
    assert all(may_suggest(visit.sitting.situation, i) for i in pushing)
    visit.script(HIGH)
    assert not any(may_suggest(visit.sitting.situation, i) for i in pushing)


def test_a_rise_of_resting_pain_ends_provoking_tests(visit: Visit, knowledge: Knowledge) -> None:
    plan = "exam must knee to wall, squeeze test; should windlass hurts; to the limit"
    visit.script(*READY, LOW, "resting pain 1", plan)
    assert any(_provokes(knowledge, ask.name) for ask in _asks(visit))
    assert "no more provoking" not in " ".join(visit.script("resting pain 1"))
    said = " ".join(" ".join(visit.script("resting pain 3")).split())
    assert "resting pain rose from 1 to 3: no more provoking tests in this visit" in said
    assert not any(_provokes(knowledge, ask.name) for ask in every_ask(visit))
    visit.script("conclusion x y z", "plan less", "close", "new visit", "resting pain 4")  # the first of its visit
    assert provoking_ended(visit.sitting.situation) == ""


def _asks(visit: Visit) -> list[Ask]:
    return list(all_asks(visit.sitting.situation))


def _provokes(knowledge: Knowledge, ident: str) -> bool:
    record = knowledge.findings.get(ident) or knowledge.measures.get(ident)
    return record is not None and record.provokes


# ------------------------------------------------------------------------------------------------ agreement and acts


def test_what_was_not_said_before_agreeing_stays_open(visit: Visit) -> None:
    visit.script(*READY, LOW, *TESTED, "options", "consent glide3 waqs yes", "treat glide3 3x60 s")
    (given,) = of(visit.events, ev.ConsentRecorded)
    assert set(given.covered) == {"what_why", "after_effects", "questions", "may_stop"}  # type: ignore[attr-defined]
    visit.script("retest stairs 6, pain at sign 3, ktw L 4 4 4", "conclusion x y z", "plan once more", "close")
    (closed,) = of(visit.events, ev.VisitClosed)
    assert any("alternatives, observer" in item for item in closed.open_items)  # type: ignore[attr-defined]


def test_agreement_taken_back_stops_the_technique(visit: Visit) -> None:
    visit.script(*READY, LOW, *TESTED, "consent glide3 yes", "consent glide3 withdrawn")
    with pytest.raises(InputRefused, match="no agreement recorded"):
        visit.script("treat glide3 3x60 s")


# 3 3.5 3.5 before; the measure asks from 5 cm on (its README): 12 is 8.7 more, -2 is 5.3 less
@pytest.mark.parametrize("value", [12, -2])
def test_a_jump_is_checked_before_it_counts(value: int, visit: Visit) -> None:
    visit.script(*READY, LOW, *TESTED, "treat glide3 3x60 s, agreed")
    line = f"retest stairs 6, pain at sign 3, ktw L {value} {value} {value}"
    with pytest.raises(InputRefused, match="check the set-up and measure again"):
        visit.script(line)
    assert of(visit.events, ev.Retested) == []
    visit.script(f"{line}; set-up checked")
    (done,) = of(visit.events, ev.Retested)
    assert done.rechecked == ("knee_to_wall",)  # type: ignore[attr-defined]


def test_a_second_technique_on_the_same_target_credits_the_sequence(visit: Visit) -> None:
    visit.script(*READY, LOW, *TESTED, "treat glide3 3x60 s, agreed", "retest stairs 5, pain at sign 4, ktw L 4 4 4")
    again = "retest stairs 6, pain at sign 3, ktw L 5 5 5 R 9.5 9.5 9.5"
    printed = visit.script("treat mwm standing 2x10, agreed", again)
    text = " ".join(" ".join(printed).split())
    assert "belongs to the sequence, not to this one" in text
    assert "untreated side knee to wall" in text


@pytest.mark.parametrize("between", [("treat calf rolling 60 s because they asked",), ("new assessment", *TESTED)])
def test_another_target_or_a_new_assessment_is_no_sequence(between: tuple[str, ...], visit: Visit) -> None:
    retest = "retest stairs 5, pain at sign 4, ktw L 4 4 4"
    first, second = ("glide3", "mwm standing") if between[0].startswith("new") else ("glide3", "")
    visit.script(*READY, LOW, *TESTED, f"treat {first} 3x60 s, agreed", retest, *between)
    given = [f"treat {second} 2x10 because it was next, agreed"] if second else []
    if given:
        visit.script("fn 5, pain at sign 4")
    printed = " ".join(" ".join(visit.script(*given, retest)).split())
    assert "together:" in printed
    assert "belongs to the sequence" not in printed


def test_the_other_side_is_queried(visit: Visit) -> None:
    printed = " ".join(visit.script(*READY, LOW, *TESTED, "swelling right -"))
    assert "undo if that is a slip" in printed
    with pytest.raises(InputRefused, match=r"the case is about the left side"):
        visit.script("treat glide3 right 3x60 s, agreed")


def test_thrust_waits_for_a_recorded_competence_and_a_complete_screen(visit: Visit) -> None:
    def thrust() -> tuple[str, str]:
        found = next(o for o in visit.sitting.advice.options if o.id == "distraction_thrust")
        return found.state, "; ".join(found.reasons)

    visit.script(READY[0], "competence thrust")
    assert thrust()[0] in ("not_yet", "barred")
    assert "always-ask questions are not all answered" in thrust()[1]
    visit.script("undo", *READY[1:], LOW, *TESTED)
    assert visit.sitting.advice.screening_complete
    assert thrust()[0] in ("not_yet", "barred")
    assert "competence" in thrust()[1]
    visit.script("competence thrust")
    assert "competence" not in thrust()[1]


# ------------------------------------------------------------------------------------------------ no progress


def test_no_progress_by_the_stated_visit_is_answered_before_going_on(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(knowledge, tmp_path)
    visit.script(*READY, LOW, *TESTED, "conclusion x y z", "plan once more", "close")
    rules = knowledge.policy.visit_rules
    assert rules is not None
    for _ in range(rules.review_visit - 1):
        visit.clock.wait(days=7)
        visit.script("new visit", "flare no", READY[1], "fn 4, pain at sign 5", *TESTED, "thinners -, pregnant -")
        last = visit.sitting.state.visit == rules.review_visit
        if not last:
            visit.script("close")
    assert any(ask.id == "stalled" for ask in _asks(visit))
    visit.script("steroids -, quinolones -, osteoporosis -, inflammatory flare -, hypermobility -")
    with pytest.raises(InputRefused, match=r"no retest sign is better|not yet"):
        visit.script("treat glide3 3x60 s, agreed")
    with pytest.raises(InputRefused, match="none of the three"):
        visit.script("stalled more of the same")
    assert "a second opinion: which?" in said(visit.submit(c.AnswerStall("second_opinion", "  ")))
    visit.script("stalled second opinion: measures and retests shown to the senior")
    assert not any(ask.id == "stalled" for ask in _asks(visit))
    (answered,) = of(visit.events, ev.StallAnswered)
    assert answered.choice == "second_opinion"  # type: ignore[attr-defined]


def test_no_progress_is_answered_by_the_stated_week_too(visit: Visit, knowledge: Knowledge) -> None:
    rules = knowledge.policy.visit_rules
    assert rules is not None
    assert rules.review_visit > 2
    visit.script(*READY, LOW, *TESTED, "conclusion x y z", "plan once more", "close")
    for days, due in ((7 * rules.review_weeks - 1, False), (7 * rules.review_weeks, True)):
        visit.clock.now = START + timedelta(days=days)
        if not due:
            visit.script("new visit", "flare no", READY[1], "fn 4, pain at sign 5", TESTED[0])
        assert any(ask.id == "stalled" for ask in _asks(visit)) == due


def test_a_second_visit_without_answers_offers_nothing(visit: Visit, knowledge: Knowledge) -> None:
    visit.script(*READY, LOW, *TESTED, "conclusion x y z", "plan once more", "close", "new visit")
    open_ = [o for o in visit.sitting.advice.options if o.state in ("offered", "caution") and o.lane == "try_now"]
    assert open_ == []


# ------------------------------------------------------------------------------------------------ who


def test_a_visit_somebody_else_has_open_is_taken_over_only_on_purpose(knowledge: Knowledge, visit: Visit) -> None:
    from reasoner.consult.sitting import Sitting
    from reasoner.trail.store import Trail

    visit.script("left")
    trail = Trail.open(visit.home, visit.sitting.state.case)
    sitting, outcome = Sitting.take_up(knowledge, trail, clock=visit.clock, by="AB", role="physio")
    assert outcome.needs == ("take_over",)
    assert of(visit.events, ev.Resumed) == []
    sitting.submit([c.Resume(take_over=True)])
    assert of(visit.events, ev.Resumed) == [ev.Resumed("KM")]


def test_a_graduates_judgement_comes_after_the_story_and_again_before_treatment(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(knowledge, tmp_path, role="graduate")
    order = [a.id for a in _asks(visit)]
    story, own = ("text.problem", "signs", "irritability", "text.worries"), order.index("judgement.story")
    assert max(order.index(i) for i in story) < own < min(order.index(i) for i in ("exam", "options"))
    visit.script(*READY, LOW)
    assert "judgement.story" in [a.id for a in _asks(visit)]
    visit.script("judge soleus short; guess")
    visit.script(*TESTED, "back glide less +")
    with pytest.raises(InputRefused, match="before the tool's view, yours"):
        visit.script("options")
    assert "talus" not in bottom_line(visit.sitting.situation)
    assert "Before mine, yours" in " ".join(visit.script("list"))
    visit.script("judge talus back glide > soleus short; fairly sure", "options")
    assert len(of(visit.events, ev.Judged)) == 2


# ------------------------------------------------------------------------------------------------ what is shown


def test_a_list_on_few_answers_says_that_it_is_mostly_base_rates(visit: Visit, knowledge: Knowledge) -> None:
    visit.script("left, turned it 6 weeks ago", "swelling -")
    text = shown(beliefs.lists(visit.sitting.advice, knowledge))
    assert "mostly base rates (" in text
    assert bottom_line(visit.sitting.situation).endswith(" open")  # ends with the screens: no lead is named


def test_what_cannot_be_told_apart_is_said_so(visit: Visit, knowledge: Knowledge) -> None:
    visit.script(*READY, LOW, *TESTED)
    assert "no clear difference between" in shown(options.page(visit.sitting.advice, knowledge))


def test_a_rule_decides_and_not_the_chance(visit: Visit, knowledge: Knowledge) -> None:
    """Everything ordinary, and one danger sign: blocked, however small the chance of it is."""
    visit.script(*READY, LOW, *TESTED, "breathless or chest pain +")
    advice = visit.sitting.advice
    assert advice.blocked
    text = shown(options.page(advice, knowledge))
    assert "STOP" in text
    assert "criteria met" in text
    shown_list = shown(beliefs.lists(advice, knowledge, "must_not_miss"))
    assert not any(f"{h.chance:.2f}".lstrip("0") in shown_list for h in advice.hypotheses if h.id == "lung_clot")
