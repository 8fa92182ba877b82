"""What holds for any visit: healing windows, visit-scoped answers, order of answers, replay anywhere and later."""

from __future__ import annotations

import random
import shutil
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from reasoner.advice.asking import unanswered
from reasoner.advice.questions import open_questions
from reasoner.advice.side import side_views
from reasoner.case.state import CaseState
from reasoner.consult.agenda import Ask, all_asks, ask_on
from reasoner.consult.exam import suggested_plan
from reasoner.consult.sitting import recorded_of, state_of_trail
from reasoner.graph.knowledge import Knowledge
from reasoner.trail.store import Trail
from reasoner.views.render import plain_lines
from reasoner.views.summary import timeline
from tests.strategies import CALM
from tests.visit import Clock, Visit, begin
from tests.walks.playing import Walks, lines_of

REPAIR = (
    "left, after achilles, surgery achilles repair 35 days ago, injury 36 days ago, no boot, age 41, sex m",
    "stop-now person injury limb clot heat slow in_question no",
    "problem: walking without the boot",
    "fn 3, pain at sign 2",
    "irritability walking, some, 3/10, 5 min",
    "thinners -, steroids -, quinolones -, osteoporosis -, inflammatory flare -, hypermobility -, painkillers -",
)
# from week 5 after a repair none of these is due: published starts are later (evidence hl-02 to hl-06 of the pack)
CLOSED = (
    "loaded_lunge", "loaded_hop", "heel_raise_load", "gentle_calf_stretch", "forceful_calf_stretch",
    "end_range_dorsiflexion",
)  # fmt: skip


def every_ask(visit: Visit) -> list[Ask]:
    """Every question that could come now, each skipped in turn; those of `next` too."""
    case = visit.sitting.situation
    asks, skipped = list(all_asks(case)), set[str]()
    while (ask := ask_on(case, skipped)) is not None:
        skipped.add(ask.id)
        asks.append(ask)
    return asks


def loads(knowledge: Knowledge, ident: str) -> set[str]:
    """Load classes of a finding, measure or option; of several ids with commas all of them."""
    found: set[str] = set()
    for one in ident.split(","):
        record = knowledge.findings.get(one) or knowledge.measures.get(one) or knowledge.options.get(one)
        found |= set(record.load_classes) if record is not None else set()
    return found


