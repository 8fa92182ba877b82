"""Visits, pauses, undo and closing: the frame around what is recorded."""

from __future__ import annotations

from reasoner.case import events as ev
from reasoner.case.events import Event, Recorded
from reasoner.consult import words
from reasoner.consult.advising import advised
from reasoner.consult.answers import fired_by
from reasoner.consult.commands import NewAssessment, Resume, Undo
from reasoner.consult.describe import clinic_words, describe
from reasoner.consult.lacking import lacking
from reasoner.consult.recall import recall_lines
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.consult.treating import NOTHING_TO_RETEST, open_loop

__all__ = [
    "clinic_stated", "close", "last_standing", "new_assessment", "open_items", "open_visit", "pause", "resume",
    "undo",
]

# never withdrawn by undo: the frame, and what the tool itself wrote down
_NOT_UNDONE = (
    ev.CaseOpened, ev.VisitOpened, ev.VisitClosed, ev.Undone, ev.Advised, ev.Paused, ev.Resumed, ev.Exported,
    ev.AnswerWithdrawn, ev.ClinicStated, ev.PatientSimulated,
)


_STOPPED = "stopped: a danger screen was met"
# what a visit should hold in the clinician's words, and the parts that stand for it
_OWN_WORDS = {"problem": (), "conclusion": (), "plan": ("home", "next_visit")}


def open_visit(case: Situation) -> Decision:
    """The next visit: what was asked at the last one has to be asked again."""
    if case.open_visit is not None:
        return refuse(f"visit {case.open_visit.number} is still open", "close it first: close")
    number = case.state.visit + 1 if case.state.visits else 1
    clinic = clinic_stated(case)
    says = [f"visit {number}", *(f"  {clinic_words(e)}" for e in clinic)]
    if number > 1:
        says.append("  the stop-now questions and what is seen and tested are asked afresh")
    return Decision((*clinic, ev.VisitOpened(number)), tuple(says))


def new_assessment(case: Situation, command: NewAssessment) -> Decision:
    """A new picture before treatment within the visit."""
    if open_loop(case) is not None:
        return refuse("a treatment waits for its retest", "first: retest ...   (or: excuse because ...)")
    return Decision(
        (ev.AssessmentOpened(command.reason),), ("new assessment: what is seen and tested is asked again",)
    )


def pause(case: Situation) -> Decision:
    """Leave; everything is recorded already."""
    return Decision((ev.Paused(),), (f"paused; come back with: reasoner session {case.state.case}",))


def resume(case: Situation, command: Resume) -> Decision:
    """Come back to an open visit, and say if it has become old."""
    visit = case.open_visit
    clinic = clinic_stated(case)
    if visit is None:
        return Decision(clinic, tuple(clinic_words(e) for e in clinic))
    says = [f"visit {visit.number} goes on", *(f"  {clinic_words(e)}" for e in clinic)]
    if visit.opened_at is not None:
        hours = (case.stamp.now - visit.opened_at).total_seconds() / 3600
        if hours > case.knowledge.policy.visit_hours:
            says.append(f"  opened {_long(hours)} ago: the stop-now answers no longer count (close, new visit)")
    had = _at_work(case)
    if had == case.stamp.by:
        return Decision((*clinic, ev.Resumed()), tuple(says))
    if not command.take_over:
        return refuse(
            f"visit {visit.number} is open, by {had}; it is taken over only on purpose",
            f"reasoner session {case.state.case} --take-over",
            needs=("take_over",),
        )
    says.append(f"  opened by {had}; from here on: {case.stamp.by}")
    return Decision((*clinic, ev.Resumed(had)), tuple(says))


def _long(hours: float) -> str:
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"


def _at_work(case: Situation) -> str:
    """Code of who recorded last in the open visit."""
    visit = case.open_visit
    return case.state.log[-1].by if case.state.log else visit.clinician if visit is not None else ""


def clinic_stated(case: Situation) -> tuple[ev.ClinicStated, ...]:
    """Which clinic's knowledge is in use, unless the case says so already."""
    clinic = case.knowledge.clinic
    now = ev.ClinicStated(
        clinic.id if clinic is not None else "", clinic.digest if clinic is not None else "", case.knowledge.set_aside
    )
    said = [r.event for r in case.state.log if isinstance(r.event, ev.ClinicStated)]
    before = said[-1] if said else ev.ClinicStated()
    return () if before == now else (now,)


# ------------------------------------------------------------------------------------------------ undo


