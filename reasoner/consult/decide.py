"""decide(knowledge, state, advise, command, stamp) -> Decision: events to record, or why not. Pure; writes nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from reasoner.advice.records import Advice
from reasoner.case.state import CaseState
from reasoner.consult import (
    answers,
    commands,
    context,
    exam,
    following,
    frame,
    goals,
    handing,
    measuring,
    noting,
    resolving,
    retesting,
    treating,
)
from reasoner.consult.advising import take_advice
from reasoner.consult.commands import Command
from reasoner.consult.situation import Decision, Situation, Stamp, is_reason, refuse
from reasoner.graph.knowledge import Knowledge

__all__ = ["decide"]

Handler = Callable[[Situation, Any], Decision]

_HANDLERS: Mapping[type[Command], Handler] = {
    commands.OpenVisit: lambda case, _: frame.open_visit(case),
    commands.NewAssessment: frame.new_assessment,
    commands.Pause: lambda case, _: frame.pause(case),
    commands.Resume: frame.resume,
    commands.Close: lambda case, _: frame.close(case),
    commands.Undo: frame.undo,
    commands.TakeAdvice: lambda case, _: take_advice(case),
    commands.SetContext: context.set_context,
    commands.SetAnchor: context.set_anchor,
    commands.SetImmobilised: context.set_immobilised,
    commands.SetSurgery: context.set_surgery,
    commands.StateCompetence: context.state_competence,
    commands.Answer: answers.answer,
    commands.AnswerBundle: answers.answer_bundle,
    commands.Withdraw: answers.withdraw,
    commands.Measure: measuring.measure,
    commands.ChooseSigns: measuring.choose_signs,
    commands.StateIrritability: measuring.state_irritability,
    commands.SetGoal: goals.set_goal,
    commands.PlanExam: exam.plan_exam,
    commands.StateFlare: following.state_flare,
    commands.AnswerStall: following.answer_stall,
    commands.HearOrder: handing.hear_order,
    commands.HandOver: handing.hand_over,
    commands.EndCase: handing.end_case,
    commands.Write: noting.write,
    commands.Judge: noting.judge,
    commands.Resolve: resolving.resolve,
    commands.Consent: treating.consent,
    commands.Treat: treating.treat,
    commands.Retest: retesting.retest,
    commands.ExcuseRetest: treating.excuse_retest,
}
_WITHOUT_VISIT = (commands.OpenVisit, commands.Resume)


def decide(
    knowledge: Knowledge, state: CaseState, advise: Callable[[], Advice], command: Command, stamp: Stamp
) -> Decision:
    """What a command comes to. `advise` gives the advice on `state`; it is called only where it matters."""
    case = Situation(knowledge, state, advise, stamp)
    if case.open_visit is None and not isinstance(command, _WITHOUT_VISIT):
        return refuse("no visit is open", "write: new visit")
    reason = getattr(command, "reason", "")
    if reason and not is_reason(reason):
        return refuse(f"'{reason}' is no reason", "write it in words: because ...")
    return _HANDLERS[type(command)](case, command)
