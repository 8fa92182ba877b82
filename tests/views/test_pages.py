"""What stands on the screen: words and states instead of small numbers, four lanes, nothing wider than asked."""

from __future__ import annotations

import re
from dataclasses import replace
from io import StringIO
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.advice.records import Advice, HypothesisAdvice, OptionAdvice, ScreenAdvice
from reasoner.graph.knowledge import Knowledge
from reasoner.views import beliefs, options, screens
from reasoner.views.helping import help_page, names_page
from reasoner.views.page import Gap, Heading, Page, Para, Rows
from reasoner.views.render import make_console, plain_lines, show
from reasoner.visible import visible
from tests.strategies import CALM


def advice(**fields: Any) -> Advice:
    """Advice with nothing in it but what is given."""
    given: dict[str, Any] = {
        "region": "ankle", "knowledge": "00", "covered": True, "screening_complete": True, "blocked": False,
        "ask_first": (), "screens": (), "hypotheses": (), "questions": (), "options": (), "informative": 9,
        "askable": 31, **fields,
    }  # fmt: skip
    return Advice(**given)


def option(ident: str, state: str = "offered", **fields: Any) -> OptionAdvice:
    """A try-now option with figures."""
    given: dict[str, Any] = {
        "id": ident, "name": ident.replace("_", " "), "lane": "try_now", "value": 0.3, "chance_real_change": 0.38,
        "if_touch": 0.07, "certainty": "low", "sign": "knee_to_wall", **fields,
    }  # fmt: skip
    return OptionAdvice(state=state, **given)  # type: ignore[arg-type]


def text(page: Page) -> str:
    """A page as one string."""
    return "\n".join(plain_lines(page))


# ------------------------------------------------------------------------------------------------ layout


@CALM
@given(st.text(max_size=200), st.text(max_size=40), st.integers(24, 120))
def test_no_line_is_wider_than_the_console_and_no_letter_can_move_the_cursor(one: str, two: str, width: int) -> None:
    page: Page = (Heading(one, two), Para(one, indent=3), Rows(((two, one), (one, two, one)), first=20), Gap())
    lines = plain_lines(page, width)
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", "".join(lines))
    narrow = one.isascii() and two.isascii()
    assert not narrow or max(map(len, lines)) <= max(width, 44)


def test_a_page_reads_the_same_with_and_without_colour() -> None:
    page: Page = (Heading("STOP", "now", "danger"), Para("say it", tone="caution"), Rows((("a", "b"),)))
    out = StringIO()
    console = make_console(out, 40)
    console._color_system = None
    show(page, console)
    assert out.getvalue().splitlines() == plain_lines(page, 40)


def test_hostile_text_is_shown_and_does_nothing() -> None:
    assert visible("a\x1b[2Jb\u202ec\nd") == "a?[2Jb?c d"


def test_rows_wrap_in_their_last_column() -> None:
    page: Page = (Rows((("name", "word " * 30),), first=10),)
    lines = plain_lines(page, 40)
    assert lines[0].startswith("  name  word")
    assert all(line.startswith(" " * 8) for line in lines[1:])


# ------------------------------------------------------------------------------------------------ beliefs


def test_few_answers_head_the_lists_as_mostly_base_rates(tiny_knowledge: Knowledge) -> None:
    limits = (HypothesisAdvice("talus_back_glide", "back glide", "limits", 0.6, 0.5, "fits best", ("front_pinch",)),)
    few = text(beliefs.lists(advice(hypotheses=limits, informative=2), tiny_knowledge))
    assert "mostly base rates (2 of 31 answered)" in few
    assert beliefs.lead(advice(hypotheses=limits, informative=2)) == ""
    assert "on 9 answers" in text(beliefs.lists(advice(hypotheses=limits), tiny_knowledge))
    assert beliefs.lead(advice(hypotheses=limits)) == "back glide"
    assert beliefs.lead(advice(hypotheses=(replace(limits[0], for_=()),))) == ""


@pytest.mark.parametrize(
    ("state", "words"), [("met", "criteria met"), ("open", "open: not excluded"), ("not_met", "criteria not met")]
)
def test_what_must_not_be_missed_is_never_a_small_number(state: str, words: str, tiny_knowledge: Knowledge) -> None:
    serious = HypothesisAdvice(
        "fracture", "fracture", "must_not_miss", 0.0042, 0.15, words, screen_state=state, next_step="a film"
    )
    screen = ScreenAdvice("fracture_rule", "fracture rule", state, "same_day", "protect_only", met_by=("bone_tender",))  # type: ignore[arg-type]
    shown = text(beliefs.lists(advice(hypotheses=(serious,), screens=(screen,)), tiny_knowledge))
    assert "fracture" in shown
    assert not re.search(r"\d", shown.replace("on 9 answers", ""))
    assert ("next: a film" in shown) == (state in ("met", "open"))
    assert "excluded" in shown or state == "met"


