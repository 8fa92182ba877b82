"""One stop interrupts in a visit; another that becomes met later is told in its turn, and none is silent."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.desk import Desk
from reasoner.views.page import Page
from reasoner.views.render import plain_lines
from reasoner.views.screens import stops
from tests.strategies import CALM
from tests.visit import Visit, begin

LINES = (
    "joint hot and red +", "fever +", "bone tender +", "cannot take four steps +", "front pinch +", "front pinch -",
    "note they were told", "fn 3", "loss of protective sensation +", "fever ?", "loss of protective sensation -",
)  # fmt: skip


def told(visit: Visit, lines: list[str] | tuple[str, ...]) -> list[tuple[str, str, set[str]]]:
    """For each line after which a stop was told: the line, how (STOP or ALSO), and the stops newly met."""
    pages: list[Page] = []
    desk = Desk(visit.sitting, pages.append)
    desk.start()
    found = []
    before = {s.id for s in stops(visit.sitting.situation.danger)}
    for line in lines:
        pages.clear()
        desk.line(line)
        standing = stops(visit.sitting.situation.danger)
        new = {s.id for s in standing} - before
        text = "\n".join(text for page in pages for text in plain_lines(page))
        if "STOP" in text or "ALSO" in text:
            found.append((line, "STOP" if "STOP" in text else "ALSO", new))
        for screen in standing:  # what becomes met is never silent
            assert screen.id not in new or f"{screen.name}: criteria met" in text, line
        before |= new
    return found


@settings(CALM, max_examples=12)
@given(lines=st.lists(st.sampled_from(LINES), max_size=10))
def test_one_stop_interrupts_in_a_visit(
    tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    """Whatever is answered, and taken back, and answered again; and only when a stop is newly met is one told."""
    visit = begin(tiny_knowledge, tmp_path_factory.mktemp("alerts"))
    visit.script("left, sprain, injury 3 days ago, no surgery, boot 2 weeks, age 34")
    how = [h for _, h, _ in told(visit, lines)]
    assert how.count("STOP") <= 1
    assert how[:1] in ([], ["STOP"])


def test_a_lesser_screen_does_not_show_the_stop_again(knowledge: Knowledge, tmp_path: Path) -> None:
    """A lump that grows is urgent and no stop: it does not repeat the emergency that stands already."""
    visit = begin(knowledge, tmp_path)
    visit.script("left, sprain, injury 20 days ago, no surgery, no boot, age 34")
    shown = told(visit, ["cold pale foot +", "growing lump +", "front pinch +"])
    assert [line for line, _, _ in shown] == ["cold pale foot +"]
    lesser = [s for s in visit.sitting.situation.danger.screens if s.state == "met" and s.send == "urgent"]
    assert lesser  # something less pressing did become met


def test_the_next_visit_is_stopped_anew(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    sign = "cannot take four steps +"
    printed = visit.script("left, sprain, injury 3 days ago", sign, "close", "new visit", sign)
    assert sum(line.startswith("STOP") for line in printed) == 2
