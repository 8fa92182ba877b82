"""The examination plan: what has to be looked at today, what should be, what is left, and how far it may go.

It is suggested from the advice and the limits; Enter takes it up. It plans; it answers nothing.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from reasoner.advice.asking import unanswered
from reasoner.case.events import ExamPlanned
from reasoner.case.state import ExamPlan, Side
from reasoner.consult import words
from reasoner.consult.commands import PlanExam
from reasoner.consult.limits import irritable_now, is_high, is_overpressure, is_provoking, may_suggest, room_left
from reasoner.consult.measuring import baseline_of, signs
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.options.gate import Gatekeeper
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["EXTENTS", "exam_plan_now", "gates_lack", "may_do", "name_of", "plan_exam", "plan_words", "suggested_plan"]

EXTENTS = {
    "active": "active movement only",
    "first_pain": "to first pain",
    "limit": "to the limit",
    "overpressure": "overpressure too",
}
_BY_LEVEL = {"low": "limit", "moderate": "first_pain"}
_WORTH_PLANNING = 0.005  # bits
_MOST_SHOULD = 6
_MOST_LEFT = 4
_MOST_FOR_GATES = 6


def exam_plan_now(case: Situation) -> ExamPlan | None:
    """The plan of this visit, the latest."""
    made = [p for p in case.state.exam_plans if p.visit == case.state.visit]
    return made[-1] if made else None


def may_do(case: Situation, idents: list[str]) -> list[str]:
    """Those tests and measures whose load classes are open now on the case's side (of two: on either)."""
    screening = Screening(case.facts)
    covered_by = []
    sides: tuple[Side, ...] = case.facts.case_sides
    for side in sides:
        facts = replace(case.facts, side=None if side == "none" else side)
        covered = evaluate(case.knowledge.region.covers, screening.rules_for(facts)).verdict
        covered_by.append(Gatekeeper(screening, facts, covered, unanswered(case.facts)))
    return [i for i in idents if any(g.judge(_classes(case, i)).open for g in covered_by)]


def _classes(case: Situation, ident: str) -> tuple[str, ...]:
    record = case.knowledge.findings.get(ident) or case.knowledge.measures.get(ident)
    return record.load_classes if record is not None else ()


def suggested_plan(case: Situation) -> PlanExam:
    """Must: what open screens lack, the measures that are retested, what most options wait for.

    Should: what tells most for its minutes.
    """
    must = list(dict.fromkeys((*_screens_lack(case), *_baselines_lack(case), *gates_lack(case))))
    worth = [q.id for q in case.advice.questions if q.gain_bits >= _WORTH_PLANNING and _is_exam(case, q.id)]
    wanted = list(dict.fromkeys((*must, *worth)))
    open_now = may_do(case, wanted)
    kept = _within_limit(case, [i for i in open_now if may_suggest(case, i)])
    closed = [i for i in _provoking_tests(case) if i not in kept]
    shut = [i for i in closed if i not in may_do(case, closed)]
    later = gates_lack(case)  # may open as the examination goes on
    left = [i for i in dict.fromkeys((*(i for i in wanted if i not in kept), *shut)) if i not in later]
    return PlanExam(
        tuple(i for i in must if i in kept),
        tuple(i for i in kept if i not in must)[:_MOST_SHOULD],
        tuple(left)[:_MOST_LEFT],
        _extent(case),
    )


def _extent(case: Situation):  # type: ignore[no-untyped-def]
    return "active" if is_high(case) else _BY_LEVEL.get(irritable_now(case).level, "active")


def _screens_lack(case: Situation) -> list[str]:
    """Findings that an open screen still needs and that are looked at or tested, most urgent first."""
    bundled = {name for b in case.knowledge.region.always_ask for name in b.findings}
    return [q.id for q in case.advice.ask_first if q.id not in bundled and _is_exam(case, q.id)]


