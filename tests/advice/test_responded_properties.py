"""What must hold of responses as evidence, whatever the figures: more change never speaks against, order is nothing."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reasoner.advice.responded import response_name, with_responses
from reasoner.advice.side import side_views
from reasoner.case.state import CaseState, Context
from reasoner.facts.facts import Facts
from reasoner.graph.records import Effect
from reasoner.inference.evidence import Evidence
from reasoner.inference.responses import response_pair
from tests.advice.test_responded import case, chances, loop, measured, option, pack
from tests.build import NOW, state
from tests.strategies import CALM

changes = st.floats(-3.0, 6.0, allow_nan=False)
effects = st.builds(
    Effect, sign=st.just("reach"), gain=st.floats(0.3, 3.0), sd=st.floats(0.3, 2.0), sham=st.floats(0.0, 0.8),
    sham_sd=st.floats(0.1, 1.0), certainty=st.just("moderate"), basis=st.just("practice"),
)  # fmt: skip


def _treated(change: float, answer: str | None) -> CaseState:
    """Beforehand f as answered; then one loop of "one" with this change."""
    told = state({"f": answer} if answer else {}, Context(side="left"))
    done = case((loop(1, "one"),), measured((1, 4.0, 4.0 + change)))
    return replace(done, answers=told.answers)


@given(effects, changes, changes, st.sampled_from(["present", "absent", None]))
@CALM
def test_more_change_never_lowers_the_target(effect: Effect, one: float, other: float, f: str | None) -> None:
    """Of two changes the larger leaves the target at least as likely, also among other answers and causes."""
    known = pack(option("one", ("a",), effect))
    less, more = sorted((one, other))
    assert chances(known, _treated(less, f))["a"] <= chances(known, _treated(more, f))["a"] + 1e-12


@given(effects, changes, st.sampled_from(["present", "absent", None]))
@CALM
def test_a_change_that_a_response_explains_better_never_lowers_the_target(
    effect: Effect, change: float, f: str | None
) -> None:
    """Where the density with a response is at least that of drift alone the target does not fall; else not rise."""
    known = pack(option("one", ("a",), effect))
    facts = Facts(known, _treated(change, f), NOW, "left")
    compiled = side_views(known, facts.state, NOW)[1][0].beliefs.compiled
    network, evidence = with_responses(facts, compiled.network, Evidence())
    assume(response_name("one") in network.node_index)
    silent, responded = evidence.weights[response_name("one")]
    told = state({"f": f} if f else {}, Context(side="left"))
    before, after = chances(known, told)["a"], chances(known, facts.state)["a"]
    assert after >= before - 1e-12 if responded >= silent else after <= before + 1e-12


@given(st.lists(changes, min_size=2, max_size=3))
@CALM
def test_order_of_the_loops_is_nothing(found: list[float]) -> None:
    """Loops on different targets in any order: the same chances (a, b, and both together)."""
    known = pack(option("one", ("a",)), option("two", ("b",)), option("both", ("a", "b")))
    done = list(zip(("one", "two", "both"), found, strict=False))
    results = []
    for order in permutations(done):
        loops = tuple(loop(k, name) for k, (name, _) in enumerate(order, 1))
        numbers = measured(*((k, 4.0, 4.0 + d) for k, (_, d) in enumerate(order, 1)))
        results.append(chances(known, case(loops, numbers)))
    for other in results[1:]:
        assert other == pytest.approx(results[0], abs=1e-12)


@given(changes, st.sampled_from([None, "no_comparison"]))
@CALM
def test_no_response_is_no_change(change: float, verdict: str | None) -> None:
    """A loop that was not retested, or where nothing can be compared, leaves everything as it was."""
    known = pack(option("one", ("a",)))
    at = case((loop(1, "one", verdict),), measured((1, 4.0, 4.0 + change)))
    assert chances(known, at) == chances(known, case((), ()))


@given(changes, st.floats(0.1, 3), st.floats(0.1, 2), st.floats(-0.5, 0.5), st.floats(0.1, 1), st.floats(0.05, 1))
@CALM
def test_a_pair_is_two_densities_of_which_the_larger_is_one(
    change: float, gain: float, gain_sd: float, drift: float, drift_sd: float, sem: float
) -> None:
    """Finite, not negative, and never both small."""
    pair = response_pair(change, gain=gain, gain_sd=gain_sd, drift=drift, drift_sd=drift_sd, sem=sem)
    assert max(pair) == 1.0
    assert min(pair) >= 0.0
