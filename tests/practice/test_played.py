"""Every written scenario played by a careful and by a careless user; each planted fault named twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.review.counted import CODES
from reasoner.review.debrief import debrief
from reasoner.review.page_one import page_one
from reasoner.views.debriefing import debrief_page
from reasoner.views.render import plain_lines
from reasoner.views.reviewing import PAGE_LINES, one_page
from tests.practice.players import FILES, careless, expert, game, scenario

# where page one speaks of each kind of fault
ROW = {
    "override": "overrides", "withdrawn": "danger withdrawn", "skipped": "stop-now questions", "late": "stop-now",
    "within_claim": "within-error claims", "open_loop": "open loops", "stopped_early": "haste",
    "over_tested": "haste", "first_idea": "AGAINST",
}  # fmt: skip


def rows(lines: list[str], label: str) -> str:
    """The row of page one that begins with a label, its continuation lines joined."""
    start = next(n for n, line in enumerate(lines) if label in line)
    joined = lines[start]
    for line in lines[start + 1 :]:
        if not line.startswith("    "):
            break
        joined += " " + line.strip()
    return joined


@pytest.mark.parametrize("name", sorted(FILES))
def test_careless_play_is_named_by_debrief_and_page_one(name: str, knowledge: Knowledge, tmp_path: Path) -> None:
    played = scenario(name, knowledge)
    g = game(knowledge, tmp_path, played)
    careless(g)
    told = debrief(g.reading, played)
    page = plain_lines(one_page(told.page, ()), 80)
    assert len(page) <= PAGE_LINES, "\n".join(page)
    assert max(map(len, page)) <= 80
    text = " ".join("\n".join(plain_lines(debrief_page(told, knowledge))).split())
    assert {"override", "skipped", "stopped_early", "open_loop", "first_idea"} <= g.planted
    for code in sorted(g.planted):
        assert told.page.of(code), f"{code} was planted and not counted"
        assert CODES[code] in text
        row = rows(page, ROW[code])
        assert "none counted" not in row, f"page one does not name {code}: {row}"
    if any(knowledge.hypotheses[h].list == "serious" for h in played.truth):
        assert told.missed, "a serious truth was missed and the debrief does not say so"
        assert CODES["danger"] in text


@pytest.mark.parametrize("name", sorted(FILES))
def test_careful_play_has_none_of_the_planted_faults(name: str, knowledge: Knowledge, tmp_path: Path) -> None:
    played = scenario(name, knowledge)
    g = game(knowledge, tmp_path, played)
    expert(g)
    told = debrief(g.reading, played)
    assert not {f.code for f in told.page.faults} & {"override", "withdrawn", "within_claim", "open_loop", "late"}
    assert not told.missed, [f.what for f in told.missed]
    assert len(plain_lines(one_page(told.page, ()), 80)) <= PAGE_LINES
    if any(knowledge.hypotheses[h].list == "serious" for h in played.truth):
        assert g.sitting.advice.blocked, "the screen of a serious truth did not stop the careful user"
        assert not g.sitting.state.loops


def test_eighteen_scenarios_five_serious_three_traps(knowledge: Knowledge) -> None:
    told = [scenario(name, knowledge) for name in FILES]
    assert len(told) >= 15
    enriched = [s for s in told if {"serious", "enriched"} <= set(s.labels)]
    assert len(enriched) >= 5
    assert {s.trap for s in told} >= {"reassuring_sign", "wrong_label", "two_causes"}
    assert {s.level for s in told} == {"easy", "medium", "hard"}
    for s in enriched:
        assert any(knowledge.hypotheses[h].list == "serious" for h in s.truth)


def test_nothing_of_the_truth_is_on_page_one(knowledge: Knowledge, tmp_path: Path) -> None:
    """Page one is a reading of the record: it is the same whatever was true."""
    played = scenario("hill_walker", knowledge)
    g = game(knowledge, tmp_path, played)
    careless(g)
    assert not any(line for line in plain_lines(one_page(page_one(g.reading), ())) if played.id in line)
