"""Explanations: numbers by hand in two-cause networks, and what must hold in the shipped pack."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from reasoner.advice.explanation import Explanation
from reasoner.advice.why import asked_not, explainable, why
from reasoner.case.state import Context
from reasoner.graph.knowledge import Knowledge
from reasoner.inference.explain import steps
from tests.advice.ready import ready
from tests.advice.small import PUBLISHED, hypothesis, pack, view
from tests.build import NOW, state


def told(known: Knowledge, name: str, answers: dict[str, Any], setting: str | None = None) -> Explanation:
    """The one explanation of a one-sided case."""
    (found,) = why(known, state(answers, Context(side="left", setting=setting)), NOW, name)
    return found


def rows(found: Explanation, title: str) -> tuple[tuple[str, ...], ...]:
    """Rows of the section whose title begins so."""
    return next((s.rows for s in found.sections if s.title.startswith(title)), ())


TWO = pack(hypothesis("a", 0.3, {"f": 0.8}), hypothesis("b", 0.2, {"f": 0.5, "g": 0.9}))


def test_the_joint_table_by_hand() -> None:
    """f present, leak .05. P(f | neither, a, b, both) = .05, .81, .525, .905; times .56, .24, .14, .06.

    That is .028, .1944, .0735, .0543, of .3502: .0800, .5551, .2099, .1551.
    """
    found = rows(told(TWO, "a", {"f": "present"}), "the six most likely")
    assert found == (("a", ".56"), ("b", ".21"), ("a and b", ".16"), ("none of the six", ".08"))


def test_the_soonest_figure_by_hand() -> None:
    """P(a, f) against P(b, f): .1944 + .0543 against .0735 + .0543; only what is not shared counts: .1944 and .0735.

    The lead flips when pi_a(1-pi_b) P(f|a) = (1-pi_a) pi_b P(f|b). By base rate of a: x*.8*.81 = (1-x)*.2*.525, odds
    .162, x = .1395; but it may only fall to .1765 (odds halved). By base rate of b: .3*.81/(.7*.525) = odds .661,
    x = .398; it may only rise to .3333. So a leads whatever one figure does, as long as the links stay above: link of
    a down to c with .3*.8*(.05+.95c) = .0735: c = .27 is far below .6667. No single figure turns it.
    """
    found = rows(told(TWO, "a", {"f": "present"}), "the single figure")
    assert found == (("no single base rate, link or leak inside its interval does",),)


def test_a_figure_that_does_turn_it() -> None:
    """Nothing observed: .30 against .25, odds halved and doubled. b up to .30 is the soonest.

    b runs to odds .6667, that is .40: a third of the way. a runs down to odds .2143, that is .1765: at .25, .4048.
    """
    known = pack(hypothesis("a", 0.3, {"f": 0.8}), hypothesis("b", 0.25, {"g": 0.9}))
    first, second = rows(told(known, "a", {}), "the single figure")
    assert first[0] == "base rate of b"
    assert first[1] == ".25 here, may be .14 to .40; from .30 on b comes first"
    assert second[0] == "base rate of a"
    assert second[1] == ".30 here, may be .18 to .46; down from .25 on b comes first"
    assert first[2] == "common practice"


def test_why_not_is_told_against_the_first() -> None:
    """b at g absent: its one strong sign is not there, and it says so; a is first."""
    found = told(TWO, "not b", {"f": "present", "g": "absent"})
    assert found.kind == "not first"
    stands = dict(r for r in rows(found, "where it stands"))
    assert stands["place in its list"] == "2 of 2"
    assert stands["base rates here"] == ".20 against .30"
    # without g: .1278/.3502 = .365, as the joint table above has it
    assert rows(found, "answers against it") == (("no: g", ".36"),)
    assert rows(found, "answers that put a before it")[0][0] in ("f", "no: g")


def test_why_not_of_the_first() -> None:
    """Said plainly."""
    found = told(TWO, "not a", {"f": "present"})
    assert ("it is the first of its list", "") in rows(found, "where it stands")


def test_the_answer_that_would_put_it_first() -> None:
    """g is nearly b alone: P(b | f, g) = .365*.905/(.365*.905+.635*.05) = .912, P(a | f, g) is about .45."""
    found = rows(told(TWO, "not b", {"f": "present"}), "single answers left")
    assert found == (("g", "present: b would come first"),)


@pytest.mark.parametrize("name", ["not a", "NOT a", "a"])
def test_names_with_not(name: str) -> None:
    """The same thing is meant."""
    assert explainable(TWO, name) == ("hypothesis", "a")
    assert asked_not(name)[0] == (name != "a")
    assert explainable(TWO, "not") is None


def test_steps_are_in_order_and_add_up(knowledge: Knowledge) -> None:
    """In the shipped pack, for every hypothesis: base rate's log odds + the steps = the posterior's."""
    answers = {
        "front_pinch": ("present", "left"), "swelling": ("present", "left"), "end_feel_bony": ("absent", "left"),
    }  # fmt: skip
    known = {k: v for k, v in answers.items() if k in knowledge.findings}
    believed = view(knowledge, known).beliefs
    moved = steps(believed.network, believed.evidence)
    assert [r.name for r in believed.evidence.readings] == [n for n in known if believed.compiled.node(n)]
    prior = np.log(believed.network.prior / (1 - believed.network.prior))
    after = 1 / (1 + np.exp(-(prior + moved.sum(axis=0))))
    assert after == pytest.approx(believed.posterior.chance, abs=1e-9)


def test_every_hypothesis_and_option_of_the_shipped_pack_explains_itself(knowledge: Knowledge) -> None:
    """Both ways, without a chance of 0 or 1 anywhere, and never with a word the tool must not say."""
    answers = {"front_pinch": ("present", "left"), "end_feel_bony": ("absent", "left")}
    names = [h.id for h in list(knowledge.hypotheses.values())[::9]] + [o.id for o in knowledge.options.values()][::12]
    for name in names:
        for asked in (name, f"not {name}"):
            found = told(knowledge, asked, answers, "after_sprain")
            text = str(found)
            assert found.sections, asked
            assert "'1.00'" not in text
            assert "'0.00'" not in text
    assert told(knowledge, "not fracture", answers).kind == "not first"


def test_published_figures_turn_nothing() -> None:
    """Without intervals there is no figure to change."""
    known = pack(hypothesis("a", 0.3, {}, PUBLISHED), hypothesis("b", 0.29, {}, PUBLISHED))
    assert rows(told(known, "a", {}), "the single figure")[0][0].startswith("no single")


def test_what_a_record_says_about_itself_is_shown(knowledge: Knowledge) -> None:
    """What would answer a screen, what an absence never speaks against, equipment, doubts: as the pack has it."""
    screens = [s for s in knowledge.screens.values() if s.resolve_by and s.id not in knowledge.hypotheses]
    assert len(screens) > 10
    for screen in screens[:3]:
        assert rows(told(knowledge, screen.id, {}), "what would answer it") == ((screen.resolve_by, ""),)
    spared = rows(told(knowledge, "fever", {}), "its absence never speaks against")
    assert (knowledge.hypotheses["joint_infection"].name, "") in spared
    option = next(o for o in knowledge.options.values() if o.equipment and o.lane == "try_now")
    assert rows(told(knowledge, option.id, {}), "needs") == ((", ".join(option.equipment), ""),)
    (shown,) = why(knowledge, ready(knowledge, {}), NOW, "mwm_weight_bearing")
    effect = knowledge.options["mwm_weight_bearing"].effects[0]
    assert rows(shown, "why no more certain") == tuple((why_, "") for why_ in effect.certainty_reasons) != ()
    assert rows(shown, "how long")
