"""Rules are three-valued: never definite and wrong, whatever is left unanswered."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reasoner.case.state import Anchor, Context, Immobilised, Surgery
from reasoner.facts.facts import Facts
from reasoner.facts.verdict import FALSE, TRUE, UNKNOWN
from reasoner.safety.rules import evaluate, score_interval
from reasoner.safety.screens import Screening
from tests.build import NOW, finding, knowledge, screen, state

NAMES = ["a", "b", "c", "d"]
KNOWLEDGE = knowledge([finding(n) for n in NAMES])


def outcome(rule: Any, answers: Any = None, context: Context | None = None) -> Any:
    """Outcome of a rule on a state made of `answers`."""
    return evaluate(rule, Screening(Facts(KNOWLEDGE, state(answers, context), NOW)).rules)


atoms = st.sampled_from(NAMES)
rules = st.recursive(
    atoms,
    lambda inner: st.one_of(
        st.builds(lambda r: {"all": r}, st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda r: {"any": r}, st.lists(inner, min_size=1, max_size=3)),
        st.builds(lambda r: {"not": r}, inner),
        st.builds(lambda n, r: {"at_least": n, "of": r}, st.integers(0, 3), st.lists(inner, min_size=1, max_size=3)),
        st.builds(
            lambda n, items: {"score": {"at_least": n, "items": [{"points": p, "when": r} for p, r in items]}},
            st.integers(-2, 4),
            st.lists(st.tuples(st.integers(-2, 3), inner), min_size=1, max_size=3),
        ),
    ),
    max_leaves=6,
)


def truth(rule: Any, world: dict[str, bool]) -> bool:
    """Two-valued meaning, written apart from the code under test."""
    if isinstance(rule, str):
        return world[rule]
    if "all" in rule:
        return all(truth(r, world) for r in rule["all"])
    if "any" in rule:
        return any(truth(r, world) for r in rule["any"])
    if "not" in rule:
        return not truth(rule["not"], world)
    if "score" in rule:
        points = sum(i["points"] for i in rule["score"]["items"] if truth(i["when"], world))
        return bool(points >= rule["score"]["at_least"])
    return sum(truth(r, world) for r in rule["of"]) >= rule["at_least"]


@settings(max_examples=300, deadline=None)
@given(rules, st.dictionaries(atoms, st.sampled_from(["present", "absent", "unknown", 0.7])))
def test_never_definite_and_wrong(rule: Any, answers: dict[str, Any]) -> None:
    """A definite verdict holds in every completion of the open answers."""
    verdict = outcome(rule, answers).verdict
    fixed = {n: v == "present" for n, v in answers.items() if v in ("present", "absent")}
    free = [n for n in NAMES if n not in fixed]
    worlds = [
        truth(rule, {**fixed, **dict(zip(free, values, strict=True))})
        for values in itertools.product([True, False], repeat=len(free))
    ]
    if not verdict.unknown:
        assert all(w is verdict.certainly for w in worlds)


@settings(max_examples=200, deadline=None)
@given(rules, st.fixed_dictionaries({n: st.sampled_from(["present", "absent"]) for n in NAMES}), atoms)
def test_taking_an_answer_away_never_makes_it_more_definite(rule: Any, answers: dict[str, Any], gone: str) -> None:
    """Fewer answers: the verdict stays or becomes unknown."""
    before = outcome(rule, answers).verdict
    after = outcome(rule, {n: v for n, v in answers.items() if n != gone}).verdict
    assert after in (before, UNKNOWN)


def test_every_answer_given_is_decisive() -> None:
    """With all four answered no rule over them is unknown (hand-checked examples)."""
    answers = {"a": "present", "b": "absent", "c": "present", "d": "absent"}
    assert outcome({"all": ["a", "c"]}, answers).verdict == TRUE
    assert outcome({"any": ["b", "d"]}, answers).verdict == FALSE
    assert outcome({"at_least": 2, "of": NAMES}, answers).verdict == TRUE
    assert outcome({"at_least": 3, "of": NAMES}, answers).verdict == FALSE


def test_clot_score_example_is_an_interval() -> None:
    """Two points certain and the -2 item unanswered: [0, 2], so "2 or more" is open (hand calculation: 1+1, -2)."""
    rule = {
        "score": {
            "at_least": 2,
            "items": [{"points": 1, "when": "a"}, {"points": 1, "when": "b"}, {"points": -2, "when": "c"}],
        }
    }
    facts = Facts(KNOWLEDGE, state({"a": "present", "b": "present"}), NOW)
    interval, _ = score_interval(rule["score"], Screening(facts).rules)
    assert interval == (0, 2)
    assert outcome(rule, {"a": "present", "b": "present"}).verdict == UNKNOWN
    assert outcome(rule, {"a": "present", "b": "present", "c": "absent"}).verdict == TRUE


def test_reasons_name_what_met_it_and_what_is_missing() -> None:
    """met_by and missing are what a clinician would be told."""
    met = outcome({"any": ["a", "b"]}, {"b": "present"})
    assert (met.met_by, met.missing) == (("b",), ())
    open_ = outcome({"all": ["a", "b"]}, {"b": "present"})
    assert (open_.verdict, open_.missing) == (UNKNOWN, ("a",))
    which = {"procedure": ["x"]}
    assert outcome(which, context=Context()).missing == ("surgery",)
    assert outcome(which, context=Context(surgery=Surgery())).missing == ("procedure",)


@pytest.mark.parametrize(
    ("rule", "context", "expected"),
    [
        ({"age": {"below": 16}}, Context(age=15), TRUE),
        ({"age": {"below": 16}}, Context(age=16), FALSE),
        ({"age": {"at_least": 16}}, Context(), UNKNOWN),
        ({"days_since": "injury", "below": 10}, Context(days_since={"injury": Anchor(9, NOW)}), TRUE),
        ({"days_since": "injury", "below": 10}, Context(days_since={"injury": Anchor(10, NOW)}), FALSE),
        ({"days_since": "injury", "at_least": 10}, Context(days_since={"injury": Anchor(10, NOW)}), TRUE),
        ({"days_since": "injury", "below": 10}, Context(days_since={"injury": Anchor(None, NOW)}), UNKNOWN),
        ({"days_since": "injury", "below": 10}, Context(days_since={"injury": Anchor(None, NOW, True)}), FALSE),
        ({"days_since": "injury", "below": 10}, Context(), UNKNOWN),
        ({"weeks_since": "surgery", "at_least": 6}, Context(days_since={"surgery": Anchor(41, NOW)}), FALSE),
        ({"weeks_since": "surgery", "at_least": 6}, Context(days_since={"surgery": Anchor(42, NOW)}), TRUE),
        ({"surgery": "any"}, Context(surgery=Surgery(none=True)), FALSE),
        ({"surgery": "any"}, Context(), UNKNOWN),
        ({"procedure": ["x", "y"]}, Context(surgery=Surgery(procedure="y")), TRUE),
        ({"procedure": ["x"]}, Context(surgery=Surgery()), UNKNOWN),
        ({"procedure": ["x"]}, Context(surgery=Surgery(none=True)), FALSE),
        ({"orders": ["not_seen"]}, Context(surgery=Surgery(orders="not_seen")), TRUE),
        ({"setting": ["after_sprain"]}, Context(setting="after_sprain"), TRUE),
        ({"setting": ["after_sprain"]}, Context(setting="not_stated"), UNKNOWN),
        ({"immobilised": {"at_least_weeks": 2}}, Context(immobilised=Immobilised(weeks=3)), TRUE),
        ({"immobilised": {"at_least_weeks": 2}}, Context(immobilised=Immobilised(none=True)), FALSE),
        ({"immobilised": {"at_least_weeks": 2}}, Context(immobilised=Immobilised()), UNKNOWN),
        ({"competence": "thrust"}, Context(), UNKNOWN),
    ],
)
def test_context_atoms(rule: Any, context: Context, expected: Any) -> None:
    """Bounds are whole days and weeks; not known is unknown; "none" is an answer."""
    assert outcome(rule, context=context).verdict == expected


def test_screen_atoms_read_states() -> None:
    """met is true, open is unknown, the rest is false."""
    known = knowledge([finding(n) for n in NAMES], [screen("s", rule="a", use_when="b")])
    for answers, expected in (
        ({"a": "present"}, TRUE),
        ({"b": "present"}, UNKNOWN),
        ({"b": "absent"}, FALSE),
        ({"a": "absent", "b": "present"}, FALSE),
    ):
        rules_ = Screening(Facts(known, state(answers), NOW)).rules
        assert evaluate({"screen": "s"}, rules_).verdict == expected