def last_standing(case: Situation) -> Recorded | None:
    """What undo would withdraw: the last thing recorded in this visit that still stands."""
    for recorded in reversed(case.state.log):
        if isinstance(recorded.event, ev.VisitOpened):
            return None
        if not isinstance(recorded.event, _NOT_UNDONE):
            found: Recorded = recorded
            return found
    return None


def undo(case: Situation, command: Undo) -> Decision:
    """Withdraw the last standing event, with what cannot stand without it."""
    last = last_standing(case)
    if last is None:
        return refuse("nothing recorded in this visit is left to undo")
    event = last.event
    said = f"undone: {describe(case.knowledge, event)}"
    takes = _dependants(case, last)
    if isinstance(event, ev.Answered):
        screen = fired_by(case, event.finding, event.side) if event.value == "present" else None
        if screen is not None and not command.reason:
            return refuse(
                f"{describe(case.knowledge, event)}: the screen '{screen}' was met by this answer",
                "write: undo because ...",
                needs=("reason",),
            )
        if screen is not None:
            return Decision((ev.Undone(last.seq, takes, event.finding, event.side, command.reason),), (said,))
    says = [said]
    if takes:
        gone = (describe(case.knowledge, r.event) for r in case.state.log if r.seq in takes)
        says.append(f"  with it: {words.listed(gone)}")
    return Decision((ev.Undone(last.seq, takes),), tuple(says))


def _dependants(case: Situation, last: Recorded) -> tuple[int, ...]:
    """A treatment takes its consent and retest with it; a retest its measurements. Nothing else has dependants."""
    event = last.event
    if isinstance(event, ev.Treated):
        return _of_treatment(case, last, event)
    if isinstance(event, (ev.Retested, ev.RetestExcused)):
        if isinstance(event, ev.RetestExcused) and event.reason == NOTHING_TO_RETEST:
            # written as given and excused in one step, so undone in one
            treated = next(r for r in reversed(case.state.log) if isinstance(r.event, ev.Treated))
            return (treated.seq, *_of_treatment(case, treated, treated.event))
        return tuple(r.seq for r in case.state.log if _belongs(r.event, event.loop) and r.seq != last.seq)
    return ()


def _of_treatment(case: Situation, treated: Recorded, event: ev.Treated) -> tuple[int, ...]:
    consents = [
        r.seq
        for r in case.state.log
        if isinstance(r.event, ev.ConsentRecorded) and r.event.option == event.option and r.seq < treated.seq
    ]
    given_before = any(
        isinstance(r.event, ev.Treated) and r.event.option == event.option and r.seq > (consents or [0])[-1]
        for r in case.state.log
        if r.seq < treated.seq
    )
    own = [] if given_before else consents[-1:]  # an earlier treatment with the same consent keeps it
    return (*own, *(r.seq for r in case.state.log if _belongs(r.event, event.loop)))


def _belongs(event: Event, loop: int) -> bool:
    if isinstance(event, ev.Measured):
        return event.loop == loop
    return isinstance(event, (ev.Retested, ev.RetestExcused)) and event.loop == loop


# ------------------------------------------------------------------------------------------------ closing


def open_items(case: Situation) -> tuple[str, ...]:
    """What is still missing in this visit, in plain words."""
    state, visit = case.state, case.state.visit
    items = list(recall_lines(case.knowledge, state, case.advice, case.stamp.now))
    items += [
        f"{s.name}: {s.state}" for s in case.danger.screens
        if s.state in ("met", "open") and not s.resolved and s.send in ("emergency", "same_day")
    ]
    if not case.danger.screening_complete:
        items.append("the questions before hands-on are not all answered")
    items += lacking(case)
    written = {n.heading for n in state.notes if n.visit == visit}
    for heading, stands_in in _OWN_WORDS.items():
        if not written & {heading, *stands_in}:
            items.append(f"no {heading} in your words")
    return tuple(dict.fromkeys(items))


def close(case: Situation) -> Decision:
    """End the visit; every treatment is retested or excused first."""
    loop = open_loop(case)
    stopped = loop is not None and case.danger.blocked
    if loop is not None and not stopped:
        option = case.knowledge.options.get(loop.option)
        name = option.name if option is not None else loop.option
        return refuse(f"{name} has no retest yet", "first: retest ...   (or: excuse because ...)")
    excused = (ev.RetestExcused(loop.number, _STOPPED),) if loop is not None else ()
    items = open_items(case)
    says = [f"visit {case.state.visit} closed", *(f"  no retest: {e.reason}" for e in excused)]
    says += ["  still open in the note:", *(f"   {item}" for item in items)] if items else []
    return Decision((*excused, *advised(case), ev.VisitClosed(items)), tuple(says))
