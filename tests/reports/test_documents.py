"""Every document of three cases: what must stand in it, what must not, and that it fits its page."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from reasoner.advice.advise import advise
from reasoner.case.state import Answer, Ending
from reasoner.reports.dossier import INVENTED, Dossier
from reasoner.reports.make import make
from reasoner.reports.templates import PAGE
from tests.progress.build import case

NAMES = ("simple", "post_surgical", "emergency")
PAPERS = ("note", "letter", "handover", "home")
BANNED = re.compile(r"\b(safe|safely|cleared|settled|ruled\s+out|confirmed)\b", re.IGNORECASE)


def text(d: Dossier, kind: str, form: str = "text") -> str:
    return make(d, kind, form).text


@pytest.mark.parametrize("kind", [*PAPERS, "html", "fhir", "json"])
@pytest.mark.parametrize("name", NAMES)
def test_no_document_promises_too_much(cases: dict[str, Dossier], name: str, kind: str) -> None:
    assert not BANNED.search(text(cases[name], kind))


@pytest.mark.parametrize("kind", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_text_is_80_wide_and_every_page_says_the_patient_is_invented(
    cases: dict[str, Dossier], name: str, kind: str
) -> None:
    made = text(cases[name], kind)
    assert max(len(line) for line in made.splitlines()) <= 80
    for page in made.split("\f"):
        assert INVENTED in page
        assert len(page.splitlines()) <= PAGE + 1
    real = replace(cases[name], state=replace(cases[name].state, kind="real"))
    assert INVENTED not in text(real, kind)


@pytest.mark.parametrize("kind", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_no_heading_stands_alone_at_the_foot_of_a_page(cases: dict[str, Dossier], name: str, kind: str) -> None:
    *pages, _ = text(cases[name], kind).split("\f")
    for page in pages:
        assert page.rstrip("\n").splitlines()[-1].startswith("  "), page[-200:]


@pytest.mark.parametrize("name", NAMES)
def test_the_letter_is_one_page(cases: dict[str, Dossier], name: str) -> None:
    assert "\f" not in text(cases[name], "letter")


def test_line_one_of_an_emergency_is_its_urgency(emergency: Dossier) -> None:
    for kind in ("letter", "handover"):
        assert text(emergency, kind).splitlines()[0] == "EMERGENCY: TO BE SEEN NOW - JOINT INFECTION"


def test_a_letter_without_a_screen_standing_has_no_urgency(simple: Dossier) -> None:
    first, second = text(simple, "letter").splitlines()[:2]
    assert first == INVENTED
    assert second.startswith("Report:")


def test_every_danger_sign_of_an_emergency_stands_in_letter_and_hand_over(emergency: Dossier) -> None:
    for kind in ("letter", "handover"):
        flat = " ".join(text(emergency, kind).split())
        for sign in ("joint hot and red right", "fever", "feels ill", "every small movement of the joint hurts badly"):
            assert sign in flat, (kind, sign)


def test_what_was_planned_before_the_danger_sign_is_marked_and_the_recall_is_said_once(emergency: Dossier) -> None:
    flat = " ".join(text(emergency, "note").split())
    assert flat.index("handed over to emergency department") < flat.index("[has to wait: joint infection] home:")
    assert "[has to wait: joint infection] next visit" in flat
    assert flat.count("recall the 10:42 home sheet") == 1


def test_the_letter_carries_health_and_what_the_treatment_changed(emergency: Dossier, simple: Dossier) -> None:
    assert "Health and medicines: infection of the toe nail last week, tablets finished" in " ".join(
        text(emergency, "letter").split()
    )
    assert "knee to wall 6.3 to 9.7 cm (+3.3)" in " ".join(text(simple, "letter").split())


def test_the_hand_over_begins_with_what_to_say(emergency: Dossier) -> None:
    made = text(emergency, "handover")
    assert made.index("Say this on the phone") < made.index("Write down") < made.index("Danger signs")
    assert "Call me back on 555 0100" in " ".join(made.split())
    assert "10:52  fever" in made


def test_blanks_for_whatever_names_a_person(simple: Dossier) -> None:
    made = text(simple, "letter")
    for label in ("Name", "Born", "Number", "Phone"):
        assert re.search(rf"{label}: _+", made)


def test_chances_of_the_tool_never_enter_note_or_letter(cases: dict[str, Dossier]) -> None:
    for d in cases.values():
        # the same case with every chance and every hypothesis' words replaced reads the same
        marked = tuple(replace(h, chance=0.123456, words="ZZMARK", name="ZZMARK") for h in d.advice.hypotheses)
        other = replace(d, advice=replace(d.advice, hypotheses=marked))
        assert marked
        for kind in PAPERS:
            assert text(other, kind) == text(d, kind)


def test_the_note_leads_with_the_clinicians_conclusion(simple: Dossier) -> None:
    made = text(simple, "note")
    assert made.index("Clinician's conclusion") < made.index("Who") < made.index("Danger screens")
    assert "stiff after a sprain" in made


def test_measures_carry_error_and_side_difference(simple: Dossier) -> None:
    flat = " ".join(text(simple, "note").split())
    # right mean of 6, 6.5, 6.5 = 6.33; left mean of 11, 11, 11.5 = 11.17; the difference 4.83
    assert "knee to wall right: 6.3 cm (give or take" in flat
    assert "knee to wall: the right is 4.8 cm worse than the other (give or take" in flat
    # after treatment 9.5, 9.5, 10: 9.67, a change of 3.33
    assert "knee to wall 6.3 to 9.7 cm (+3.3)" in flat


def test_consent_and_dates_stand_in_the_note(simple: Dossier) -> None:
    made = text(simple, "note")
    assert "agreed; talked through: what and why, after effects" in made
    assert "injury Mon 26 Jan 2026, 35 days ago" in made  # 35 days before Mon 2 March 2026


def test_relative_dates_name_no_day(post_surgical: Dossier) -> None:
    made = text(replace(post_surgical, dates="relative"), "letter")
    assert "2026" not in made
    assert "day -48" in made  # operated 49 days before day 1


def test_foreign_text_cannot_write_mark_up(simple: Dossier) -> None:
    evil = "<script>alert(1)</script> *bold* [x](http://e.org) {{ 7*7 }}"
    notes = tuple(replace(n, text=evil) if n.heading == "conclusion" else n for n in simple.state.notes)
    d = replace(simple, state=replace(simple.state, notes=notes))
    page = text(d, "note", "html")
    assert "<script" not in page
    assert "{{ 7*7 }}" in page
    markdown = text(d, "note", "markdown")
    assert "<script" not in markdown
    assert "\\*bold\\*" in markdown
    assert "\\[x\\]" in markdown
    composition = json.loads(text(d, "fhir"))["entry"][0]["resource"]
    assert not any("<script" in section["text"]["div"] for section in composition["section"])


class _Page(HTMLParser):
    """Tags that are not closed, resources from outside, headings in order."""

    VOID = frozenset(("meta", "link", "br", "hr", "img", "input", "line", "circle", "polyline"))

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.outside: list[str] = []
        self.headings: list[str] = []
        self.attributes: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.attributes.append((tag, told))
        self.outside += [v for k, v in attrs if k in ("src", "href") and v]
        if tag in ("h1", "h2", "h3"):
            self.headings.append(tag)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag


@pytest.mark.parametrize("kind", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_html_is_one_file_well_formed_and_labelled(cases: dict[str, Dossier], name: str, kind: str) -> None:
    made = text(cases[name], kind, "html")
    page = _Page()
    page.feed(made)
    assert page.open == []
    assert page.outside == []
    assert "url(" not in made
    assert "@import" not in made
    assert page.headings[0] == "h1"
    assert page.headings.count("h1") == 1
    told = dict(page.attributes)
    assert told["html"]["lang"] == "en"
    for tag, attributes in page.attributes:
        if tag == "svg":
            assert attributes["role"] == "img"
            assert attributes["aria-label"]
        if tag == "th":
            assert attributes["scope"] == "col"
    assert made.count(INVENTED) >= 3  # title, top, foot, and the page margin


def test_the_progress_picture_is_xml_and_says_its_numbers(simple: Dossier) -> None:
    made = text(simple, "html")
    svg = made[made.index("<svg") : made.index("</svg>") + len("</svg>")]
    root = ET.fromstring(svg)
    words = root.attrib["aria-label"]
    assert "visit 1 before 6.3, visit 1 after 9.7" in words


def test_the_second_visit_says_what_is_new_and_draws_both(second: Dossier) -> None:
    flat = " ".join(text(second, "note").split())
    # visit 2: right mean of 8, 8.5, 8.5 = 8.33; left 11, 11.5, 11.5 = 11.33; 3.0 short
    assert "knee to wall right: 8.3 cm (give or take 1); trials 8, 8.5, 8.5" in flat
    assert "trials 6, 6.5, 6.5" not in flat  # visit 1 is in the picture and its words
    assert "visit 1 before 6.3, visit 1 after 9.7, visit 2 before 8.3, visit 2 after 10.2" in flat
    assert "the right is 4.8 cm worse than the other (give or take 1.1): beyond error (from visit 1)" in flat
    assert "the right is 3 cm worse than the other (give or take 1.1): beyond error (this visit)" in flat
    assert flat.index("half of what was gained stayed (this visit)") < flat.index("no danger sign told or seen (from")
    assert "plan: own band from now on (this visit)" in flat
    assert "plan: glide once more" not in flat
    assert "not worse after the visit before" in flat
    made = text(second, "html")
    root = ET.fromstring(made[made.index("<svg") : made.index("</svg>") + len("</svg>")])
    places = [float(c.attrib["cx"]) for c in root.iter() if c.tag.endswith("circle")]
    assert len(places) == 12  # three signs, two visits, before and after
    assert places[:4] == sorted(places[:4])


def test_thirty_visits_keep_the_note_short_and_their_picture_readable(simple: Dossier) -> None:
    state = case([round(2 + n / 6, 1) for n in range(30)])
    latest = max(m.at for m in state.measurements if m.at is not None)
    d = replace(simple, state=state, advice=advise(simple.knowledge, state, latest), as_of=latest, now=latest)
    assert text(d, "note").count("\f") <= 2  # three pages
    assert "21 treatments of earlier visits: in the record" in text(d, "note")  # 29 less the eight it names
    made = text(d, "html")
    root = ET.fromstring(made[made.index("<svg") : made.index("</svg>") + len("</svg>")])
    below = [e for e in root.iter() if e.tag.endswith("text") and e.attrib.get("text-anchor") == "middle"]
    places = [float(e.attrib["x"]) for e in below]
    assert all(b - a >= 34 for a, b in pairwise(places))
    assert (below[0].text, below[-1].text) == ("visit 1", "28")


def test_the_end_of_care_says_what_they_go_on_with(simple: Dossier) -> None:
    end = Ending("goals_met", "back at the beds", "squats against the wall twice a week", "it swells again", visit=1)
    d = replace(simple, state=replace(simple.state, ending=end))
    sheet, letter = " ".join(text(d, "home").split()), " ".join(text(d, "letter").split())
    assert "1. squats against the wall twice a week" in sheet
    assert "No more visits are planned." in sheet
    assert "Do not use this sheet after" not in sheet
    assert "it swells again" in sheet
    assert "care here ended (goals met" in letter


def test_a_danger_sign_of_another_screen_is_said_on_the_phone(emergency: Dossier) -> None:
    signs = (Answer("calf_swollen", "right", "present", at=emergency.as_of, visit=1, seq=99),)
    d = replace(emergency, state=replace(emergency.state, answers=(*emergency.state.answers, *signs)))
    assert "Also: one calf newly swollen right." in " ".join(text(d, "handover").split())
    assert "Also:" not in text(emergency, "handover")


def test_letters_name_days_and_never_our_visit_numbers(second: Dossier) -> None:
    made = " ".join(text(second, "letter").split())
    assert "visit 1" not in made
    assert "(Mon 2 Mar 2026)" in made


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_paper_is_the_clinics(simple: Dossier, paper: str) -> None:
    d = replace(simple, clinic=replace(simple.clinic, paper=paper))
    assert f"@page {{ size: {paper};" in text(d, "html")
