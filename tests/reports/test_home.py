"""The home sheet: exercises only where nothing stands against them, and words a child of eleven can read."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import textstat

from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.reports.dossier import Dossier
from reasoner.reports.home import home_sheet
from reasoner.reports.make import make
from reasoner.reports.validity import not_after, review_day
from tests.reports.playing import Played

TITLES = ("Stand on one leg", "Short walks", "Heel raises", "Stairs in small doses", "Move the foot up and down")


def flat(d: Dossier, **more: str) -> str:
    return " ".join(make(d, "home", **more).text.split())  # type: ignore[arg-type]


def test_an_emergency_says_what_to_do_now_and_lists_no_exercise(emergency: Dossier) -> None:
    made = flat(emergency)
    assert "Go to hospital now." in made
    assert made.index("What to do now") < made.index("No exercises for now")
    assert not [t for t in TITLES if t in made]
    assert home_sheet(emergency).options == ()
    assert "Next visit" not in made


def test_no_exercise_while_a_stop_now_question_is_open(knowledge: Knowledge, tmp_path: Path) -> None:
    lines = ["left, age 30, after a sprain", "injury 30 days ago, no surgery, not immobilised",
             "stop-now person injury limb clot heat slow no", "home: balance 5 minutes"]  # fmt: skip
    d = Played(knowledge, tmp_path).lines(*lines).dossier()
    assert not d.advice.screening_complete
    made = flat(d)
    assert "Some questions about your health are still open" in made
    assert not [t for t in TITLES if t in made]
    assert any("left out: balance" in r for r in home_sheet(d).remarks)


def test_at_most_three_exercises_and_what_is_held_back_is_told(simple: Dossier) -> None:
    sheet = home_sheet(simple)
    assert len(sheet.options) == 3
    assert "heel_raises_progressive" not in sheet.options  # not yet: nobody pressed the bone
    assert any(r.startswith("left out: heel raises") for r in sheet.remarks)
    offered = {o.id: o.state for o in simple.advice.options}
    assert {offered[o] for o in sheet.options} <= {"offered", "caution"}


def test_an_unresolved_emergency_of_an_earlier_visit_keeps_exercises_off(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    played = Played(knowledge, tmp_path)
    played.play("emergency").play("emergency_later")
    played.clock.wait(days=3)
    from reasoner.consult.commands import OpenVisit

    played.sitting.submit([OpenVisit()])
    played.lines(
        "stop-now person injury limb clot heat slow in_question no", "home: balance 5 minutes",
        "swelling -, joint stuck in one position now -",
    )  # fmt: skip
    d = played.dossier()
    assert not d.advice.blocked
    assert "Go to hospital now." in flat(d)
    assert home_sheet(d).options == ()
    assert make(d, "letter").text.startswith("EMERGENCY: TO BE SEEN NOW")


def test_the_patients_goal_dose_log_and_dates(simple: Dossier) -> None:
    made = make(simple, "home").text
    assert '"squat to the flower beds all morning by spring"' in made
    assert "balance 5 minutes" in made
    assert "| 11.2 cm | 6.3 cm" in made  # left, right before treatment
    assert "Phone: 555 0100   Emergency number: 112" in made
    bare = make(replace(simple, clinic=replace(simple.clinic, phone="", emergency_number="")), "home").text
    assert "Phone: ____" in bare


def test_not_after_the_review_or_the_next_stage(simple: Dossier) -> None:
    # visit on Mon 2 March 2026, day 35; review "in 7-10 days" = 12 March; at six weeks (9 March) windows open
    assert not_after(simple, "in 7-10 days") == (date(2026, 3, 9), True)
    assert not_after(simple, "in 3 days") == (date(2026, 3, 5), False)


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("in 2 weeks", date(2026, 3, 16)), ("on 2026-03-05", date(2026, 3, 5)), ("soon", date(2026, 3, 16)),
        ("in 0 days", date(2026, 3, 16)), ("in 1000 weeks", date(2026, 3, 16)), ("1 to 2 months", date(2026, 5, 1)),
        ("on 2026-02-31", date(2026, 3, 16)),
    ],
)  # fmt: skip
def test_review_days(words: str, day: date) -> None:
    assert review_day(words, date(2026, 3, 2)) == day


def test_after_an_operation_the_surgeon_comes_first(post_surgical: Dossier) -> None:
    made = flat(post_surgical)
    assert "Put only part of your weight on the foot, as your surgeon ordered." in made
    surgery = replace(post_surgical.state.context.surgery, orders="not_seen")  # type: ignore[type-var]
    context = replace(post_surgical.state.context, surgery=surgery)
    unseen = replace(post_surgical, state=replace(post_surgical.state, context=context))
    assert "Keep to what your surgeon told you." in flat(unseen)


def test_a_sheet_that_ends_before_the_next_visit_is_said(simple: Dossier) -> None:
    assert any("ends on Mon 9 Mar 2026" in r and "before the next visit" in r for r in home_sheet(simple).remarks)
    notes = tuple(n for n in simple.state.notes if n.heading != "next_visit")
    soon = tuple(replace(n, text="in 3 days") for n in simple.state.notes if n.heading == "next_visit")
    sooner = replace(simple, state=replace(simple.state, notes=(*notes, *soon)))
    assert not any("before the next visit" in r for r in home_sheet(sooner).remarks)


def test_a_translation_is_marked_as_a_draft(simple: Dossier) -> None:
    made = flat(simple, language="de")
    assert made.count("DRAFT TRANSLATION, not clinically reviewed") == 2
    assert "Ihre Übungen" in made
    assert "nicht mehr benutzen nach: 2026-03-09" in made  # no English names of days
    assert "Mar" not in made
    assert any("in the language you wrote them in" in r for r in home_sheet(simple, "de").remarks)
    with pytest.raises(InputRefused, match="no home sheet wording in 'xx'"):
        make(simple, "home", language="xx")


# Reading age = US school grade + 5. Flesch-Kincaid (Kincaid 1975) and the automated readability index (Smith and
# Senter 1967) as the textstat package counts them. Near 11: grade 6; one sentence of a short text may carry it higher.


def patient_texts(knowledge: Knowledge) -> dict[str, str]:
    """Everything an English home sheet may say, by where it stands."""
    sheet = knowledge.region.sheet["en"]
    found = {"sheet": " ".join((sheet.flare, *(f"Call if you get {s}." for s in sheet.call_signs)))}
    for option in knowledge.options.values():
        if "en" in option.home_text:
            told = option.home_text["en"]
            found[option.id] = f"{told.do} You may feel {told.feel}. Stop if you feel {told.not_feel}."
    for screen in knowledge.screens.values():
        found[screen.id] = screen.patient.get("en", "")
    return found


def test_the_words_on_the_sheet_are_near_a_reading_age_of_eleven(knowledge: Knowledge, simple: Dossier) -> None:
    texts = patient_texts(knowledge)
    whole = " ".join(texts.values())
    assert textstat.flesch_kincaid_grade(whole) <= 6
    assert textstat.automated_readability_index(whole) <= 6
    hard = {k: g for k, t in texts.items() if t and (g := textstat.flesch_kincaid_grade(t)) > 8}
    assert hard == {}


def test_the_reading_test_would_notice() -> None:
    jargon = (
        "Osteochondral pathology necessitates immediate orthopaedic consultation, notwithstanding symptomatic "
        "improvement subsequent to conservative management."
    )
    assert textstat.flesch_kincaid_grade(jargon) > 12


def test_every_home_exercise_and_every_screen_has_words_for_the_patient(knowledge: Knowledge) -> None:
    pressing = [s for s in knowledge.screens.values() if s.send in ("emergency", "same_day")]
    assert [s.id for s in pressing if "en" not in s.patient] == []
    loading = {"education", "protect_support"}
    lacking = [
        o.id for o in knowledge.options.values()
        if o.home and o.lane == "due" and "en" not in o.home_text and not set(o.load_classes) <= loading
    ]
    assert lacking == []
