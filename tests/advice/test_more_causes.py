"""A benign cause more takes nothing serious out of sight; a danger sign more never calms; taking back is exact."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from reasoner.advice.advise import advise
from reasoner.case import events as ev
from reasoner.case.apply import apply, replay
from reasoner.case.state import Answer, CaseState, Side
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Figure, Hypothesis, Link
from reasoner.views.beliefs import lists
from reasoner.views.render import plain_lines
from tests.advice.ready import ready
from tests.advice.test_shipped_safety import RELAXED, screening_of, states
from tests.build import NOW

FEW = settings(
    max_examples=6, phases=(Phase.generate,), deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
URGENCY = ("routine", "urgent", "same_day", "emergency")


def with_a_cause(knowledge: Knowledge, findings: list[str], listed: str) -> Knowledge:
    """The pack and one frequent benign cause that nearly always brings these findings."""
    more = Hypothesis(
        id="everyday_cause", name="an everyday cause", list=listed,  # type: ignore[arg-type]
        base_rate={s: Figure(value=0.6, basis="practice") for s in knowledge.settings},
        produces=tuple(Link(finding=f, chance=0.95, basis="practice") for f in findings),
    )  # fmt: skip
    return replace(knowledge, hypotheses={**knowledge.hypotheses, more.id: more})


def serious(knowledge: Knowledge, state: CaseState) -> tuple[dict[str, str | None], str]:
    """Serious hypotheses advised about with the state of their screen, and the page that lists them."""
    advice = advise(knowledge, state, NOW)
    page = " ".join(line.strip() for line in plain_lines(lists(advice, knowledge, everything=True)))
    return {h.id: h.screen_state for h in advice.hypotheses if h.list == "must_not_miss"}, page


def signs(knowledge: Knowledge) -> list[str]:
    """Findings a cause can be linked to that serious hypotheses bring as well: those that can be explained away."""
    return sorted(
        {
            link.finding
            for h in knowledge.hypotheses.values()
            if h.list == "serious"
            for link in h.produces
            if link.finding in knowledge.findings and knowledge.findings[link.finding].kind in ("told", "seen")
        }
    )


@FEW
@given(data=st.data())
def test_a_benign_cause_more_changes_no_screen_and_drops_nothing_serious(
    knowledge: Knowledge, data: st.DataObject
) -> None:
    """Explained away in the numbers, and listed all the same; screens and gates do not read chances."""
    found = data.draw(st.lists(st.sampled_from(signs(knowledge)), min_size=1, max_size=4, unique=True))
    kind = data.draw(st.sampled_from(["condition", "restriction"]))
    state, more = ready(knowledge, dict.fromkeys(found, "present")), with_a_cause(knowledge, found, kind)
    before, after = advise(knowledge, state, NOW), advise(more, state, NOW)
    assert after.screens == before.screens
    assert (after.blocked, after.screening_complete) == (before.blocked, before.screening_complete)
    (kept, _), (still, page) = serious(knowledge, state), serious(more, state)
    assert still == kept
    assert kept
    chance = {h.id: h.chance for h in after.hypotheses}
    assert chance["everyday_cause"] > 0.6  # it does explain what was found
    for ident, state_of in still.items():
        if state_of in ("met", "open"):
            assert knowledge.hypotheses[ident].name in page


@RELAXED
@given(data=st.data())
def test_a_danger_sign_more_never_lowers_the_urgency(knowledge: Knowledge, data: st.DataObject) -> None:
    """The most pressing thing to do is never less pressing, and no gate opens."""
    state = data.draw(states(knowledge))
    danger = [f for f in knowledge.findings.values() if f.danger and f.kind not in ("measured", "composite")]
    sign = data.draw(st.sampled_from(danger))
    answer = Answer(sign.id, "left" if sign.sided else "none", "present", None, NOW, seq=9999)
    worse = replace(state, answers=(*(a for a in state.answers if a.finding != sign.id), answer))

    def urgency(case: CaseState, *, states_: tuple[str, ...]) -> int:
        results = screening_of(knowledge, case).results()
        return max((URGENCY.index(r.screen.send) for r in results if r.state in states_), default=-1)

    assert urgency(worse, states_=("met",)) >= urgency(state, states_=("met",))
    assert urgency(worse, states_=("met", "open")) >= urgency(state, states_=("met", "open"))


def recorded(state: CaseState) -> CaseState:
    """The same case, told event by event: what undo folds again."""
    context, age = state.context, state.context.age
    days = {name: ev.AnchorStated(name, a.days, a.none) for name, a in context.days_since.items()}
    told: list[ev.Event] = [
        ev.CaseOpened(state.case, "demo", "ankle"), ev.VisitOpened(1), *days.values(),
        ev.ContextStated("side", context.side), ev.ContextStated("age", age), ev.ContextStated("sex", context.sex),
        ev.ContextStated("setting", context.setting), ev.SurgeryStated(none=True), ev.ImmobilisedStated(none=True),
        *(ev.Answered(a.finding, a.side, a.value) for a in state.answers),
    ]  # fmt: skip
    return replay(ev.Recorded(seq, NOW, "KM", "physio", event) for seq, event in enumerate(told, 1))


@FEW
@given(first=st.integers(0, 10**4), second=st.integers(0, 10**4))
def test_an_answer_added_and_withdrawn_leaves_the_advice_as_it_was(
    knowledge: Knowledge, first: int, second: int
) -> None:
    """Any finding, danger or not: answered then taken back, or changed then undone, the advice is the same value."""
    state = recorded(ready(knowledge, {}))
    before = advise(knowledge, state, NOW)
    answered = {a.finding for a in state.answers}
    open_ = [f for f in knowledge.findings.values() if f.kind in ("told", "seen") and f.id not in answered]
    new, old = open_[first % len(open_)], state.answers[second % len(state.answers)]

    def record(case: CaseState, seq: int, event: ev.Event) -> CaseState:
        return apply(case, ev.Recorded(seq, NOW, "KM", "physio", event))

    side: Side = "left" if new.sided else "none"
    said = record(state, 5001, ev.Answered(new.id, side, "present"))
    assert screening_of(knowledge, said).facts.standing != screening_of(knowledge, state).facts.standing
    back = record(said, 5002, ev.AnswerWithdrawn(new.id, side, False, "a slip"))
    assert back.answers == state.answers
    assert advise(knowledge, back, NOW) == before
    changed = record(state, 5001, ev.Answered(old.finding, old.side, "present"))
    assert changed.answers != state.answers
    undone = record(changed, 5002, ev.Undone(5001))
    assert undone.answers == state.answers
    assert advise(knowledge, undone, NOW) == before
