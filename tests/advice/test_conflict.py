"""Answers that fit no combination well are said on the page, and only those."""

from __future__ import annotations

from typing import Any

from reasoner.advice.advise import advise
from reasoner.case.state import Context
from reasoner.views.advice_json import as_json
from reasoner.views.beliefs import lists
from reasoner.views.page import Para
from tests.advice.small import hypothesis, pack
from tests.build import NOW, state

FINDINGS = tuple("abcdefgh")
KNOWN = pack(
    hypothesis("one", 0.3, dict.fromkeys(FINDINGS, "almost_always")), hypothesis("two", 0.2, {"a": "sometimes"}),
    findings=FINDINGS,
)  # fmt: skip


def _advice(answers: dict[str, Any]) -> Any:
    return advise(KNOWN, state(answers, Context(side="left")), NOW)


def test_all_there_or_none_fits() -> None:
    assert _advice(dict.fromkeys(FINDINGS, "present")).conflicts == ()
    assert _advice(dict.fromkeys(FINDINGS, "absent")).conflicts == ()


def test_half_there_fits_nothing_and_the_page_says_so() -> None:
    advice = _advice({f: "present" if f < "e" else "absent" for f in FINDINGS})
    (found,) = advice.conflicts
    assert found.z > 2.6
    assert found.answer in FINDINGS
    said = [b.text for b in lists(advice, KNOWN) if isinstance(b, Para) and "fit no combination" in b.text]
    assert len(said) == 1
    assert "Ask or test that again" in said[0]
    assert as_json(advice)["conflicts"][0]["answer"] == found.value


def test_the_one_that_goes_least_with_the_rest_is_named() -> None:
    """Seven of eight there: the eighth, and its no is said as a no."""
    advice = _advice({f: "absent" if f in "gh" else "present" for f in FINDINGS})
    assert [c.value for c in advice.conflicts] in (["g=absent"], ["h=absent"])


def test_few_answers_are_not_judged() -> None:
    assert _advice({"a": "present", "b": "absent", "c": "present", "d": "absent"}).conflicts == ()
