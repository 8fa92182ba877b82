"""What was done without a recorded agreement stands in the note and in the review; what was agreed to does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.reports.make import make
from reasoner.review.page_one import page_one
from reasoner.review.reading import Reading, verified
from reasoner.views.render import plain_lines
from reasoner.views.reviewing import one_page
from tests.reports.playing import Played
from tests.walks.test_course import LOW, READY, TESTED

AGAIN = "retest stairs 6, pain at sign 3, ktw L 4 4 4"
GIVEN = "treat glide3 3x60 s because they held the foot out"
OTHER = ("treat mwm standing 2x10, agreed", AGAIN)


@pytest.mark.parametrize(
    ("lines", "missing"),
    [
        ((GIVEN,), True),
        (("consent glide3 no", GIVEN), True),
        (("consent glide3 yes", "consent glide3 withdrawn", GIVEN), True),
        (("consent glide3 yes", *OTHER, GIVEN), True),  # another came between
        (("consent glide3 yes", GIVEN), False),
        (("consent glide3 yes", "treat glide3 3x60 s", "consent glide3 withdrawn"), False),  # it stood then
    ],
)  # fmt: skip
def test_a_missing_agreement_is_an_open_item_of_the_note_and_of_the_review(
    lines: tuple[str, ...], missing: bool, knowledge: Knowledge, tmp_path: Path
) -> None:
    played = Played(knowledge, tmp_path, kind="demo").lines(*READY, LOW, *TESTED, *lines, AGAIN, "close")
    name = knowledge.options["posterior_talar_glide_3"].name
    items = played.sitting.state.visits[-1].closing["open_items"]
    assert (f"no agreement recorded for {name}" in items) == missing
    note = " ".join(make(played.dossier(), "note").text.split())
    assert (f"no agreement recorded for {name}" in note) == missing

    path = played.sitting.trail.path
    read = page_one(Reading.of(path, tmp_path, verified(path, tmp_path), knowledge))
    assert [f.seq for f in read.of("no_agreement")] == [played.sitting.state.loops[-1].seq] * missing
    shown = " ".join(" ".join(plain_lines(one_page(read, ()), 80)).split())
    assert (f"{name}: no agreement recorded" in shown) == missing
