"""apply(state, recorded) -> state: the only way a case changes. Pure: no knowledge, no arithmetic, no clock.

Replay is a fold. Undo folds again what still stands, so a state never has to be mended backwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from reasoner.case import events as ev
from reasoner.case.state import (
    Anchor,
    Answer,
    BundleSaid,
    CaseState,
    Consent,
    Ending,
    ExamPlan,
    Flare,
    Goal,
    HandedOver,
    Immobilised,
    Irritability,
    Judgement,
    Loop,
    Measurement,
    Note,
    OrderHeard,
    Resolution,
    Side,
    Stall,
    Surgery,
    Visit,
    Withdrawn,
)

__all__ = ["apply", "replay"]

E = TypeVar("E", bound=ev.Event)
Step = Callable[[CaseState, ev.Recorded, Any], CaseState]
_STEPS: dict[type[ev.Event], Step] = {}


def apply(state: CaseState, recorded: ev.Recorded) -> CaseState:
    """The case after one more event. Events that change nothing clinical only move `seq` and `log`."""
    event = recorded.event
    if isinstance(event, ev.Undone):
        state = _without(state, {event.target, *event.takes})
    step = _STEPS.get(type(event))
    after = step(state, recorded, event) if step is not None else state
    return replace(after, seq=recorded.seq, log=after.log + (recorded,))  # noqa: RUF005 - copied once, not twice


def replay(recorded: Iterable[ev.Recorded], start: CaseState | None = None) -> CaseState:
    """Fold of `apply` from an empty case."""
    state = start if start is not None else CaseState()
    for one in recorded:
        state = apply(state, one)
    return state


def _without(state: CaseState, gone: set[int]) -> CaseState:
    """The case as if the events with these sequence numbers had never been recorded."""
    return replay(r for r in state.log if r.seq not in gone)


def _on(kind: type[E]) -> Callable[[Callable[[CaseState, ev.Recorded, E], CaseState]], Step]:
    def register(step: Callable[[CaseState, ev.Recorded, E], CaseState]) -> Step:
        _STEPS[kind] = step
        return step

    return register


# ----------------------------------------------------------------------------------------------- frame


@_on(ev.CaseOpened)
def _case_opened(state: CaseState, r: ev.Recorded, e: ev.CaseOpened) -> CaseState:
    return replace(state, case=e.case, kind=e.kind, region=e.region)


@_on(ev.VisitOpened)
def _visit_opened(state: CaseState, r: ev.Recorded, e: ev.VisitOpened) -> CaseState:
    visit = Visit(e.number, r.at, clinician=r.by, role=r.role)
    assessment = state.assessment + 1 if state.visits else state.assessment
    return replace(state, visits=(*state.visits, visit), assessment=assessment)


@_on(ev.AssessmentOpened)
def _assessment_opened(state: CaseState, r: ev.Recorded, e: ev.AssessmentOpened) -> CaseState:
    return replace(state, assessment=state.assessment + 1)


@_on(ev.VisitClosed)
def _visit_closed(state: CaseState, r: ev.Recorded, e: ev.VisitClosed) -> CaseState:
    *before, last = state.visits
    closing: Mapping[str, Any] = {"open_items": e.open_items}
    return replace(state, visits=(*before, replace(last, closed_at=r.at, closing=closing)))


def _head_of_review(state: CaseState, r: ev.Recorded, finding: str, side: Side, reason: str) -> CaseState:
    """A danger answer taken back after its screen had fired: kept, whatever else is undone."""
    withdrawn = Withdrawn(finding, side, reason, state.visit, r.seq)
    return replace(state, withdrawn=(*state.withdrawn, withdrawn))


@_on(ev.Undone)
def _undone(state: CaseState, r: ev.Recorded, e: ev.Undone) -> CaseState:
    if not e.reason:
        return state
    return _head_of_review(state, r, e.finding, e.side, e.reason)


# --------------------------------------------------------------------------------------------- context


def _in_context(state: CaseState, name: str, *, known: bool, **changes: Any) -> CaseState:
    unknown = state.context.unknown - {name} if known else state.context.unknown | {name}
    return replace(state, context=replace(state.context, unknown=unknown, **changes))


@_on(ev.ContextStated)
def _context_stated(state: CaseState, r: ev.Recorded, e: ev.ContextStated) -> CaseState:
    return _in_context(state, e.name, known=e.value is not None, **{e.name: e.value})


@_on(ev.AnchorStated)
def _anchor_stated(state: CaseState, r: ev.Recorded, e: ev.AnchorStated) -> CaseState:
    anchors = {**state.context.days_since, e.anchor: Anchor(e.days, r.at, none=e.none, seq=r.seq)}
    known = e.none or e.days is not None
    return _in_context(state, f"days_since.{e.anchor}", known=known, days_since=anchors)


@_on(ev.ImmobilisedStated)
def _immobilised_stated(state: CaseState, r: ev.Recorded, e: ev.ImmobilisedStated) -> CaseState:
    value = None if e.unknown else Immobilised(none=e.none, weeks=e.weeks, position=e.position)
    return _in_context(state, "immobilised", known=not e.unknown, immobilised=value)


@_on(ev.SurgeryStated)
def _surgery_stated(state: CaseState, r: ev.Recorded, e: ev.SurgeryStated) -> CaseState:
    value = None
    if not e.unknown:
        value = Surgery(e.none, e.procedure, e.fixation, e.weight_bearing, e.orders)
    return _in_context(state, "surgery", known=not e.unknown, surgery=value)


# --------------------------------------------------------------------------------------------- answers


def _answer(
    state: CaseState, r: ev.Recorded, finding: str, side: Side, value: ev.ValueName, sure: float | None = None
) -> Answer:
    return Answer(finding, side, value, sure, r.at, state.visit, state.assessment, r.seq)


@_on(ev.Answered)
def _answered(state: CaseState, r: ev.Recorded, e: ev.Answered) -> CaseState:
    answer = _answer(state, r, e.finding, e.side, e.value, e.sure)
    return replace(state, answers=state.answers + (answer,))  # noqa: RUF005 - copied once, not twice


@_on(ev.BundleAnswered)
def _bundle_answered(state: CaseState, r: ev.Recorded, e: ev.BundleAnswered) -> CaseState:
    said = BundleSaid(e.bundle, e.value, r.at, state.visit, r.seq)
    state = replace(state, bundles=(*state.bundles, said))
    if e.value == "present":
        return state
    named = (entry.partition("@") for entry in e.findings)
    told = (_answer(state, r, finding, _side(side), e.value) for finding, _, side in named)
    return replace(state, answers=(*state.answers, *told))


def _side(name: str) -> Side:
    sides: dict[str, Side] = {"left": "left", "right": "right", "both": "both"}
    return sides.get(name, "none")


@_on(ev.AnswerWithdrawn)
def _answer_withdrawn(state: CaseState, r: ev.Recorded, e: ev.AnswerWithdrawn) -> CaseState:
    kept = tuple(a for a in state.answers if (a.finding, a.side) != (e.finding, e.side))
    state = replace(state, answers=kept)
    if not e.after_screen:
        return state
    return _head_of_review(state, r, e.finding, e.side, e.reason)


@_on(ev.Measured)
def _measured(state: CaseState, r: ev.Recorded, e: ev.Measured) -> CaseState:
    measurement = Measurement(
        e.measure, e.side, e.tool, e.values, e.setup, e.phase,
        r.at, state.visit, state.assessment, r.seq, e.loop,
    )
    return replace(state, measurements=(*state.measurements, measurement))


@_on(ev.IrritabilityStated)
def _irritability_stated(state: CaseState, r: ev.Recorded, e: ev.IrritabilityStated) -> CaseState:
    return replace(
        state, irritability=Irritability(e.activity, e.effort, e.intensity, e.minutes, state.visit, r.seq)
    )


@_on(ev.CompetenceRecorded)
def _competence_recorded(state: CaseState, r: ev.Recorded, e: ev.CompetenceRecorded) -> CaseState:
    return replace(state, competences=state.competences | {e.load_class})


@_on(ev.SignsChosen)
def _signs_chosen(state: CaseState, r: ev.Recorded, e: ev.SignsChosen) -> CaseState:
    return replace(state, retest_signs=e.signs, function_words=e.function_words or state.function_words)


@_on(ev.GoalSet)
def _goal_set(state: CaseState, r: ev.Recorded, e: ev.GoalSet) -> CaseState:
    kept = tuple(g for g in state.goals if (g.measure, g.side) != (e.measure, e.side))
    goal = Goal(e.measure, e.side, e.value, e.words, r.at, state.visit, r.seq)
    return replace(state, goals=(*kept, goal))


@_on(ev.Noted)
def _noted(state: CaseState, r: ev.Recorded, e: ev.Noted) -> CaseState:
    return replace(state, notes=(*state.notes, Note(e.heading, e.text, r.at, state.visit, r.seq)))


@_on(ev.Judged)
def _judged(state: CaseState, r: ev.Recorded, e: ev.Judged) -> CaseState:
    judgement = Judgement(e.ranked, e.confidence, e.words, r.at, state.visit, r.seq)
    return replace(state, judgements=(*state.judgements, judgement))


@_on(ev.ExamPlanned)
def _exam_planned(state: CaseState, r: ev.Recorded, e: ev.ExamPlanned) -> CaseState:
    plan = ExamPlan(e.must, e.should, e.leave, e.extent, state.visit, r.seq)
    return replace(state, exam_plans=(*state.exam_plans, plan))


@_on(ev.FlareStated)
def _flare_stated(state: CaseState, r: ev.Recorded, e: ev.FlareStated) -> CaseState:
    return replace(state, flares=(*state.flares, Flare(e.hours, e.swelling, state.visit, r.seq)))


@_on(ev.StallAnswered)
def _stall_answered(state: CaseState, r: ev.Recorded, e: ev.StallAnswered) -> CaseState:
    return replace(state, stalls=(*state.stalls, Stall(e.choice, e.words, r.at, state.visit, r.seq)))


@_on(ev.OrderHeard)
def _order_heard(state: CaseState, r: ev.Recorded, e: ev.OrderHeard) -> CaseState:
    heard = OrderHeard(e.text, e.by, e.when, r.at, state.visit, r.seq)
    return replace(state, orders_heard=(*state.orders_heard, heard))


@_on(ev.HandedOver)
def _handed_over(state: CaseState, r: ev.Recorded, e: ev.HandedOver) -> CaseState:
    made = HandedOver(e.to, e.at, e.travel, e.told, e.phoned, r.at, state.visit, r.seq)
    return replace(state, handovers=(*state.handovers, made))


@_on(ev.EpisodeEnded)
def _episode_ended(state: CaseState, r: ev.Recorded, e: ev.EpisodeEnded) -> CaseState:
    return replace(
        state,
        ending=Ending(e.reason, e.outcome, e.self_management, e.return_signs, r.at, state.visit, r.seq),
    )


# ------------------------------------------------------------------------------------------------ acts


@_on(ev.ScreenResolved)
def _screen_resolved(state: CaseState, r: ev.Recorded, e: ev.ScreenResolved) -> CaseState:
    resolution = Resolution(
        e.screen, e.done, e.result, e.read_by, e.not_excluded, e.covers, r.at, state.visit, r.seq, e.when
    )
    return replace(state, resolutions=(*state.resolutions, resolution))


@_on(ev.ConsentRecorded)
def _consent_recorded(state: CaseState, r: ev.Recorded, e: ev.ConsentRecorded) -> CaseState:
    consents = state.consents
    if e.answer == "withdrawn":
        consents = tuple(replace(c, withdrawn=True) if c.option == e.option else c for c in consents)
        return replace(state, consents=consents)
    consent = Consent(e.option, e.answer == "given", e.covered, r.at, state.visit, r.seq)
    return replace(state, consents=(*consents, consent))


@_on(ev.Treated)
def _treated(state: CaseState, r: ev.Recorded, e: ev.Treated) -> CaseState:
    against = e.reason if e.stood in ("not_yet", "barred") else ""
    loop = Loop(
        e.loop, e.option, e.dose, e.side, state.visit, state.assessment, r.at, r.seq,
        against_advice=against, late=e.late, predicted=e.predicted,
    )
    return replace(state, loops=(*state.loops, loop))


@_on(ev.Retested)
def _retested(state: CaseState, r: ev.Recorded, e: ev.Retested) -> CaseState:
    return _change_loop(state, e.loop, retested=True, verdict=e.verdict, unwanted=e.unwanted)


@_on(ev.RetestExcused)
def _retest_excused(state: CaseState, r: ev.Recorded, e: ev.RetestExcused) -> CaseState:
    return _change_loop(state, e.loop, excused=e.reason)


def _change_loop(state: CaseState, number: int, **changes: Any) -> CaseState:
    return replace(
        state, loops=tuple(replace(p, **changes) if p.number == number else p for p in state.loops)
    )


