"""What stands on the screen between the lines, and what may be typed back, on the shipped knowledge."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.case import events as ev
from reasoner.consult.agenda import all_asks
from reasoner.consult.describe import describe
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.desk import Desk
from reasoner.views.page import Page
from reasoner.views.question import question
from reasoner.views.render import plain_lines
from tests.visit import Visit, begin, of
from tests.walks.test_course import LOW, READY, TESTED


class Screen:
    """A desk with everything it showed, in one line."""

    def __init__(self, visit: Visit) -> None:
        self.visit, self.pages = visit, list[Page]()
        self.desk = Desk(visit.sitting, self.pages.append)
        self.desk.start()

    def type(self, *lines: str) -> str:
        """What is shown from the first of these lines on, the question after the last included."""
        self.pages.clear()
        for line in lines:
            self.desk.line(line)
        self.pages.append(question(self.desk.ask, self.visit.sitting.knowledge))
        return " ".join(" ".join(text for page in self.pages for text in plain_lines(page)).split())


@pytest.fixture
def screen(knowledge: Knowledge, tmp_path: Path) -> Screen:
    """A fresh case at the prompt."""
    return Screen(begin(knowledge, tmp_path))


@pytest.mark.parametrize("line", ["34 f, n", "34f, no", "34, f, n", "f, 34, n"])
def test_age_and_sex_are_taken_with_the_first_stop_now_question(line: str, screen: Screen) -> None:
    screen.type("left, turned it 6 weeks ago, no boot, no surgery", line)
    context = screen.visit.sitting.state.context
    assert (context.age, context.sex) == (34, "female")
    assert [b.bundle for b in screen.visit.sitting.state.bundles] == ["person"]


def test_yes_and_no_to_one_question_in_one_line_is_refused(screen: Screen) -> None:
    screen.type("left, turned it 6 weeks ago, no boot, no surgery")
    assert "both" in screen.type("34 y, f, n")
    assert screen.visit.sitting.state.bundles == ()


def test_a_key_that_is_no_answer_is_told_what_the_question_takes(screen: Screen) -> None:
    screen.type("left, turned it 6 weeks ago, no boot, no surgery", "n")
    assert screen.desk.ask is not None
    assert screen.desk.ask.name == "age"
    assert "'n' is no answer to this; years" in screen.type("n")


def test_a_test_says_what_yes_means_unless_its_question_does(knowledge: Knowledge, screen: Screen) -> None:
    screen.visit.script(*READY, LOW, "exam must swelling, squeeze test, joint stuck in one position now; to the limit")
    hints = {ask.name: ask.hint for ask in all_asks(screen.visit.sitting.situation) if ask.kind == "finding"}
    assert hints["swelling"] == f"y = {knowledge.findings['swelling'].name}; n, ? or ~.7"
    assert all(
        "y = " in hint or (knowledge.findings[name].ask or "").rstrip().endswith("?") for name, hint in hints.items()
    )


def test_a_plan_taken_up_by_enter_is_not_printed_a_second_time(screen: Screen) -> None:
    screen.visit.script(*READY, LOW)
    screen.desk.ask = next(a for a in all_asks(screen.visit.sitting.situation) if a.kind == "exam")
    assert "examination planned as proposed" in screen.type("")
    (planned,) = of(screen.visit.events, ev.ExamPlanned)
    assert planned.must  # type: ignore[attr-defined]


def test_the_retest_needs_no_word_in_front_where_it_is_asked_for(screen: Screen) -> None:
    screen.visit.script(*READY, LOW, *TESTED, "treat glide3 3x60 s, agreed")
    screen.desk.start()
    assert "together:" in screen.type("stairs 6, pain at sign 3, ktw L 5.5 6 6")
    assert len(of(screen.visit.events, ev.Retested)) == 1


@pytest.mark.parametrize("line", ["swelling +", "resting pain 5", "6", "stairs 6"])
def test_anything_else_said_at_the_retest_is_not_taken_for_it(line: str, screen: Screen) -> None:
    screen.visit.script(*READY, LOW, *TESTED, "treat glide3 3x60 s, agreed")
    screen.desk.start()
    screen.type(line)
    assert of(screen.visit.events, ev.Retested) == []


def test_a_graduate_is_asked_for_a_view_before_the_patient_is_asked_to_agree(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    screen = Screen(begin(knowledge, tmp_path, role="graduate"))
    screen.visit.script(*READY, LOW, "judge soleus short; guess", *TESTED)
    screen.desk.start()
    text = screen.type("treat glide3 3x60 s")
    assert "before the tool's view, yours" in text
    assert "Agreed with them?" not in text


def test_a_screen_that_stops_nothing_is_said_once_when_it_is_met(screen: Screen, knowledge: Knowledge) -> None:
    """Six weeks after a sprain, no pop told: the foot does not move when the calf is squeezed."""
    screen.visit.script(*READY, LOW, *TESTED)
    screen.desk.start()
    text = screen.type(f"{knowledge.findings['calf_squeeze_no_movement'].name} +")
    met = knowledge.screens["achilles_signs"]
    assert f"{met.name}: criteria met" in text
    assert " ".join(met.next_step.split()) in text
    assert met.name not in screen.type("swelling +")


def test_another_screen_met_after_a_stop_does_not_repeat_the_stop(screen: Screen, knowledge: Knowledge) -> None:
    screen.visit.script(*READY, LOW, *TESTED)
    screen.desk.start()
    assert "STOP lung clot" in screen.type("breathless or chest pain +")
    text = screen.type(f"{knowledge.findings['calf_squeeze_no_movement'].name} +")
    assert knowledge.screens["achilles_signs"].name in text
    assert "STOP" not in text


def test_three_answers_about_the_time_after_may_be_one_line(screen: Screen) -> None:
    screen.visit.script(*READY, LOW, *TESTED, "conclusion x y z", "plan once more", "close", "new visit", "flare no")
    screen.desk.start()
    screen.type("better for the evening; slept as usual; a bit sore, gone by noon")
    told = {n.heading: n.text for n in screen.visit.sitting.state.notes if n.visit == 2}
    assert told == {
        "straight_after": "better for the evening", "that_night": "slept as usual",
        "next_day": "a bit sore, gone by noon",
    }  # fmt: skip


def test_fine_is_an_answer_and_a_slip_for_a_word_of_command_is_not(screen: Screen) -> None:
    screen.visit.script(*READY, LOW, *TESTED, "conclusion x y z", "plan once more", "close", "new visit", "flare no")
    screen.desk.start()
    screen.type("fine")
    assert [n.text for n in screen.visit.sitting.state.notes if n.visit == 2] == ["fine"]
    assert "a slip for options?" in screen.type("optoins")


def test_a_dose_is_not_a_part_of_the_name(screen: Screen) -> None:
    screen.visit.script(*READY, LOW, *TESTED, "treat mwm standing 2 x 10, agreed")
    (given,) = screen.visit.sitting.state.loops
    assert (given.option, given.dose) == ("mwm_weight_bearing", "2 x 10")


def test_the_line_at_the_bottom_is_cut_with_a_mark(screen: Screen, monkeypatch: pytest.MonkeyPatch) -> None:
    from reasoner.views import summary

    screen.visit.script(*READY, LOW, *TESTED, "back glide less +")
    line = summary.bottom_line(screen.visit.sitting.situation)
    assert len(line) <= 80
    monkeypatch.setattr(summary, "lead", lambda advice: "a lead with a name that is longer than the line has room for")
    line = summary.bottom_line(screen.visit.sitting.situation)
    assert len(line) <= 80
    assert line.endswith("...")


def test_the_outcome_is_asked_beside_what_they_wanted_and_how_the_signs_went(screen: Screen) -> None:
    screen.type(*READY, LOW, "goal: the hill with the dog", "aim knee to wall L 8", *TESTED)
    screen.type("treat glide3 3x60 s agreed", "stairs 6, pain at sign 3, ktw L 4.5 4.5 5")
    asked = screen.type("finish goals partly met")
    assert 'they wanted: "the hill with the dog"' in asked
    assert "goal knee to wall left 8: now 4.7" in asked  # (4.5 + 4.5 + 5) / 3
    assert '"stairs": 4 at first, 6 at the last' in asked
    assert "Outcome against their goals" in asked


def test_after_the_end_of_care_the_visit_is_closed_and_nothing_else_is_looked_for(screen: Screen) -> None:
    screen.type(*READY, LOW)
    after = screen.type("finish their choice", "no ladder yet", "stairs twice a day", "it swells again")
    assert [type(e).__name__ for e in of(screen.visit.events, ev.EpisodeEnded)] == ["EpisodeEnded"]
    assert "No validated cut-offs exist" in after
    screen.type("stiff, better on stairs")
    assert screen.desk.ask is not None
    assert screen.desk.ask.text == "Care here has ended. Close the visit?"


def test_what_was_written_down_afterwards_says_so_in_the_review(screen: Screen, knowledge: Knowledge) -> None:
    screen.type(*READY, LOW, *TESTED, "later glide3 3x60 s agreed")
    (given,) = of(screen.visit.events, ev.Treated)
    assert describe(knowledge, given).endswith("3x60 s (written down afterwards)")


def test_what_is_no_answer_to_the_agreement_is_no_part_of_their_story(screen: Screen) -> None:
    screen.type(*READY, LOW, *TESTED, "treat glide3 3x60 s")
    before = screen.visit.events
    for line in ("i do not know", "", "wz y"):
        assert "is no consent" in screen.type(line)
    assert screen.visit.events == before
    assert "not agreed" in screen.type("waq n")
    assert of(screen.visit.events, ev.Treated) == []


def test_a_thrust_says_how_a_competence_is_recorded(screen: Screen) -> None:
    refused = screen.type(*READY, LOW, *TESTED, "treat distraction thrust")
    assert "your competence, if you have it: competence thrust" in refused
    assert "competence.thrust" not in refused


def test_no_progress_is_answered_where_it_was_said(screen: Screen) -> None:
    screen.type(*READY, LOW, *TESTED, "close")
    screen.visit.clock.wait(days=43)  # past week 6
    after = [*(line for line in READY if line.startswith("stop-now")), "fn 4, pain at sign 5", *TESTED, READY[-1]]
    asked = screen.type("new visit", "flare no", *after, "treat glide3 2x60 s agreed")
    assert "changed hypothesis: ... | imaging question: ... | second opinion: ..." in asked
    assert "no progress answered" in screen.type("changed hypothesis: the front pinches")