def test_what_nobody_asked_about_is_named_without_a_next_step(tiny_knowledge: Knowledge) -> None:
    serious = HypothesisAdvice(
        "fracture", "fracture", "must_not_miss", 0.1, 0.1, "open", screen_state="open", next_step="a film"
    )
    screen = ScreenAdvice("fracture_rule", "fracture rule", "open", "same_day", "protect_only", met_by=("setting",))
    shown = text(beliefs.lists(advice(hypotheses=(serious,), screens=(screen,)), tiny_knowledge))
    assert "open, not excluded, answers missing (screens): fracture" in shown
    assert "a film" not in shown


def test_lists_show_no_chances_at_all(tiny_knowledge: Knowledge) -> None:
    hypotheses = tuple(
        HypothesisAdvice(f"h{n}", f"cause {'abcdef'[n]}", kind, 0.731 - n / 10, 0.2, "fits")
        for n, kind in enumerate(("limits", "injured_or_ill", "pain_mechanism", "feeds_it"))
    )
    assert not re.search(r"\.\d|%", text(beliefs.lists(advice(hypotheses=hypotheses), tiny_knowledge)))


# ------------------------------------------------------------------------------------------------ options


def test_a_value_is_said_in_words() -> None:
    assert options.value_words(option("glide")) == (
        ".38 if the studies hold, .07 if it does no more than touch; certainty low"
    )
    assert options.value_words(option("glide", value=None)) == "no figure for this sign"


def test_lanes_are_never_merged_and_barred_ones_never_ranked(tiny_knowledge: Knowledge) -> None:
    shown = text(options.page(advice(options=(
        option("a_glide"),
        option("thrust", "barred", reasons=("swollen.",)),
        option("stretch", "not_yet", missing=("fever",)),
        option("lunge", "not_yet", missing=("fever", "front_pinch")),
        option("hop", "not_yet", missing=("front_pinch",)),
        option("skip", "not_yet", missing=("front_pinch",)),
        option("talk", lane="due"),
        option("brace", lane="protect"),
        option("film", lane="ask_or_send"),
    )), tiny_knowledge))  # fmt: skip
    order = ["Due at this stage", "talk", "Try now and retest", "a glide", "Protect or wait", "brace", "Ask or send",
             "film", "Not yet", "the stop-now questions come first: 2 options wait",
             "front pinch?", "opens hop, skip", "Barred", "thrust: swollen"]  # fmt: skip
    assert [shown.index(part) for part in order] == sorted(shown.index(part) for part in order)
    assert shown.count(".38 / .07") == 1


def test_values_that_cannot_be_told_apart_are_said_to_be_so(tiny_knowledge: Knowledge) -> None:
    near = advice(options=(option("a", value=0.3), option("b", value=0.25), option("c", value=0.1)), waiting=0.07)
    shown = text(options.page(near, tiny_knowledge))
    assert "no clear difference between a, b: choose by consent, skill, preference" in " ".join(shown.split())
    assert "waiting: .07" in shown
    assert "nothing here beats waiting" not in shown


def test_nothing_beats_waiting_is_an_answer(tiny_knowledge: Knowledge) -> None:
    poor = advice(options=(option("a", value=0.05),), waiting=0.07)
    assert "nothing here beats waiting" in text(options.page(poor, tiny_knowledge))


def test_a_caution_names_what_would_tell(tiny_knowledge: Knowledge) -> None:
    careful = advice(options=(option("a", "caution", reasons=("Pain is masked.",), missing=("on_painkillers",)),))
    shown = text(options.page(careful, tiny_knowledge))
    assert "mind: Pain is masked" in " ".join(shown.split())
    assert "what would tell: on painkillers" in shown


# ------------------------------------------------------------------------------------------------ screens, help


def test_a_met_screen_says_stop_by_what_and_what_next(tiny_knowledge: Knowledge) -> None:
    met = ScreenAdvice(
        "hot_joint", "hot joint", "met", "emergency", "nothing", met_by=("fever", "joint_hot_red@left"),
        say="Hot joint with fever; consider infection.", next_step="Send today.",
    )  # fmt: skip
    shown = text(screens.board(advice(screens=(met,), blocked=True), tiny_knowledge))
    for part in ("STOP  hot joint: criteria met", "emergency: send now", "by: fever, joint hot and red left",
                 "next: Send today.", "nothing is done to this joint"):  # fmt: skip
        assert part in shown


def test_what_is_not_met_is_not_excluded_and_what_does_not_apply_says_nothing(tiny_knowledge: Knowledge) -> None:
    shown = text(screens.board(advice(screens=(
        ScreenAdvice("fracture_rule", "fracture rule", "does_not_apply", "same_day", "protect_only"),
        ScreenAdvice("hot_joint", "hot joint", "not_met", "emergency", "nothing"),
    )), tiny_knowledge))  # fmt: skip
    assert "Criteria not met on these answers; not excluded" in shown
    assert "which says nothing either way" in shown


def test_help_fits_a_small_screen() -> None:
    assert len(plain_lines(help_page(), 80)) <= 24


def test_names_are_found_by_a_part(tiny_knowledge: Knowledge) -> None:
    assert "front pinch" in text(names_page(tiny_knowledge, "names pinch"))
    assert "glide the talus back" not in text(names_page(tiny_knowledge, "names pinch"))
    assert "knee to wall" in text(names_page(tiny_knowledge, "measures"))