def _baselines_lack(case: Situation) -> list[str]:
    found = []
    for sign in (*signs(case), case.knowledge.region.main_measure):
        record = case.knowledge.measures.get(sign)
        if record is None or record.kind in ("pain", "function"):
            continue
        side = case.one_side(None, record.sided)
        if side is not None and baseline_of(case, sign, side) is None:
            found.append(sign)
    return found


def gates_lack(case: Situation) -> list[str]:
    """What most techniques wait for and hands or eyes can tell, most first."""
    missing = Counter(
        name
        for o in case.advice.options
        if o.lane == "try_now" and o.relevant and o.state == "not_yet"
        for name in o.missing
        if name in case.knowledge.findings and _is_exam(case, name)
    )
    return [name for name, _ in missing.most_common(_MOST_FOR_GATES)]


def _is_exam(case: Situation, ident: str) -> bool:
    finding = case.knowledge.findings.get(ident)
    return ident in case.knowledge.measures or (finding is not None and finding.kind in ("seen", "tested"))


def _within_limit(case: Situation, idents: list[str]) -> list[str]:
    """No more provoking tests than are left for this visit; the first of them stay."""
    room = room_left(case)
    kept = []
    for ident in idents:
        if is_provoking(case.knowledge, ident) and room is not None:
            if room == 0:
                continue
            room -= 1
        kept.append(ident)
    return kept


def _provoking_tests(case: Situation) -> list[str]:
    found = case.knowledge.findings.values()
    return [f.id for f in found if f.provokes and f.kind in ("seen", "tested") and not f.retired]


def name_of(case: Situation, ident: str) -> str:
    """A finding or measure as a plan names it: its name, or the words of its id where those are shorter to type."""
    record = case.knowledge.findings.get(ident) or case.knowledge.measures.get(ident)
    return min(record.name if record is not None else ident, ident.replace("_", " "), key=len)


def plan_words(case: Situation, plan: PlanExam | ExamPlan) -> tuple[str, ...]:
    """The plan in lines."""

    def names(idents: tuple[str, ...]) -> str:
        return words.listed((name_of(case, i) for i in idents), 9) or "nothing"

    lines = [f"must: {names(plan.must)}", f"should: {names(plan.should)}"]
    if plan.leave:
        lines.append(f"leave today: {names(plan.leave)}")
    said = irritable_now(case)
    lines.append(f"how far: {EXTENTS[plan.extent]} (irritability {said.level}: {said.inputs})")
    return tuple(lines)


def plan_exam(case: Situation, command: PlanExam) -> Decision:
    """Write the plan down; an empty one is the suggested one. More than the limits let is refused."""
    proposed = suggested_plan(case)
    stood_there = command == proposed
    if not (command.must or command.should or command.leave):
        command = proposed
    rules = case.knowledge.policy.visit_rules
    if rules is not None and is_high(case):
        if command.extent == "overpressure":
            return refuse("no overpressure while irritability is high or not known", "write: exam ...; to first pain")
        planned = [i for i in dict.fromkeys((*command.must, *command.should)) if is_provoking(case.knowledge, i)]
        room = room_left(case)
        if room is not None and len(planned) > room:
            return refuse(
                f"{len(planned)} provoking tests planned; at most {rules.most_provoking} in a visit while "
                "irritability is high or not known",
                f"leave some: {words.listed(name_of(case, i) for i in planned)}",
            )
        pushed = [i for i in (*command.must, *command.should) if is_overpressure(case.knowledge, i)]
        if pushed:
            return refuse(
                f"{name_of(case, pushed[0])} pushes past the limit: not while irritability is high or not known",
                "leave it for today",
            )
    event = ExamPlanned(command.must, command.should, command.leave, command.extent)
    if stood_there:  # taken up from the screen
        return Decision((event,), ("examination planned as proposed",))
    return Decision((event,), ("examination planned", *(f"  {line}" for line in plan_words(case, command))))
