"""A stop interrupts when its criteria become met, and then not again: not for other answers, not for lesser screens."""

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


def interruptions(visit: Visit, lines: list[str] | tuple[str, ...]) -> list[tuple[str, set[str]]]:
    """For each line that interrupted: the line, and the stops that were met by then and not before it."""
    pages: list[Page] = []
    desk = Desk(visit.sitting, pages.append)
    desk.start()
    found = []
    before = {s.id for s in stops(visit.sitting.situation.danger)}
    for line in lines:
        pages.clear()
        desk.line(line)
        after = {s.id for s in stops(visit.sitting.situation.danger)}
        if any("STOP" in text for page in pages for text in plain_lines(page)):
            found.append((line, after - before))
        else:
            assert not after - before, line  # what becomes met is never silent
        before = after
    return found


@settings(CALM, max_examples=12)
@given(lines=st.lists(st.sampled_from([x for x in LINES if not x.startswith("fever ?")]), max_size=10))
def test_a_screen_interrupts_at_most_once_while_it_stands(
    tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    """Without a danger answer taken back: one interruption a screen and visit, each for a screen newly met."""
    visit = begin(tiny_knowledge, tmp_path_factory.mktemp("alerts"))
    visit.script("left, sprain, injury 3 days ago, no surgery, boot 2 weeks, age 34")
    news = [new for _, new in interruptions(visit, lines)]
    assert all(news)
    told = [screen for new in news for screen in new]
    assert len(told) == len(set(told))


def test_a_lesser_screen_does_not_show_the_stop_again(knowledge: Knowledge, tmp_path: Path) -> None:
    """A lump that grows is urgent and no stop: it does not repeat the emergency that stands already."""
    visit = begin(knowledge, tmp_path)
    visit.script("left, sprain, injury 20 days ago, no surgery, no boot, age 34")
    shown = interruptions(visit, ["cold pale foot +", "growing lump +", "front pinch +"])
    assert [line for line, _ in shown] == ["cold pale foot +"]
    lesser = [s for s in visit.sitting.situation.danger.screens if s.state == "met" and s.send == "urgent"]
    assert lesser  # something less pressing did become met
