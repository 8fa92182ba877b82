"""A case is a fold of its events: replay gives the same state, undo gives the state as if it had never been said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from reasoner.case import events as ev
from reasoner.case.apply import apply, replay
from reasoner.case.state import CaseState
from tests.strategies import CALM

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

SOME = st.one_of(
    st.builds(ev.Answered, st.sampled_from(["fever", "pinch"]), st.sampled_from(["left", "right"]),
              st.sampled_from(["present", "absent", "unknown"])),
    st.builds(ev.BundleAnswered, st.just("b1"), st.sampled_from(["present", "absent", "unknown"]),
              st.just(("fever@none", "hot@left"))),
    st.builds(ev.AnswerWithdrawn, st.just("fever"), st.just("left"), st.booleans(), st.just("a slip")),
    st.builds(ev.ContextStated, st.just("age"), st.sampled_from([None, 30.0, 40.0])),
    st.builds(ev.AnchorStated, st.just("injury"), st.sampled_from([None, 3, 42]), st.booleans()),
    st.builds(ev.SurgeryStated, st.booleans()),
    st.builds(ev.ImmobilisedStated, st.booleans(), st.sampled_from([None, 3.0])),
    st.builds(ev.Measured, st.just("reach"), st.sampled_from(["left", "right"]), st.just("tape"), st.just((4.0, 4.5))),
    st.builds(ev.Noted, st.sampled_from(["problem", "plan"]), st.just("words")),
    st.builds(ev.Judged, st.just(("stiff",))),
    st.builds(ev.SignsChosen, st.just(("reach",)), st.sampled_from(["", "stairs"])),
    st.builds(ev.ConsentRecorded, st.just("glide"), st.sampled_from(["given", "refused", "withdrawn"])),
    st.builds(ev.Treated, st.integers(1, 3), st.just("glide"), st.just("left"), st.just("offered")),
    st.builds(ev.Retested, st.integers(1, 3), st.just("within")),
    st.builds(ev.RetestExcused, st.integers(1, 3), st.just("out of time")),
    st.builds(ev.CompetenceRecorded, st.just("thrust")),
    st.builds(ev.IrritabilityStated, st.just("stairs"), st.just("some")),
    st.builds(ev.AssessmentOpened),
    st.builds(ev.Advised, st.booleans(), st.booleans()),
)  # fmt: skip


def recorded(events: Sequence[ev.Event]) -> list[ev.Recorded]:
    """Events as lines 1, 2, ... a minute apart."""
    return [ev.Recorded(n, START + timedelta(minutes=n), "KM", "physio", e) for n, e in enumerate(events, 1)]


def opened(events: Sequence[ev.Event]) -> list[ev.Recorded]:
    """The same after a case and a visit were opened."""
    return recorded([ev.CaseOpened("oak-17", "demo", "r"), ev.VisitOpened(1), *events])


def bare(state: CaseState) -> CaseState:
    """Without the place in the trail."""
    return replace(state, seq=0, log=(), withdrawn=())


@CALM
@given(st.lists(SOME, max_size=25))
def test_replay_gives_the_same_state_however_it_is_cut(events: list[ev.Event]) -> None:
    lines = opened(events)
    whole = replay(lines)
    assert replay(lines) == whole
    for cut in range(0, len(lines), 5):
        assert replay(lines[cut:], replay(lines[:cut])) == whole
    assert [r.seq for r in whole.log] == [r.seq for r in lines]


@CALM
@given(st.lists(SOME, max_size=15), SOME, st.lists(SOME, max_size=5))
def test_undo_gives_the_state_without_the_event(
    before: list[ev.Event], gone: ev.Event, after: list[ev.Event]
) -> None:
    lines = opened([*before, gone, *after])
    target = len(before) + 3
    undone = apply(replay(lines), ev.Recorded(99, START, "KM", "physio", ev.Undone(target)))
    without = replay(r for r in lines if r.seq != target)
    assert bare(undone) == bare(without)
    assert target not in [r.seq for r in undone.log]


@CALM
@given(st.lists(SOME, min_size=1, max_size=8))
def test_undoing_everything_gives_the_empty_visit(events: list[ev.Event]) -> None:
    state = replay(opened(events))
    for n in range(len(events) + 2, 2, -1):
        state = apply(state, ev.Recorded(100 + n, START, "KM", "physio", ev.Undone(n)))
    assert bare(state) == bare(replay(opened([])))


def test_an_undone_danger_answer_stays_on_the_list_of_withdrawn_ones() -> None:
    lines = opened([ev.Answered("fever", "none", "present")])
    state = apply(
        replay(lines), ev.Recorded(4, START, "KM", "physio", ev.Undone(3, (), "fever", "none", "wrong line"))
    )
    assert state.answers == ()
    assert [(w.finding, w.reason) for w in state.withdrawn] == [("fever", "wrong line")]
    later = apply(state, ev.Recorded(5, START, "KM", "physio", ev.Noted("note", "x")))
    undone = apply(later, ev.Recorded(6, START, "KM", "physio", ev.Undone(5)))
    assert [w.finding for w in undone.withdrawn] == ["fever"]


def test_a_bundle_stands_for_single_answers() -> None:
    state = replay(opened([ev.BundleAnswered("hot", "absent", ("fever@none", "red@left", "red@right"))]))
    assert [(a.finding, a.side, a.value) for a in state.answers] == [
        ("fever", "none", "absent"), ("red", "left", "absent"), ("red", "right", "absent"),
    ]
    asked = replay(opened([ev.BundleAnswered("hot", "present", ("fever@none",))]))
    assert asked.answers == ()
    assert [b.value for b in asked.bundles] == ["present"]


def test_a_new_visit_is_a_new_assessment_and_keeps_what_was_recorded() -> None:
    state = replay(
        opened([ev.Answered("pinch", "left", "present"), ev.VisitClosed(), ev.VisitOpened(2),
                ev.Answered("pinch", "left", "absent")])
    )  # fmt: skip
    assert [(a.visit, a.assessment) for a in state.answers] == [(1, 1), (2, 2)]
    assert state.visits[0].closed_at is not None
    assert state.visits[1].closed_at is None


def test_given_against_advice_is_told_from_a_reason_for_having_no_baseline() -> None:
    state = replay(
        opened([ev.Treated(1, "glide", "left", "barred", reason="asked for it"),
                ev.Treated(2, "glide", "left", "offered", reason="no time to measure")])
    )  # fmt: skip
    assert [p.against_advice for p in state.loops] == ["asked for it", ""]
