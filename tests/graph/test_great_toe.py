"""A second region on the same engine: the great toe joint. Its rules and words are its own; no Python knows it.

Expected answers follow from rules that stand in the pack (common practice): a hot joint with fever sends today.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.advice.advise import advise
from reasoner.advice.records import Advice
from reasoner.consult.snapshot import read_snapshot, state_of
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from reasoner.inference.compile import compile_problems
from tests.build import NOW

ROOT = Path(__file__).parents[2]
SCENARIOS = ROOT / "case_scenarios" / "great_toe"


@pytest.fixture(scope="module")
def toe() -> Knowledge:
    knowledge, problems = load(default_folder(), "great_toe")
    assert knowledge is not None, problems
    assert [p for p in problems if p.level == "error"] == []
    assert [p for p in compile_problems(knowledge) if p.level == "error"] == []
    return knowledge


def advice_on(toe: Knowledge, name: str) -> Advice:
    return advise(toe, state_of(read_snapshot(SCENARIOS / f"{name}.yaml"), toe, NOW), NOW)


def test_it_is_small_and_whole(toe: Knowledge) -> None:
    assert len(toe.hypotheses) >= 10
    assert len(toe.findings) >= 35
    assert len(toe.options) >= 10
    assert toe.screens
    assert len(toe.evidence) >= 10
    assert not any(e.quality == "recalled" for e in toe.evidence.values())


def test_the_stiff_toe(toe: Knowledge) -> None:
    advice = advice_on(toe, "stiff_great_toe")
    assert not advice.blocked
    assert advice.screening_complete
    leads = {h.list: h.id for h in reversed(advice.hypotheses)}
    assert leads["limits"] == "bony_block_top"
    assert leads["injured_or_ill"] == "toe_osteoarthritis"
    offered = {o.id for o in advice.options if o.state in ("offered", "caution")}
    assert {"stiff_sole", "toe_joint_glide"} <= offered


def test_the_hot_toe_is_sent_today_and_nothing_is_forced(toe: Knowledge) -> None:
    advice = advice_on(toe, "hot_great_toe")
    assert advice.blocked
    assert {s.id: (s.state, s.send) for s in advice.screens}["hot_toe"] == ("met", "same_day")
    for option in advice.options:
        if option.lane == "try_now" and "protect_toe" not in toe.options[option.id].load_classes:
            assert option.state in ("barred", "not_yet"), option.id
    assert any(o.id == "send_infection" and o.relevant for o in advice.options)


def test_published_figures_as_they_are_printed(toe: Knowledge) -> None:
    """Fever told an infected joint from another with 53 and 53 of 100 (Couderc et al. 2015): little either way, and its
    absence nothing. One examiner's error from the range's SD 12.2 and an agreement of .809 (Otter et al. 2015):
    12.2 x sqrt(.191) = 5.33 degrees. The toe that leans over: odds ratio 3.98 (BMC Musculoskelet Disord 2021)."""
    links = {link.finding: link for link in toe.hypotheses["toe_joint_infection"].produces}
    assert (links["fever"].sens, links["fever"].spec, links["fever"].sensitivity_only) == (0.53, 0.53, True)
    error = toe.measures["toe_extension"].errors[0]
    assert error.sem == pytest.approx(12.2 * (1 - 0.809) ** 0.5, abs=0.05)
    ratios = {str(m.fact): m.odds_ratio for m in toe.hypotheses["toe_osteoarthritis"].modifiers}
    assert ratios["side_bump"] == 3.98


def test_no_python_knows_the_toe(toe: Knowledge) -> None:
    """No id of this region stands anywhere in the package: it came in as files alone."""
    source = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "reasoner").rglob("*.py"))
    shared = {"fever", "function", "pain", "education", "other", "sit", "stand", "supine"}
    own = {i for i in (*toe.hypotheses, *toe.options, *toe.screens, *toe.load_classes, *toe.measures) if len(i) > 6}
    assert {i for i in own - shared if i in source} == set()
