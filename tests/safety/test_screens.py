"""Screen states: the table of use_when, valid_when and rule; resolving and re-arming; nothing reassures by silence."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from reasoner.case.state import Answer, Context, Resolution, Visit
from reasoner.facts.facts import Facts
from reasoner.safety.screens import Screening, danger_standing
from tests.build import NOW, finding, knowledge, screen, state

KNOWN = knowledge(
    [finding(n, danger=True) for n in "uvb"],
    [screen("s", use_when="u", valid_when="v", rule="b", resolve_days=2)],
)
WORDS = {"T": "present", "F": "absent", "?": "unknown"}


def result(answers: Any, when: Any = NOW, **fields: Any) -> Any:
    """The screen `s` on these answers."""
    return Screening(Facts(KNOWN, state(answers, Context(side="left"), **fields), when)).result("s")


# U V B -> state, by hand from the definition
TABLE = {
    "TTT": "met", "TTF": "not_met", "TT?": "open", "T?T": "met", "T?F": "open", "T??": "open",
    "?TT": "met", "?TF": "open", "?T?": "open", "??T": "met", "??F": "open", "???": "open",
    "FTT": "does_not_apply", "FTF": "does_not_apply", "F?T": "does_not_apply", "F??": "does_not_apply",
    "TFT": "does_not_apply", "TFF": "does_not_apply", "?FT": "does_not_apply", "?FF": "does_not_apply",
}  # fmt: skip


@pytest.mark.parametrize(("given", "expected"), TABLE.items())
def test_state_table(given: str, expected: str) -> None:
    """Every combination that the definition decides."""
    answers = {name: WORDS[value] for name, value in zip("uvb", given, strict=True)}
    assert result(answers).state == expected


def test_not_asked_is_open_not_reassuring() -> None:
    """No answer at all leaves it open; it asks for its entry fact first."""
    empty = result({})
    assert (empty.state, empty.missing) == ("open", ("u",))


def _resolution(covers: tuple[str, ...]) -> Resolution:
    return Resolution("s", "film", "no fracture seen", "radiographer", "hidden fracture", covers, NOW, 1, 9)


def test_resolution_holds_for_the_answers_it_covered_and_for_its_days() -> None:
    """Resolved while the same danger stands and the days have not run out."""
    answers = {"u": "present", "v": "present", "b": "present"}
    covers = ("b@none",)
    assert not result(answers, resolutions=(_resolution(covers),)).closing
    late = Facts(KNOWN, state(answers, resolutions=(_resolution(covers),)), NOW + timedelta(hours=11))
    assert not Screening(late).result("s").closing
    then = NOW + timedelta(days=3)
    asked_again = tuple(replace(a, visit=2, at=then) for a in late.state.answers)
    again = replace(late.state, visits=(Visit(1, NOW), Visit(2, then)), answers=asked_again)
    assert Screening(Facts(KNOWN, again, then)).result("s").closing


def test_new_sign_re_arms() -> None:
    """A resolution covers what stood when it was made, nothing new."""
    known = knowledge([finding(n, danger=True) for n in "ab"], [screen("s", rule={"any": ["a", "b"]})])
    before = state({"a": "present"})
    covers = tuple(danger_standing(Facts(known, before, NOW), ("a",)))
    resolved = replace(before, resolutions=(_resolution(covers),))
    assert not Screening(Facts(known, resolved, NOW)).result("s").closing
    worse = replace(resolved, answers=(*resolved.answers, Answer("b", "none", "present", None, NOW, seq=10)))
    assert Screening(Facts(known, worse, NOW)).result("s").closing


def test_answers_of_the_last_visit_no_longer_count() -> None:
    """A visit-scoped "no" expires with the visit, and after twelve hours within one."""
    answers = {"u": "present", "v": "present", "b": "absent"}
    assert result(answers).state == "not_met"
    assert result(answers, when=NOW + timedelta(hours=13)).state == "open"
    second = replace(state(answers), visits=(Visit(1, NOW), Visit(2, NOW)))
    assert Screening(Facts(KNOWN, second, NOW)).result("s").state == "open"


def test_a_sign_on_the_other_side_counts() -> None:
    """Screens read both sides; a case about the left is stopped by danger on the right."""
    known = knowledge([finding("a", sided=True, danger=True)], [screen("s", rule="a")])
    left = Context(side="left")
    assert Screening(Facts(known, state({"a": ("absent", "left")}, left), NOW)).result("s").state == "not_met"
    assert Screening(Facts(known, state({"a": ("present", "right")}, left), NOW)).result("s").state == "met"
    both = Context(side="both")
    assert Screening(Facts(known, state({"a": ("absent", "left")}, both), NOW)).result("s").state == "open"
