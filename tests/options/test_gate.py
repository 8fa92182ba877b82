"""Gates by load class: unknown stays shut, a met screen bars, a window counts whole weeks, nothing opens by silence."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reasoner.case.state import Anchor, CaseState, Context, Surgery
from reasoner.facts.facts import Facts
from reasoner.facts.verdict import TRUE
from reasoner.graph.records import Gate, LoadClass, Protocol, Window
from reasoner.options.gate import Gatekeeper
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening
from tests.build import NOW, finding, knowledge, screen, state


def gate(when: Any, say: str) -> Gate:
    """A bar or caution of common practice."""
    return Gate(when=when, say=say, basis="practice")


KNOWN = knowledge(
    [finding("thin_blood"), finding("old_bone"), finding("hot", danger=True), finding("lump", danger=True)],
    [
        screen("infection", rule="hot", hands="nothing"),
        screen("growth", rule="lump", send="urgent", hands="active_pain_free"),
    ],
    load_classes=[
        LoadClass(id="talk", name="talk", needs_hands="nothing", needs_screening=False),
        LoadClass(
            id="thrust", name="thrust", needs_hands="unrestricted",
            bars=(gate("thin_blood", "thin blood"),), cautions=(gate("old_bone", "thin bone"),),
        ),
        LoadClass(id="stretch", name="stretch", needs_hands="unrestricted"),
    ],
    protocols=[
        Protocol(
            id="repair", name="tendon repair", applies_when={"procedure": ["repair"]},
            windows=(
                Window(load_class="stretch", counted_from="surgery", earlier_weeks=4, later_weeks=12, basis="practice"),
            ),
        )
    ],
)  # fmt: skip
NO_SURGERY = Context(side="left", age=30, surgery=Surgery(none=True))
FINE = {"thin_blood": "absent", "old_bone": "absent", "hot": "absent", "lump": "absent"}


def keeper(made: CaseState, unanswered: tuple[str, ...] = ()) -> Gatekeeper:
    """A gatekeeper for one side."""
    facts = Facts(KNOWN, made, NOW)
    screening = Screening(facts)
    covered = evaluate(KNOWN.region.covers, screening.rules).verdict
    return Gatekeeper(screening, facts, covered, unanswered)


def judged(classes: Any, answers: Any, context: Context = NO_SURGERY, unanswered: tuple[str, ...] = ()) -> Any:
    """State of an act with these load classes."""
    return keeper(state(answers, context), unanswered).judge(classes)


def test_open_when_everything_is_answered_no() -> None:
    """All bars, cautions and screens answered no."""
    assert judged(["thrust"], FINE).state == "offered"


@pytest.mark.parametrize(
    ("change", "expected", "missing"),
    [
        ({"thin_blood": "present"}, "barred", ()),
        ({"thin_blood": "unknown"}, "not_yet", ("thin_blood",)),
        ({"old_bone": "present"}, "caution", ()),
        ({"old_bone": "unknown"}, "caution", ("old_bone",)),
        ({"hot": "present"}, "barred", ()),
        ({"hot": "unknown"}, "not_yet", ("hot",)),
        ({"lump": "present"}, "caution", ()),
        ({"lump": "unknown"}, "caution", ()),
        ({"thin_blood": 0.9}, "not_yet", ("thin_blood",)),
    ],
)
def test_one_answer_changed(change: Any, expected: str, missing: tuple[str, ...]) -> None:
    """Present bars, unknown waits and names what is missing; a sureness is unknown to a rule."""
    found = judged(["thrust"], {**FINE, **change})
    assert (found.state, found.missing) == (expected, missing)


# what each load class needs x what the screen leaves: D stays open, . does not
LEFT = ("nothing", "protect_only", "active_pain_free", "unrestricted")
NEEDS = {"nothing": "DDDD", "protect_only": ".DDD", "active_pain_free": "..DD", "unrestricted": "...D"}


@pytest.mark.parametrize("needs", NEEDS)
def test_a_screen_leaves_what_it_says_and_no_more(needs: Any) -> None:
    """Every pair, written out: nothing < protection < active and pain-free < unrestricted."""
    act = LoadClass(id="act", name="act", needs_hands=needs)
    for left, open_ in zip(LEFT, NEEDS[needs], strict=True):
        known = knowledge([finding("hot", danger=True)], [screen("s", rule="hot", hands=left)], load_classes=[act])
        for answer, shut in (("present", "barred"), ("unknown", "not_yet"), ("absent", "offered")):
            facts = Facts(known, state({"hot": answer}, NO_SURGERY), NOW)
            screening = Screening(facts)
            covered = evaluate(known.region.covers, screening.rules).verdict
            found = Gatekeeper(screening, facts, covered, ()).judge(["act"])
            assert found.state == ("offered" if open_ == "D" else shut), (needs, left, answer)


def test_always_ask_comes_first() -> None:
    """While an always-ask fact is missing nothing with tissue load opens; talking is not held back."""
    assert judged(["thrust"], FINE, unanswered=("hot",)).state == "not_yet"
    assert judged(["talk"], {}, unanswered=("hot",)).state == "offered"


@pytest.mark.parametrize(("days", "expected"), [(83, "not_yet"), (84, "offered"), (35, "not_yet")])
def test_the_later_published_limit_holds(days: int, expected: str) -> None:
    """Twelve whole weeks are 84 days (hand calculation); week 5 and day 83 are before it."""
    since = {"surgery": Anchor(days, NOW)}
    context = Context(side="left", age=30, surgery=Surgery(procedure="repair"), days_since=since)
    assert judged(["stretch"], FINE, context).state == expected


@pytest.mark.parametrize(
    "context",
    [
        Context(side="left", age=30),
        Context(side="left", age=30, surgery=Surgery(), days_since={"surgery": Anchor(30, NOW)}),
        Context(side="left", age=30, surgery=Surgery(procedure="repair")),
        Context(side="left", age=30, surgery=Surgery(procedure="repair"), days_since={"surgery": Anchor(None, NOW)}),
    ],
)
def test_unknown_operation_or_time_keeps_the_window_shut(context: Context) -> None:
    """Not asked, kind unknown, time not asked, time not known: not yet, naming what is missing."""
    found = judged(["stretch"], FINE, context)
    assert found.state == "not_yet"
    assert found.missing


def test_long_past_any_window_the_kind_of_operation_no_longer_matters() -> None:
    """Twenty weeks after an unknown operation every window of this pack has passed."""
    context = Context(side="left", age=30, surgery=Surgery(), days_since={"surgery": Anchor(140, NOW)})
    assert judged(["stretch"], FINE, context).state == "offered"


def test_outside_the_pack_only_protection_and_referral() -> None:
    """A child: barred for techniques; age not known: not yet."""
    made = keeper(state(FINE, Context(side="left", age=9, surgery=Surgery(none=True))))
    assert made.judge(["thrust"], covered_only=True).state == "barred"
    unknown = keeper(state(FINE, Context(side="left", surgery=Surgery(none=True))))
    assert unknown.judge(["thrust"], covered_only=True).state == "not_yet"
    assert keeper(state(FINE, NO_SURGERY)).covered == TRUE


answers = st.fixed_dictionaries({n: st.sampled_from(["present", "absent", "unknown", 0.6]) for n in FINE})


@settings(max_examples=200, deadline=None)
@given(answers, st.sampled_from(sorted(FINE)))
def test_taking_an_answer_away_never_opens(given_answers: dict[str, Any], gone: str) -> None:
    """Fewer answers never turn not_yet or barred into caution or offered, nor a caution into offered."""
    before = judged(["thrust", "stretch"], given_answers).state
    after = judged(["thrust", "stretch"], {n: v for n, v in given_answers.items() if n != gone}).state
    if before in ("not_yet", "barred"):
        assert after in ("not_yet", "barred")
    if before == "caution":
        assert after != "offered"
