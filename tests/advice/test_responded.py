"""A first response as evidence: by hand with densities from scipy, and what must never be multiplied in."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import sqrt
from typing import Any

import pytest
from scipy.stats import norm

from reasoner.advice.responded import gain_of
from reasoner.advice.side import side_views
from reasoner.case.state import CaseState, Context, Loop, Measurement
from reasoner.facts.facts import Facts
from reasoner.facts.responded import change_over, first_loops
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Effect, ErrorFigure, Figure, Measure, OptionRecord, Spread, Tool
from tests.advice.small import PUBLISHED, hypothesis
from tests.build import NOW, finding, knowledge, state

REACH = Measure(
    id="reach", name="reach", unit="cm", possible=(-10, 20), better="higher", trials=1,
    tools=(Tool(id="tape", name="tape"), Tool(id="fingers", name="fingers")),
    errors=(ErrorFigure(tool="tape", interval="within_visit", sem=0.5, basis="practice"),),
    drift=Spread(mean=0.2, sd=0.3, basis="practice"), worthwhile=Figure(value=0.8, basis="practice"),
)  # fmt: skip
TRIAL = Effect(sign="reach", gain=1.0, sd=1.0, sham=0.3, sham_sd=0.4, certainty="moderate", basis="practice")
WORDS = Effect(sign="reach", p1="often", p0="sometimes", certainty="low", basis="practice")
TAU = sqrt(0.5)  # sqrt(1 - 2 * .25)
LIMIT = 0.2 + 1.645 * 0.3


def option(ident: str, targets: tuple[str, ...], effect: Effect = TRIAL) -> OptionRecord:
    """One that may be tried."""
    return OptionRecord(id=ident, name=ident, lane="try_now", acts_on=targets, effects=(effect,))


def pack(*options: OptionRecord) -> Knowledge:
    """Targets a (.4) and b (.3), one finding, one measure."""
    rates = (hypothesis("a", 0.4, {"f": 0.5}, PUBLISHED), hypothesis("b", 0.3, {"f": 0.5}, PUBLISHED))
    return knowledge(findings=[finding("f")], hypotheses=rates, measures=[REACH], options=options)


def loop(number: int, given: str, verdict: str | None = "beyond", **fields: Any) -> Loop:
    """A completed loop on the left, in the first visit."""
    whole: dict[str, Any] = {"retested": verdict is not None, "seq": 10 * number, **fields}
    return Loop(number, given, "", "left", 1, 1, NOW, verdict=verdict, **whole)


def measured(*pairs: tuple[int, float, float], tool: str = "tape") -> tuple[Measurement, ...]:
    """For each loop number: its value before and after."""
    made = []
    for number, before, after in pairs:
        made.append(Measurement("reach", "left", tool, (before,), at=NOW, seq=10 * number - 1))
        made.append(
            Measurement("reach", "left", tool, (after,), phase="retest", at=NOW, seq=10 * number + 1, loop=number)
        )
    return tuple(made)


def case(loops: tuple[Loop, ...], taken: tuple[Measurement, ...]) -> CaseState:
    """Left side."""
    return replace(state({}, Context(side="left")), loops=loops, measurements=taken)


def chances(known: Knowledge, at: CaseState) -> dict[str, float]:
    """P(a), P(b) after what was recorded."""
    believed = side_views(known, at, NOW)[1][0].beliefs
    return {h: believed.chance(h) for h in ("a", "b")}


def by_hand(pairs: list[tuple[str, float, float]]) -> dict[str, float]:
    """Enumeration over a, b and contact: each pair is (target, weight of a response, weight of none)."""
    p1, p0 = norm.sf(LIMIT, 1.0, TAU), max(norm.sf(LIMIT, 0.3, 0.4), 0.06)
    contact = min(0.95, (p0 - 0.05) / (0.95 * 0.25))
    target = 1 - (1 - p1) / (1 - p0)
    total, found = 0.0, {"a": 0.0, "b": 0.0}
    for on_a, on_b, on_contact in product((0, 1), repeat=3):
        mass = (0.4 if on_a else 0.6) * (0.3 if on_b else 0.7) * (0.25 if on_contact else 0.75)
        for aim, l1, l0 in pairs:
            there = {"a": on_a, "b": on_b}[aim]
            silent = 0.95 * (1 - contact * on_contact) * (1 - target * there)
            mass *= l1 * (1 - silent) + l0 * silent
        total += mass
        found["a"] += mass * on_a
        found["b"] += mass * on_b
    return {h: mass / total for h, mass in found.items()}


def densities(change: float) -> tuple[float, float]:
    """N(d; 1, tau^2 + 2 * .25) and N(d; .2, .09 + 2 * .25), between the vertices."""
    return norm.pdf(change, 1.0, sqrt(TAU**2 + 0.5)), norm.pdf(change, 0.2, sqrt(0.09 + 0.5))


@pytest.mark.parametrize("change", [0.0, 0.6, 1.5, 3.0])
def test_one_response_by_hand(change: float) -> None:
    """The target moves by the two densities; the other hypothesis is not touched."""
    found = chances(pack(option("one", ("a",))), case((loop(1, "one"),), measured((1, 4.0, 4.0 + change))))
    assert found == pytest.approx(by_hand([("a", *densities(change))]), abs=1e-9)
    assert found["b"] == pytest.approx(0.3)


def test_a_response_raises_and_none_lowers() -> None:
    """3 cm more against none at all, around .4."""
    known = pack(option("one", ("a",)))
    up, none = (chances(known, case((loop(1, "one"),), measured((1, 4.0, 4.0 + d))))["a"] for d in (3.0, 0.0))
    assert none < 0.4 < up


def test_worse_is_an_absent_response_whatever_the_numbers() -> None:
    """Even where the range grew: pain or a new symptom made it worse."""
    found = chances(pack(option("one", ("a",))), case((loop(1, "one", "worse"),), measured((1, 4.0, 7.0))))
    assert found == pytest.approx(by_hand([("a", 0.0, 1.0)]), abs=1e-9)


def test_a_second_loop_on_the_same_targets_is_not_multiplied_in() -> None:
    """Neither the same technique again nor another one for the same targets."""
    known = pack(option("one", ("a",)), option("other", ("a",)))
    once = case((loop(1, "one"),), measured((1, 4.0, 6.0)))
    again = case((loop(1, "one"), loop(2, "one"), loop(3, "other")), measured((1, 4.0, 6.0), (2, 6, 8), (3, 8, 9)))
    assert chances(known, again) == pytest.approx(chances(known, once), abs=1e-12)


def test_two_targets_compete_with_contact() -> None:
    """Both respond: contact explains part of both, so each says less than alone; by enumeration."""
    known = pack(option("one", ("a",)), option("two", ("b",)))
    both = chances(known, case((loop(1, "one"), loop(2, "two")), measured((1, 4.0, 6.0), (2, 6.0, 8.0))))
    alone = chances(known, case((loop(1, "one"),), measured((1, 4.0, 6.0))))
    assert both == pytest.approx(by_hand([("a", *densities(2.0)), ("b", *densities(2.0))]), abs=1e-9)
    assert both["a"] < alone["a"]


def test_what_enters_and_what_does_not() -> None:
    """Only completed loops of this assessment and side, on something, with the same tool before and after."""
    known = pack(option("one", ("a",)), option("on_nothing", ()))
    numbers = measured((1, 4.0, 6.0))
    for loops, taken in (
        ((loop(1, "one", None),), numbers),
        ((loop(1, "one", "no_comparison"),), numbers),
        ((loop(1, "on_nothing"),), numbers),
        ((replace(loop(1, "one"), assessment=2),), numbers),
        ((replace(loop(1, "one"), side="right"),), numbers),
        ((loop(1, "one"),), numbers[:1]),
        ((loop(1, "one"),), (numbers[0], replace(numbers[1], tool="fingers"))),
    ):
        assert chances(known, case(loops, taken)) == pytest.approx({"a": 0.4, "b": 0.3}), (loops, taken)


def test_a_new_assessment_takes_nothing_over_and_begins_with_its_own_first() -> None:
    """What was answered before it is past; the first technique after it counts as the first one did."""
    known, numbers = pack(option("one", ("a",))), measured((1, 4.0, 6.0), (2, 6.0, 6.0))
    past = replace(case((loop(1, "one"),), numbers[:2]), assessment=2)
    assert chances(known, past) == pytest.approx({"a": 0.4, "b": 0.3})
    later, own = replace(loop(2, "one"), assessment=2), tuple(replace(m, assessment=2) for m in numbers[2:])
    both = replace(case((loop(1, "one"), later), (*numbers[:2], *own)), assessment=2)
    assert chances(known, both) == pytest.approx(by_hand([("a", *densities(0.0))]), abs=1e-9)


def test_the_first_completed_loop_counts_not_the_first_begun() -> None:
    """One left without a retest does not use up the place."""
    known = pack(option("one", ("a",)))
    at = case((loop(1, "one", None, excused="no time"), loop(2, "one")), measured((2, 4.0, 6.0)))
    facts = Facts(known, at, NOW, "left")
    assert [p.number for p in first_loops(facts)] == [2]
    changed = change_over(facts, at.loops[1], "reach")
    assert changed is not None
    assert (changed.change, changed.sem) == (pytest.approx(2.0), pytest.approx(0.5))


def test_words_alone_take_the_smallest_worthwhile_change() -> None:
    """.8 is above .2 + 1.645 * .3 = .6935, so the gain is .8 with .4 as its spread; without it, the limit itself."""
    known = pack(option("one", ("a",), WORDS))
    facts = Facts(known, case((), ()), NOW, "left")
    assert gain_of(WORDS, REACH, facts) == (pytest.approx(0.8), pytest.approx(0.4))
    bare = replace(REACH, worthwhile=None)
    assert gain_of(WORDS, bare, facts) == (pytest.approx(LIMIT), pytest.approx(LIMIT / 2))
    assert gain_of(WORDS, replace(REACH, drift=None), facts) is None


def test_the_shipped_pack_takes_a_response(knowledge: Knowledge) -> None:
    """A big gain after a technique raises what it acts on; it shows among the answers for it."""
    given = next(
        o for o in knowledge.options.values()
        if o.lane == "try_now" and "talus_back_glide" in o.acts_on and any(e.sign == "knee_to_wall" for e in o.effects)
    )  # fmt: skip
    taken = (
        Measurement("knee_to_wall", "left", "tape", (4.0, 4.0, 4.0), at=NOW, seq=9),
        Measurement("knee_to_wall", "left", "tape", (7.0, 7.0, 7.0), phase="retest", at=NOW, seq=11, loop=1),
    )
    plain = state({}, Context(side="left", setting="after_sprain"))
    before = side_views(knowledge, replace(plain, measurements=taken[:1]), NOW)[1][0].beliefs
    treated = replace(plain, measurements=taken, loops=(loop(1, given.id),))
    after = side_views(knowledge, treated, NOW)[1][0].beliefs
    assert after.chance("talus_back_glide") > before.chance("talus_back_glide")
    assert after.evidence.readings[-1].name == f"response to {given.name}"
    assert not after.posterior.approximate
