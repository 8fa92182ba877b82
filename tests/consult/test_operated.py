"""After an operation: the days said again each visit, orders not seen or contradicting, orders by telephone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.case import events as ev
from reasoner.consult import commands as c
from reasoner.consult.agenda import Ask, all_asks
from reasoner.graph.knowledge import Knowledge
from reasoner.views import surgeon
from reasoner.views.render import plain_lines
from tests.visit import CALM_CASE, Visit, begin, of, said

OPERATED = (
    "left, sprain, injury 50 days ago, no boot, age 34", "surgery plate and screws 45 days ago", "orders known",
    *CALM_CASE[1:],
)  # fmt: skip


@pytest.fixture
def visit(tiny_knowledge: Knowledge, knowledge: Knowledge, tmp_path: Path) -> Visit:
    """45 days after an operation, on the small pack with the shipped policy."""
    made = begin(replace(tiny_knowledge, policy=knowledge.policy), tmp_path)
    made.script(*OPERATED)
    return made


def asked(visit: Visit, ident: str) -> Ask | None:
    """The question of this id, if it could come now."""
    return next((a for a in all_asks(visit.sitting.situation) if a.id == ident), None)


def test_each_visit_says_the_days_since_the_operation_and_asks_whether_it_is_so(visit: Visit) -> None:
    assert asked(visit, "date.surgery") is None  # said a moment ago
    for text, days in (("52 days since the operation (7 weeks): right?", 52),
                       ("59 days since the operation (8 weeks): right?", 59)):  # fmt: skip
        visit.script("close")
        visit.clock.wait(days=7)
        visit.script("new visit")
        ask = asked(visit, "date.surgery")
        assert ask is not None
        assert ask.text == text
        assert isinstance(ask.accepts, c.SetAnchor)
        visit.submit(ask.accepts)
        assert visit.events[-1] == ev.AnchorStated("surgery", days)
        assert asked(visit, "date.surgery") is None


@pytest.mark.parametrize("days", [-40, 4000])
def test_after_a_leap_of_the_clock_the_date_is_asked_for_and_no_number_is_proposed(days: int, visit: Visit) -> None:
    visit.clock.wait(days=days)
    assert asked(visit, "date.surgery") is None
    ask = asked(visit, "context.days_since.surgery")
    assert ask is not None
    assert "The clock ran backwards or leapt: weeks are not known" in ask.text


@pytest.mark.parametrize(
    ("orders", "told", "drafted"),
    [
        ("orders not seen", "until they are seen the later of its limits holds", "We have not seen your orders."),
        ("orders conflicting", "the stricter of them holds, and the later of its limits",
         "contradict each other; we keep to the stricter until we hear from you"),
    ],
)  # fmt: skip
def test_orders_not_there_or_contradicting_say_which_limit_holds(
    orders: str, told: str, drafted: str, visit: Visit
) -> None:
    assert "limits holds" not in " ".join(visit.script("orders known"))
    assert told in " ".join(" ".join(visit.script(orders)).split())
    assert drafted in " ".join(" ".join(plain_lines(surgeon.page(visit.sitting.situation))).split())


@pytest.mark.parametrize(
    ("by", "when", "lacking"),
    [("", "Monday 16:20", "by"), ("ward doctor", "", "when"), ("", " ", "by, when")],
)
def test_an_order_by_word_of_mouth_names_who_and_when(by: str, when: str, lacking: str, visit: Visit) -> None:
    before = visit.events
    outcome = visit.submit(c.HearOrder("full weight", by, when))
    assert outcome.refused
    assert f"order: say also: {lacking}" in said(outcome)
    assert visit.events == before


def test_an_order_by_word_of_mouth_opens_nothing_by_itself(visit: Visit) -> None:
    visit.script("orders not seen")
    stood = {o.id: o.state for o in visit.sitting.advice.options}
    visit.submit(c.HearOrder("full weight, bend as far as it goes", "ward doctor", "Monday 16:20"))
    assert of(visit.events, ev.OrderHeard) == [
        ev.OrderHeard("full weight, bend as far as it goes", "ward doctor", "Monday 16:20")
    ]
    assert visit.sitting.state.context.surgery is not None
    assert visit.sitting.state.context.surgery.orders == "not_seen"
    assert {o.id: o.state for o in visit.sitting.advice.options} == stood
