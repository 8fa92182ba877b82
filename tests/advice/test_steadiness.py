"""Ranges, steadiness words and value intervals: what must hold whatever the figures, and small cases by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from reasoner.advice.advise import advise
from reasoner.advice.beliefs import Beliefs
from reasoner.advice.draws import COUNT, draw
from reasoner.advice.figures import figures_of, links_of, places_of
from reasoner.advice.side import side_views
from reasoner.advice.steadiness import steadiness
from reasoner.advice.words import APART, HANGS, STEADY
from reasoner.case.state import Context
from reasoner.graph.knowledge import Knowledge
from reasoner.inference.kernel import posteriors
from reasoner.inference.responses import response_chances, response_reading, silent_apart, silent_held
from reasoner.views.advice_json import as_json
from reasoner.views.beliefs import lists
from reasoner.views.options import no_difference
from tests.advice.ready import ready
from tests.advice.small import PUBLISHED, hypothesis, pack, view
from tests.build import NOW, state


def test_published_figures_without_an_interval_do_not_vary() -> None:
    """Base rates and links published, the leak a judgement: without evidence nothing moves at all."""
    known = pack(hypothesis("a", 0.3, {"f": 0.8}, PUBLISHED), hypothesis("b", 0.2, {"g": 0.8}, PUBLISHED))
    drawn = draw(view(known, {}).beliefs)
    assert drawn is not None
    low, high = drawn.ranges()["a"]
    assert (low, high) == (pytest.approx(0.3), pytest.approx(0.3))


def test_a_judgement_varies_within_half_and_double_its_odds() -> None:
    """.2 is odds 1/4: triangular between odds 1/8 and 1/2, that is .1111 and .3333, peak .2.

    By hand, its 5th hundredth: .1111 + sqrt(.05 * .2222 * .0889) = .1425; its 95th: .3333 - sqrt(.05 * .2222 * .1333)
    = .2948. 200 draws find them within two hundredths.
    """
    known = pack(hypothesis("a", 0.2, {"f": 0.8}), hypothesis("b", 0.2, {"g": 0.8}))
    drawn = draw(view(known, {}).beliefs)
    assert drawn is not None
    low, high = drawn.ranges()["a"]
    assert low == pytest.approx(0.1425, abs=0.02)
    assert high == pytest.approx(0.2948, abs=0.02)
    assert drawn.batch.chance[:, 0].min() >= 0.1111
    assert drawn.batch.chance[:, 0].max() <= 0.3334


def said(known: Knowledge, answers: dict[str, Any]) -> Any:
    """The one line about the one list."""
    found = view(known, answers)
    (line,) = steadiness(known, found.beliefs, found.drawn, side=None)
    return line


def test_a_clear_lead_is_steady() -> None:
    """.5 against .02, both published: the same first in every draw."""
    line = said(pack(hypothesis("a", 0.5, {"f": 0.8}, PUBLISHED), hypothesis("b", 0.02, {"g": 0.5}, PUBLISHED)), {})
    assert (line.lead, line.held, line.words, line.rivals, line.hangs_on) == ("a", 1.0, STEADY, (), "")


def test_equals_cannot_be_told_apart() -> None:
    """.60 and .59, both judgements, independent: each leads in about half; nothing then fits best."""
    known = pack(hypothesis("a", 0.6, {"f": 0.8}), hypothesis("b", 0.59, {"g": 0.8}))
    line = said(known, {})
    assert line.words == APART
    assert 0.35 < line.held < 0.6
    assert line.rivals == ("b",)
    told = {h.id: h.words for h in advise(known, state({}, Context(side="left")), NOW).hypotheses}
    assert told == {"a": "fits", "b": "fits"}


def test_a_lead_that_one_answer_makes() -> None:
    """b leads by base rate; f puts a first. Without f, b leads: the list hangs on f, and on f alone.

    By hand: P(a|f) = .2(.05+.95*.8)/(.05+.95*.2*.8) = .2*.81/.202 = .80, against b at .4.
    """
    known = pack(hypothesis("a", 0.2, {"f": 0.8}, PUBLISHED), hypothesis("b", 0.4, {"g": 0.3}, PUBLISHED))
    line = said(known, {"f": "present"})
    assert line.lead == "a"
    assert (line.words, line.hangs_on) == (HANGS, "f")


def test_another_answer_leaves_the_draws_as_they_are(knowledge: Knowledge) -> None:
    """Each number has its own stream: base rates are drawn the same with and without an answer more."""
    context = Context(side="left", age=30, setting="after_sprain")
    few = side_views(knowledge, state({"front_pinch": ("present", "left")}, context), NOW)[1][0].drawn
    more = side_views(
        knowledge, state({"front_pinch": ("present", "left"), "back_glide_less": ("absent", "left")}, context), NOW
    )[1][0].drawn
    assert few is not None
    assert more is not None
    assert few.vary.prior is not None
    assert more.vary.prior is not None
    assert np.array_equal(few.vary.prior, more.vary.prior)
    both = set(few.vary.reach) & set(more.vary.reach)
    assert both
    assert all(np.array_equal(few.vary.reach[n], more.vary.reach[n]) for n in both)


def test_nothing_is_claimed_where_drawing_costs_too_much() -> None:
    """Too many live bits, or findings taken approximately: no ranges, and the page says so."""
    names = tuple(f"f{i}" for i in range(6))
    known = pack(*(hypothesis(i, 0.3, dict.fromkeys(names, 0.5)) for i in "abc"), findings=names)
    case = state(dict.fromkeys(names, "present"), Context(side="left"))
    found = view(known, dict.fromkeys(names, "present")).beliefs
    heavy: Beliefs = replace(found, posterior=replace(found.posterior, peak_bits=12.0))
    assert draw(heavy) is None
    assert draw(replace(found, posterior=replace(found.posterior, frozen=("f0",)))) is None
    assert steadiness(known, heavy, None, side=None) == ()
    advice = advise(known, case, NOW)
    assert "steadiness not worked out here" not in str(lists(advice, known))
    assert "steadiness not worked out here" in str(lists(replace(advice, steadiness=(), drawn=False), known))


def test_the_shipped_pack(knowledge: Knowledge) -> None:
    """Ranges in order and around the draws; values within theirs or near; JSON carries all of it."""
    context = Context(side="left", age=30, setting="after_sprain")
    answers = {
        "front_pinch": ("present", "left"), "back_glide_less": ("present", "left"), "end_feel_bony": ("absent", "left"),
    }  # fmt: skip
    advice = advise(knowledge, state(answers, context), NOW)
    assert advice.drawn
    for h in advice.hypotheses:
        assert h.range is not None
        assert 0 <= h.range[0] <= h.range[1] <= 1
    assert all(o.range is None for o in advice.options)  # nothing is open before the stop-now questions are answered
    shown = as_json(advice)
    assert {s["list"] for s in shown["steadiness"]} == {"limits", "injured_or_ill", "pain_mechanism", "feeds_it"}
    assert all(h["range"] is not None for h in shown["hypotheses"])
    again = advise(knowledge, state(answers, context), NOW)
    assert [h.range for h in again.hypotheses] == [h.range for h in advice.hypotheses]


def test_overlapping_intervals_are_no_clear_difference(knowledge: Knowledge) -> None:
    """By interval, not by how close the values are; without intervals, by closeness."""
    options = [o for o in advise(knowledge, state({}), NOW).options if o.value is not None][:3]
    one, two, three = options
    set_ = [
        replace(one, value=0.5, range=(0.3, 0.6)), replace(two, value=0.35, range=(0.1, 0.4)),
        replace(three, value=0.2, range=(0.1, 0.25)),
    ]  # fmt: skip
    assert [o.id for o in no_difference(set_)] == [one.id, two.id]
    assert no_difference([replace(o, range=None) for o in set_]) == []
    assert COUNT == 200


def test_ranges_of_values_take_the_binding_of_targets_as_it_stands(knowledge: Knowledge) -> None:
    """Silence of every option with several targets in 200 draws, held, against the same with the response added.

    The value of an option moves by less than its silence does.
    """
    case = ready(knowledge, {"early_heel_lift": "present", "front_pinch": "present", "swelling": "present"})
    one = side_views(knowledge, case, NOW)[1][0]
    believed, drawn = one.beliefs, one.drawn
    assert drawn is not None
    network, evidence = believed.network, believed.evidence
    before, worst, seen = drawn.batch.log_evidence, 0.0, 0
    for option in knowledge.options.values():
        figures = figures_of(option, one.facts)
        if figures is None or len(option.acts_on) < 2 or figures.target_c < 0.05:
            continue
        places = places_of(option, figures, network, False)
        now = 1 - response_chances(network, evidence, links_of(option, figures, network)[None], np.zeros(1))[0]
        held = silent_held(
            now, silent_apart(places, believed.posterior.chance), silent_apart(places, drawn.batch.chance)
        )
        more = network.with_link("r", {network.causes[p]: c for p, c in places.items()}, 0.0)
        after = posteriors(more, evidence.plus(response_reading("r", "r", (0.0, 1.0))), drawn.vary).log_evidence
        exact = np.exp(after - before)
        ends = np.abs(np.quantile(held, (0.05, 0.95)) - np.quantile(exact, (0.05, 0.95)))
        worst, seen = max(worst, float(ends.max())), seen + 1
    assert seen >= 10
    assert 0 < worst < 0.01