@pytest.mark.parametrize("orders", ["orders known", "orders not seen", "orders conflicting", ""])
def test_five_weeks_after_a_tendon_repair_nothing_that_loads_it_is_asked_measured_offered_or_retested(
    orders: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(knowledge, tmp_path)
    visit.script(*REPAIR, *([orders] if orders else []))
    advice = visit.sitting.advice
    for ask in every_ask(visit):
        if ask.kind in ("finding", "measure", "facts"):
            assert not loads(knowledge, ask.name) & set(CLOSED), ask
    plan = suggested_plan(visit.sitting.situation)
    for ident in (*plan.must, *plan.should):
        assert not loads(knowledge, ident) & set(CLOSED), ident
    for question in (*advice.questions, *advice.ask_first):
        assert not loads(knowledge, question.id) & set(CLOSED), question.id
    _, (side,) = side_views(knowledge, visit.sitting.state, visit.clock.now)
    asked = open_questions(side)  # all that could become the best question, not only the best dozen
    assert asked
    for one in asked:
        assert not loads(knowledge, one.id) & set(CLOSED), one.id
    offered = [o for o in advice.options if o.state in ("offered", "caution")]
    assert offered  # an explanation at least: the property is not empty
    for option in offered:
        assert not loads(knowledge, option.id) & set(CLOSED), option.id
    signs = next(a for a in every_ask(visit) if a.id == "signs")
    for sign in getattr(signs.accepts, "signs", ()):
        assert not loads(knowledge, sign) & set(CLOSED), sign


def test_a_plan_that_names_what_is_not_due_is_not_asked_for_it(knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(knowledge, tmp_path)
    planned = "exam must knee to wall, heel raise count, swelling; should cannot hop; active only"
    visit.script(*REPAIR, "orders known", planned)
    (plan,) = visit.sitting.state.exam_plans
    assert [i for i in (*plan.must, *plan.should) if loads(knowledge, i) & set(CLOSED)]
    asked = [a.name for a in every_ask(visit) if a.kind in ("finding", "measure")]
    assert "swelling" in asked
    assert [i for i in asked if loads(knowledge, i) & set(CLOSED)] == []


def test_a_new_visit_leaves_no_screen_not_met_on_answers_of_the_last(knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(knowledge, tmp_path)
    lines = lines_of("stiffness_three_visits")
    end = lines.index("close")
    visit.script(*lines[: end + 1], "new visit")
    scoped = {f.id for f in knowledge.findings.values() if f.holds_for == "visit"}
    standing = {ident for ident, _ in visit.sitting.situation.facts.standing}
    assert not standing & scoped
    first = {name for bundle in knowledge.region.always_ask for name in bundle.findings} & scoped
    first -= {name for name in first if knowledge.findings[name].absent_from_age is not None}  # told by the age
    assert len(first) > 10
    assert first <= set(unanswered(visit.sitting.situation.facts))  # the stop-now questions, afresh
    assert not visit.sitting.advice.screening_complete
    for screen in visit.sitting.advice.screens:
        if screen.state == "not_met":  # only what needs no answer of a visit may say so
            assert screen.send not in ("emergency", "same_day"), screen.id
    hands = {c.id for c in knowledge.load_classes.values() if c.hands_on}
    opened = [o for o in visit.sitting.advice.options if o.state in ("offered", "caution")]
    assert [o.id for o in opened if loads(knowledge, o.id) & hands] == []


# ------------------------------------------------------------------------------------------------ order


def _plain_state(state: CaseState) -> tuple[object, ...]:
    """What a case holds, without the order and the place in the record."""
    context = state.context
    days = {name: (a.days, a.none) for name, a in context.days_since.items()}
    return (
        replace(context, days_since={}), tuple(sorted(days.items())),
        frozenset((a.finding, a.side, a.value, a.sure) for a in state.answers),
        frozenset((m.measure, m.side, m.tool, m.values, m.setup) for m in state.measurements),
        frozenset((n.heading, n.text) for n in state.notes), state.retest_signs, state.function_words,
        state.irritability and (state.irritability.effort, state.irritability.intensity, state.irritability.minutes),
    )  # fmt: skip


ANSWERS = (
    "turned it 6 weeks ago", "boot 3 weeks foot pointing down", "no surgery", "age 34", "sex f",
    "stop-now injury limb clot no", "stop-now heat slow in_question no", "stop-now person no",
    "problem: coming down stairs, it grabs", "fn 4", "pain at sign 5", "irritability ten stairs, some, 5/10, 5 min",
    "thinners -, steroids -, osteoporosis -", "swelling -, back glide less +", "squeeze test -, front pinch ~.7",
    "ktw L 3 3.5 3.5 R 9 9 9.5 tape heel down", "signs function_score, knee_to_wall: stairs",
)  # fmt: skip


@pytest.fixture(scope="module")
def in_order(knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Visit:
    """The answers as they are usually given."""
    visit = begin(knowledge, tmp_path_factory.mktemp("order"))
    visit.script("left", *ANSWERS)
    return visit


@settings(CALM, max_examples=8, phases=[Phase.generate])  # looking for a smaller order that fails takes minutes
@given(st.randoms(use_true_random=False))
def test_the_order_of_answers_never_changes_what_is_recorded(
    knowledge: Knowledge, in_order: Visit, tmp_path_factory: pytest.TempPathFactory, order: random.Random
) -> None:
    first, second = in_order, begin(knowledge, tmp_path_factory.mktemp("b"))
    shuffled = list(ANSWERS)
    order.shuffle(shuffled)
    second.script("left", *shuffled)
    assert _plain_state(first.sitting.state) == _plain_state(second.sitting.state)
    one, two = first.sitting.advice, second.sitting.advice
    assert {(s.id, s.state) for s in one.screens} == {(s.id, s.state) for s in two.screens}
    assert {(o.id, o.state) for o in one.options} == {(o.id, o.state) for o in two.options}
    chances = {h.id: h.chance for h in two.hypotheses}
    assert all(abs(h.chance - chances[h.id]) < 1e-9 for h in one.hypotheses)


# ------------------------------------------------------------------------------------------------ replay


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "America/Los_Angeles", "Asia/Kolkata"])
def test_a_trail_read_a_year_later_in_any_time_zone_gives_the_same_state(
    zone: str, walks: Walks, knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = walks["stiffness_three_visits"].visit
    before = played.sitting.state
    told = plain_lines(timeline(knowledge, recorded_of(played.sitting.trail.entries)))
    shutil.copytree(played.home, tmp_path / "home")
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        entries = Trail.open(tmp_path / "home", before.case).entries
        again = state_of_trail(entries)
        assert again == before
        assert repr(again) == repr(before)  # the hours too, as they were on the clock of that day
        assert plain_lines(timeline(knowledge, recorded_of(entries))) == told
        year_later = datetime.now(ZoneInfo(zone)).replace(year=played.clock.now.year + 1)
        visit = Visit(played.sitting, Clock(year_later), tmp_path / "home", [])
        later = visit.again(knowledge).sitting
        assert replace(later.state, seq=before.seq) == before  # opening it again only adds that it was opened
        assert later.advice.blocked == played.sitting.advice.blocked
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize("leap", [timedelta(days=-3), timedelta(days=900)])
def test_a_clock_that_leaps_makes_weeks_unknown_until_the_date_is_said_again(
    leap: timedelta, knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(knowledge, tmp_path)
    visit.script(*REPAIR, "orders known")
    assert visit.sitting.situation.facts.days_since("surgery")[1] == 35
    visit.clock.now += leap
    assert visit.sitting.situation.facts.days_since("surgery")[1] is None
    visit.script("note after the leap")
    visit.clock.now = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)  # set right again: still nobody knows what happened
    assert visit.sitting.situation.facts.days_since("surgery")[1] is None
    visit.script("operation 35 days ago")
    assert visit.sitting.situation.facts.days_since("surgery")[1] == 35


# 6 weeks: the later limit of gentle mobilising after a fixation (common practice); a day before it stays shut
@pytest.mark.parametrize("orders", ["not seen", "conflicting", "known"])
@pytest.mark.parametrize(("days", "open_"), [(41, False), (42, True)])
def test_orders_not_seen_keep_the_later_limit_and_stay_a_caution(
    days: int, open_: bool, orders: str, knowledge: Knowledge, tmp_path: Path
) -> None:
    visit = begin(knowledge, tmp_path)
    visit.script(
        f"right, after an operation on a break, surgery orif {days} days ago, injury 50 days ago, boot 6 weeks, age 52",
        f"orders {orders}", "stop-now person injury limb clot heat slow in_question no", "inflammatory flare -",
    )  # fmt: skip
    stood = {o.id: o for o in visit.sitting.advice.options}
    gentle, firm = stood["posterior_talar_glide_1_2"], stood["posterior_talar_glide_3"]
    assert (gentle.state in ("offered", "caution")) == open_
    assert any("orders not seen, or conflicting" in r for r in gentle.reasons) == (orders != "known")
    assert firm.state == ("not_yet" if orders == "known" else "barred")
