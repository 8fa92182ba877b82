"""What to ask next, what an answer could change, and treating as a question."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reasoner.advice.advise import advise
from reasoner.advice.changes import LEAST_LEAD, first_changes, screen_could_change
from reasoner.advice.figures import figures_of, links_of
from reasoner.advice.questions import survey, worth_minutes
from reasoner.advice.records import Advice
from reasoner.advice.side import SideView, side_views
from reasoner.advice.trials import trials
from reasoner.case.state import Answer, CaseState, Context, Loop
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.kernel import posterior
from reasoner.safety.screens import Screening
from tests.advice.ready import ready
from tests.build import NOW, finding, knowledge, screen, state

TOLD = {"early_heel_lift": "present"}


def seen(known: Knowledge) -> CaseState:
    """Ready for hands, with a few answers."""
    return ready(known, TOLD)


def first_view(known: Knowledge, case: CaseState) -> SideView:
    """The one side."""
    return side_views(known, case, NOW)[1][0]


def test_costs_by_hand() -> None:
    """Own minutes, half a minute to turn to it, and the move only where the patient is not there already."""
    moves = {"sit": 0.5, "prone": 1.0}
    assert worth_minutes(0.3, "sit", "sit", moves) == pytest.approx(0.8)
    assert worth_minutes(0.3, "prone", "sit", moves) == pytest.approx(1.8)
    assert worth_minutes(0.3, "", "sit", moves) == pytest.approx(0.8)


def test_what_changes_the_first_option_really_does(knowledge: Knowledge) -> None:
    """Every change it names, and none it does not: each answer recorded in turn, the options worked out afresh."""
    case = seen(knowledge)
    view, advice = first_view(knowledge, case), advise(knowledge, case, NOW)
    surveyed = survey(view)
    changes = first_changes(view, advice.options, [o.asked for o in surveyed.open], surveyed.found)
    assert changes is not None
    named = {(c.question, c.answer): c.option for c in changes}
    told = [k for k, o in enumerate(surveyed.open) if o.kind == "finding" and o.levels == ()]
    rng = np.random.default_rng(3)
    tried = sorted({q for q, _ in named} & set(told))[:3] + [int(k) for k in rng.choice(told, 6, replace=False)]
    checked = {True: 0, False: 0}
    for q in tried:
        one = surveyed.open[q]
        record = knowledge.findings[one.id]
        for answer, value in enumerate(("absent", "present")):
            if surveyed.found.answer[q, answer] < 0.01 or record.danger:
                continue
            side = "left" if record.sided else "none"
            more = replace(case, answers=(*case.answers, Answer(one.id, side, value, None, NOW, seq=9999)))  # type: ignore[arg-type]
            after = advise(knowledge, more, NOW)
            if gates(after) != gates(advice):
                continue  # the answer moved a gate; that is not what is counted here
            assert ((q, answer) in named) == _first_moved(advice, after), one.id
            checked[(q, answer) in named] += 1
    assert checked[True] >= 1
    assert checked[False] >= 6


def gates(advice: Advice) -> dict[str, tuple[str, bool]]:
    """State and relevance of what may be tried."""
    return {o.id: (o.state, o.relevant) for o in advice.options if o.lane == "try_now"}


def _first_moved(before: Advice, after: Advice) -> bool:
    """Is another option first on some sign, by at least `LEAST_LEAD`?"""
    moved = False
    opened = [o for o in before.options if o.lane == "try_now" and o.relevant and o.value is not None
              and o.state in ("offered", "caution")]  # fmt: skip
    now = {o.id: o.value or 0.0 for o in after.options}
    for sign in {o.sign for o in opened}:
        here = [o for o in opened if o.sign == sign]
        first = max(here, key=lambda o: o.value or 0.0)
        moved |= max(now[o.id] for o in here) - now[first.id] >= LEAST_LEAD
    return moved


def test_nothing_open_nothing_claimed(knowledge: Knowledge) -> None:
    """Before the stop-now questions no option is open, and no stop line is given."""
    advice = advise(knowledge, state({}, Context(side="left")), NOW)
    assert advice.nothing_changes is None
    assert advice.trials == ()


def screens_pack() -> Knowledge:
    """Two of three facts meet it."""
    return knowledge(
        findings=[finding(f) for f in "abc"], screens=[screen("s", rule={"at_least": 2, "of": ["a", "b", "c"]})]
    )


@pytest.mark.parametrize(
    ("answers", "could"),
    [
        ({}, ""),  # one answer of three leaves it open whatever it is
        ({"a": "present"}, "s"),  # a second one meets it
        ({"a": "absent"}, "s"),  # a second absent one: at most one is left
        ({"a": "absent", "b": "absent"}, ""),  # decided
        ({"a": "present", "b": "unknown", "c": "unknown"}, ""),  # asked, and could not be answered
    ],
)
def test_what_a_single_answer_does_to_a_screen(answers: dict[str, str], could: str) -> None:
    """Two of three, by hand."""
    known = screens_pack()
    assert screen_could_change(Screening(Facts(known, state(answers), NOW))) == could


def test_a_screen_not_yet_in_use_counts_too() -> None:
    """Its criteria alone would meet it, although it is not known whether it applies."""
    known = knowledge(
        findings=[finding(f) for f in "ub"], screens=[screen("s", use_when="u", rule="b")]
    )
    assert screen_could_change(Screening(Facts(known, state({}), NOW))) == "s"


def test_trials_are_worth_what_the_engine_says(knowledge: Knowledge) -> None:
    """The gain of the best one, worked out again: entropy now less the expected entropy after yes and no."""
    case = seen(knowledge)
    view, advice = first_view(knowledge, case), advise(knowledge, case, NOW)
    assert advice.trials
    best = advice.trials[0]
    assert best.kind == "response"
    option = knowledge.options[best.id]
    figures = figures_of(option, view.facts)
    assert figures is not None
    links = links_of(option, figures, view.beliefs.network)
    network = view.beliefs.network.with_node("r", links[:, None], [figures.leak])
    weights = view.beliefs.compiled.entropy_weights

    def bits(evidence: Evidence) -> tuple[float, float]:
        found = posterior(network, evidence)
        p = np.clip(found.chance, 1e-300, 1 - 1e-16)
        return float((-(p * np.log2(p) + (1 - p) * np.log2(1 - p)) * weights).sum()), found.log_evidence

    before, log = bits(view.beliefs.evidence)
    expected = 0.0
    for pair in ((1.0, 0.0), (0.0, 1.0)):
        after, log_after = bits(view.beliefs.evidence.plus(Reading("r", "r", np.array(pair))))
        expected += np.exp(log_after - log) * after
    assert best.gain_bits == pytest.approx(before - expected, abs=1e-9)


def test_what_was_tried_is_no_question_any_more(knowledge: Knowledge) -> None:
    """Once a set of targets was treated in this assessment, no option for the same set is proposed."""
    case = seen(knowledge)
    best = trials(first_view(knowledge, case), advise(knowledge, case, NOW).options)[0]
    loop = Loop(1, best.id, "", "left", 1, 1, NOW, seq=9000, retested=True, verdict="within")
    after = replace(case, loops=(loop,))
    left = trials(first_view(knowledge, after), advise(knowledge, after, NOW).options)
    targets = frozenset(knowledge.options[best.id].acts_on)
    assert all(frozenset(knowledge.options[q.id].acts_on) != targets for q in left)
