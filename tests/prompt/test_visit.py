"""The same lines from keys and from a script; nothing recorded that was not meant; nothing acknowledged is lost."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from reasoner.case import events as ev
from reasoner.case.state import CaseState
from reasoner.consult import agenda
from reasoner.consult.sitting import state_of_trail
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.prompt.desk import Desk
from reasoner.prompt.loop import run_loop
from reasoner.trail.verify import anchor_of, verify
from reasoner.views.page import Page
from reasoner.views.question import question
from reasoner.views.render import plain_lines
from tests.strategies import CALM
from tests.visit import CALM_CASE, MEASURED, TREATED, Visit, begin

BANNED = re.compile(r"\b(safe|cleared|settled|ruled out|confirmed)\b", re.IGNORECASE)

WHOLE = (
    *TREATED, "list", "options", "why talus does not glide back", "screens", "answers", "summary", "help", "timeline",
    "retest function 6, pain at the sign 3, ktw L 4.5 4.5 5", "front pinch ~.7", "undo",
    "conclusion the back glide limits", "plan once more in a week", "close",
)  # fmt: skip
SOME = (
    "left", "sprain", "injury 20 days ago", "injury 3 days ago", "age 34", "fever +", "fever -", "fever ?",
    "joint hot and red -", "bone tender -", "cannot take four steps -", "cannot take four steps +",
    "cannot take four steps - because misheard", "loss of protective sensation -", "front pinch ~.7", "undo",
    "undo because a slip", "function 4", "pain at the sign 5", "ktw L 3 3.5 R 9 9", "problem: stairs",
    "treat back glide 3x60 agreed", "treat back glide because asked", "consent back glide yes", "options",
    "retest function 6, pain at the sign 3, ktw L 4.5", "excuse because time", "note words", "close", "new visit",
    "new assessment", "judge short calf; sure", "signs function, ktw", "withdraw fever because misheard", "",
)  # fmt: skip


def bare(state: CaseState) -> CaseState:
    """A state without its place in the trail."""
    return replace(state, seq=0, log=())


def accepted(visit: Visit, lines: tuple[str, ...]) -> list[str]:
    """Take the lines a script takes, one by one; those it refuses record nothing."""
    taken = []
    for line in lines:
        path = visit.sitting.trail.path
        before = path.stat().st_size
        try:
            visit.script(line)
            taken.append(line)
        except InputRefused:
            assert path.stat().st_size == before
    return taken


def test_a_whole_visit_from_keys_and_from_a_script_gives_the_same_events(
    tiny_knowledge: Knowledge, tmp_path: Path
) -> None:
    scripted, typed = begin(tiny_knowledge, tmp_path / "a"), begin(tiny_knowledge, tmp_path / "b")
    scripted.script(*WHOLE)
    typed.typed(*WHOLE)
    assert typed.events == scripted.events
    assert any(isinstance(e, ev.VisitClosed) for e in scripted.events)


@CALM
@given(st.lists(st.sampled_from(SOME), max_size=14).map(tuple))
def test_any_lines_from_keys_and_from_a_script_give_the_same_events(
    tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory, lines: tuple[str, ...]
) -> None:
    scripted = begin(tiny_knowledge, tmp_path_factory.mktemp("a"))
    typed = begin(tiny_knowledge, tmp_path_factory.mktemp("b"))
    taken = [line for line in accepted(scripted, lines) if line]
    typed.typed(*taken)
    ends = (ev.VisitClosed,)  # the keys stop at an end; what a script adds after it comes in a new sitting
    cut = next((n for n, e in enumerate(scripted.events) if isinstance(e, ends)), len(scripted.events))
    assert typed.events[: cut + 1] == scripted.events[: cut + 1]


@settings(CALM, max_examples=6, phases=[Phase.generate])
@given(st.permutations(agenda._STEPS))
def test_the_order_of_the_questions_never_changes_what_a_script_records(
    tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory, steps: list[agenda.Steps]
) -> None:
    """At the keyboard a line may be the words somebody was asked for; in a script it never waits for a question."""
    usual, permuted = (begin(tiny_knowledge, tmp_path_factory.mktemp(name)) for name in "ab")
    usual.script(*WHOLE)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(agenda, "_STEPS", tuple(steps))
        permuted.script(*WHOLE)
    assert permuted.events == usual.events


@CALM
@given(st.lists(st.sampled_from(SOME), max_size=14).map(tuple))
def test_undo_restores_and_replay_gives_the_same_state(
    tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory, lines: tuple[str, ...]
) -> None:
    visit = begin(tiny_knowledge, tmp_path_factory.mktemp("case"))
    for line in lines:
        before, count = bare(visit.sitting.state), len(visit.events)
        taken = accepted(visit, (line,))
        new = [e for e in visit.events[count:] if not isinstance(e, ev.Advised)]
        one = len(new) == 1 and not isinstance(
            new[0], (ev.Undone, ev.VisitOpened, ev.VisitClosed, ev.AnswerWithdrawn, ev.Paused, ev.Resumed)
        )
        if taken and one:
            visit.script("undo because of a slip")
            after = bare(visit.sitting.state)
            assert replace(after, withdrawn=before.withdrawn) == before
            accepted(visit, (line,))
    assert bare(state_of_trail(visit.sitting.trail.entries)) == bare(visit.sitting.state)
    path = visit.sitting.trail.path
    assert [p for p in verify(path, anchor_of(visit.home, path)) if p.level == "error"] == []


@pytest.mark.parametrize("given", [("left",), CALM_CASE])
@pytest.mark.parametrize(
    "line", ["", "   ", "pinch +", "fevr -", "optoins", "+ -", "age x", "treat glide", "why nothing at all"]
)
def test_an_empty_or_unclear_line_records_nothing(
    line: str, given: tuple[str, ...], tiny_knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script(*given)
    before = visit.events
    visit.typed(line, "", "")
    assert visit.events == before


def test_a_near_name_counts_only_after_a_number_was_typed(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script("left")
    visit.typed("pinch +, fevr -", "1", "1")
    assert visit.events[-2:] == [ev.Answered("front_pinch", "left", "present"), ev.Answered("fever", "none", "absent")]
    before = visit.events
    visit.typed("pinch -", "n")
    assert visit.events == before
    visit.typed("pinch -", "fever +")  # another line takes the place of the choice
    assert visit.events[len(before):] == [ev.Answered("fever", "none", "present")]


def test_an_empty_line_is_neither_consent_nor_an_answer(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script(*MEASURED)
    before = visit.events
    visit.typed("treat back glide 3x60", "", "", "   ")
    assert visit.events == before
    visit.typed("treat back glide 3x60", "n")
    assert visit.events[len(before):] == [ev.ConsentRecorded("back_glide", "refused")]
    visit.typed("treat back glide 3x60", "y")
    assert [type(e) for e in visit.events[-3:]] == [ev.ConsentRecorded, ev.Advised, ev.Treated]


def test_the_parts_of_a_resolution_are_asked_one_by_one(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script("left, sprain, injury 3 days ago, cannot take four steps +")
    before = visit.events
    visit.typed("resolve fracture rule: done film", "no break seen", "radiologist", "")
    assert visit.events == before  # given up: nothing of it counts
    visit.typed("resolve fracture rule: done film", "no break seen", "radiologist", "today", "a sprain")
    assert visit.events[-1] == ev.ScreenResolved(
        "fracture_rule", ("cannot_take_four_steps@left",), "film", "no break seen", "radiologist", "a sprain", "today"
    )


def test_a_reason_is_asked_for_where_one_is_needed(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script("left, sprain, injury 3 days ago, cannot take four steps +")
    before = visit.events
    visit.typed("undo", "")
    assert visit.events == before
    visit.typed("undo", "front pinch +")  # a line of its own is not the reason
    assert visit.sitting.state.withdrawn == ()
    visit.typed("undo", "undo", "wrong line")
    assert [w.reason for w in visit.sitting.state.withdrawn] == ["wrong line"]


def test_what_is_not_offered_is_not_given_by_the_next_line_typed(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script("left", "ktw L 3")
    before = visit.events
    visit.typed("treat back glide 3x60", "1", "yes they asked", "y", "")
    assert visit.events == before


def test_questions_are_answered_with_one_key(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.typed("left, sprain, injury 20 days ago", "n", "n", "n", "y", "n", "n", "34, n")
    told = [(a.finding, a.value) for a in visit.sitting.state.answers]
    assert ("cannot_take_four_steps", "absent") in told
    assert [e.bundle for e in visit.events if isinstance(e, ev.BundleAnswered)] == ["walk", "hot", "person"]
    assert visit.sitting.state.context.age == 34


def test_ctrl_c_throws_the_line_away_and_ctrl_d_leaves(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    before = visit.events
    with create_pipe_input() as keys:
        keys.send_text("left, age 3\x03age 34\r\x04")
        run_loop(visit.sitting, keys=keys, screen=DummyOutput(), wipe=lambda: None)
    assert visit.events[len(before):] == [ev.ContextStated("age", 34.0)]


def test_very_long_and_hostile_lines_are_refused_or_harmless(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    with pytest.raises(InputRefused, match="split it"):
        visit.script("note " + "x" * 9000)
    lines = visit.script("note \u202ehidden\u202c words", "summary")
    assert visit.sitting.state.notes[-1].text == "hidden words"
    assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e]", "\n".join(lines))


def test_nothing_that_was_typed_is_kept_outside_the_state_folder(
    tiny_knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home").mkdir()
    monkeypatch.chdir(tmp_path / "home")
    begin(tiny_knowledge, tmp_path / "state").typed("left", "problem: a very particular phrase")
    assert list((tmp_path / "home").rglob("*")) == []


def test_a_pause_and_a_second_sitting_go_on_where_it_stopped(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.typed("left", "front pinch +", "pause", "never read")
    assert isinstance(visit.events[-1], ev.Paused)
    later = visit.again(tiny_knowledge)
    assert isinstance(later.events[-1], ev.Resumed)
    assert later.sitting.state.answers == visit.sitting.state.answers
    visit.clock.wait(hours=20)
    again = later.again(tiny_knowledge, by="LS")
    assert [(a.finding, a.value) for a in again.sitting.state.answers] == [("front_pinch", "present")]
    assert not again.sitting.advice.screening_complete


def test_another_window_is_noticed_and_nothing_is_lost(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    first = begin(tiny_knowledge, tmp_path)
    second = first.again(tiny_knowledge)
    second.script("left")
    with pytest.raises(InputRefused, match="went on elsewhere"):
        first.script("right")
    assert first.sitting.state.context.side == "left"  # now it knows
    first.script("age 34")
    assert [type(e) for e in first.events[-2:]] == [ev.ContextStated, ev.ContextStated]


def test_a_script_stops_at_the_first_line_it_cannot_use_and_names_it(
    tiny_knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    with pytest.raises(InputRefused) as refused:
        visit.script("# a remark", "left", "", "y", "age 34")
    assert [(p.file, p.line) for p in refused.value.problems] == [("lines", 4)]
    assert visit.events[-1] == ev.ContextStated("side", "left")


def test_nothing_printed_reassures_or_is_wider_than_the_screen(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    pages: list[Page] = []
    desk = Desk(visit.sitting, pages.append)
    desk.start()
    for line in (*WHOLE, "new visit"):
        desk.line(line)
        if desk.ask is not None:
            pages.append(question(desk.ask, tiny_knowledge))
    text = [line for page in pages for line in plain_lines(page)]
    assert len(text) > 100
    assert [line for line in text if BANNED.search(line)] == []
    assert [line for line in text if len(line) > 80] == []
