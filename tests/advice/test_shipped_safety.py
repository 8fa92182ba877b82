"""Safety of the shipped pack as properties over random states: rules and gates only, no chance involved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reasoner.advice.advise import advise
from reasoner.advice.asking import BEFORE_HANDS, unanswered
from reasoner.advice.treatments import judge_option
from reasoner.case.state import Anchor, Answer, CaseState, Context, Immobilised, Measurement, Surgery, Visit
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.options.gate import HANDS, Gatekeeper
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening
from tests.build import NOW

OPEN = ("offered", "caution")
RELAXED = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


def screening_of(knowledge: Knowledge, state: CaseState) -> Screening:
    """Screens over all sides."""
    return Screening(Facts(knowledge, state, NOW))


def option_states(knowledge: Knowledge, state: CaseState) -> dict[str, str]:
    """Option id -> gate state, for a one-sided case."""
    screening = screening_of(knowledge, state)
    facts = replace(screening.facts, side=screening.facts.case_sides[0])
    covered = evaluate(knowledge.region.covers, screening.rules_for(facts)).verdict
    gates = Gatekeeper(screening, facts, covered, unanswered(screening.facts))
    return {o.id: judge_option(o, gates).state for o in knowledge.options.values()}


def touches(knowledge: Knowledge, option: str) -> bool:
    """Does it load or handle the joint (more than talk, protection, referral)?"""
    classes = (knowledge.load_classes[c] for c in knowledge.options[option].load_classes)
    return any(HANDS[c.needs_hands] > HANDS["protect_only"] for c in classes)


def states(knowledge: Knowledge) -> st.SearchStrategy[CaseState]:
    """Random one-sided states: any answers, context parts present or missing."""
    facts = [f for f in knowledge.findings.values() if f.kind not in ("measured", "composite")]
    maybe_days = st.one_of(
        st.none(), st.builds(lambda d: Anchor(d, NOW), st.one_of(st.none(), st.integers(0, 200))),
        st.just(Anchor(None, NOW, none=True)),
    )
    anchors = st.fixed_dictionaries(dict.fromkeys(("injury", "surgery", "cast_off"), maybe_days))
    context = st.builds(
        lambda age, sex, setting, since, fixed, operated: Context(
            side="left", age=age, sex=sex, setting=setting,
            days_since={k: v for k, v in since.items() if v is not None}, immobilised=fixed, surgery=operated,
        ),
        st.one_of(st.none(), st.integers(8, 90)),
        st.sampled_from([None, "female", "male"]),
        st.sampled_from([None, *knowledge.settings]),
        anchors,
        st.sampled_from([None, Immobilised(none=True), Immobilised(weeks=4.0, position="plantarflexed")]),
        st.sampled_from([
            None, Surgery(none=True), Surgery(),
            *(Surgery(procedure=p.id, orders="not_seen") for p in knowledge.region.procedures),
        ]),
    )  # fmt: skip

    @st.composite
    def build(draw: st.DrawFn) -> CaseState:
        # mostly "absent", so that gates do open and the properties are not empty
        default = draw(st.sampled_from(["absent", "absent", None]))
        changed = draw(
            st.dictionaries(
                st.sampled_from([f.id for f in facts]), st.sampled_from(["present", "unknown", 0.6, None]), max_size=5
            )
        )
        answers = []
        for finding in facts:
            value: Any = changed.get(finding.id, default) if finding.id in changed else default
            if value is None:
                continue
            sure = value if isinstance(value, float) else None
            word: Any = "present" if sure is not None else value
            side: Any = "left" if finding.sided else "none"
            answers.append(Answer(finding.id, side, word, sure, NOW, seq=len(answers) + 1))
        return CaseState(
            case="t", region=knowledge.region.id, context=draw(context), answers=tuple(answers),
            visits=(Visit(1, NOW),), competences=frozenset(draw(st.sampled_from([(), tuple(knowledge.load_classes)]))),
        )

    return build()


def without_one(state: CaseState) -> list[CaseState]:
    """The state with each single answer or part of the context taken away."""
    fewer = [replace(state, answers=(*state.answers[:i], *state.answers[i + 1 :])) for i in range(len(state.answers))]
    context = state.context
    parts: list[Mapping[str, Any]] = [{name: None} for name in ("age", "sex", "setting", "surgery", "immobilised")]
    fewer += [replace(state, context=replace(context, **part)) for part in parts]
    for event in context.days_since:
        rest = {k: v for k, v in context.days_since.items() if k != event}
        fewer.append(replace(state, context=replace(context, days_since=rest)))
    return fewer


def test_an_empty_case_offers_nothing_that_touches(knowledge: Knowledge) -> None:
    """Nothing asked: no hands-on, stretch or loading option; the screens are open, none reassures."""
    empty = CaseState(case="t", region=knowledge.region.id, visits=(Visit(1, NOW),))
    advice = advise(knowledge, empty, NOW)
    assert not [o.id for o in advice.options if o.state in OPEN and touches(knowledge, o.id)]
    assert not advice.screening_complete
    assert {s.state for s in advice.screens} <= {"open"}
    assert advice.ask_first


@RELAXED
@given(data=st.data())
def test_no_technique_while_an_emergency_is_met_or_open(knowledge: Knowledge, data: st.DataObject) -> None:
    """Whatever a closing emergency or same-day screen forbids is neither offered nor offered with a caution."""
    state = data.draw(states(knowledge))
    closing = [r for r in screening_of(knowledge, state).results() if r.closing and r.screen.send in BEFORE_HANDS]
    found = option_states(knowledge, state)
    for result in closing:
        for option in knowledge.options.values():
            needs = max((HANDS[knowledge.load_classes[c].needs_hands] for c in option.load_classes), default=0)
            if needs > HANDS[result.screen.hands]:
                assert found[option.id] not in OPEN


@RELAXED
@given(data=st.data())
def test_taking_any_answer_away_never_reassures_and_never_opens(knowledge: Knowledge, data: st.DataObject) -> None:
    """Fewer answers: no screen turns not_met or does_not_apply, no gate opens."""
    state = data.draw(states(knowledge))
    screens = {r.screen.id: r.state for r in screening_of(knowledge, state).results()}
    before = option_states(knowledge, state)
    fewer = data.draw(st.sampled_from(without_one(state)))
    for result in screening_of(knowledge, fewer).results():
        if screens[result.screen.id] in ("met", "open"):
            assert result.state in ("met", "open")
    after = option_states(knowledge, fewer)
    for ident, was in before.items():
        if was in ("not_yet", "barred"):
            assert after[ident] in ("not_yet", "barred"), ident
        if was == "caution":
            assert after[ident] != "offered", ident


@RELAXED
@given(data=st.data())
def test_a_danger_sign_more_never_lowers_urgency(knowledge: Knowledge, data: st.DataObject) -> None:
    """Turning any danger answer to present keeps every met screen met."""
    state = data.draw(states(knowledge))
    met = {r.screen.id for r in screening_of(knowledge, state).results() if r.state == "met"}
    danger = [f for f in knowledge.findings.values() if f.danger and f.kind not in ("measured", "composite")]
    sign = data.draw(st.sampled_from(danger))
    answer = Answer(sign.id, "left" if sign.sided else "none", "present", None, NOW, seq=9999)
    worse = replace(state, answers=(*(a for a in state.answers if a.finding != sign.id), answer))
    after = {r.screen.id for r in screening_of(knowledge, worse).results() if r.state == "met"}
    assert met <= after


def test_a_measurement_taken_away_never_opens(knowledge: Knowledge) -> None:
    """A heel-to-wall style number only ever adds; leaving it out opens no gate."""
    measures = tuple(
        Measurement(m.id, side, m.tools[0].id, (sum(m.usual or m.possible) / 2,), at=NOW)  # type: ignore[arg-type]
        for m in knowledge.measures.values()
        if not m.derived
        for side in (("left", "right") if m.sided else ("none",))
    )
    facts = [f for f in knowledge.findings.values() if f.kind not in ("measured", "composite")]
    full = CaseState(
        case="t", region=knowledge.region.id,
        context=Context(
            side="left", age=30, setting="not_stated", surgery=Surgery(none=True), immobilised=Immobilised(none=True),
            days_since={"injury": Anchor(None, NOW, none=True)},
        ),
        answers=tuple(
            Answer(f.id, "left" if f.sided else "none", "absent", None, NOW, seq=i) for i, f in enumerate(facts)
        ),
        measurements=measures, visits=(Visit(1, NOW),),
    )  # fmt: skip
    before = option_states(knowledge, full)
    for i in range(len(measures)):
        after = option_states(knowledge, replace(full, measurements=(*measures[:i], *measures[i + 1 :])))
        opened = [k for k, v in after.items() if v in OPEN and before[k] not in OPEN]
        assert not opened
