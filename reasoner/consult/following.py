"""Since the last visit: a flare and what it means for the dose, no progress and what answers it, dates said again."""

from __future__ import annotations

from collections.abc import Iterator

from reasoner.case.events import FlareStated, StallAnswered, VisitOpened
from reasoner.consult import words
from reasoner.consult.carrying import no_progress, since_first
from reasoner.consult.commands import AnswerStall, SetAnchor, StateFlare
from reasoner.consult.context import ANCHOR_NAMES
from reasoner.consult.limits import lowers_dose, reassess
from reasoner.consult.situation import Decision, Situation, refuse

__all__ = [
    "DATED", "STALL_CHOICES", "answer_stall", "date_doubtful", "dates_to_say", "first_after_flare", "opened_seq",
    "stall_first", "stall_text", "state_flare",
]  # fmt: skip

STALL_CHOICES = {
    "changed_hypothesis": "another idea of what limits",
    "imaging_question": "a question for imaging",
    "second_opinion": "a second opinion",
}
DATED = ("surgery", "cast_off", "union_on_film")  # what healing windows count from


def opened_seq(case: Situation) -> int:
    """Place in the record where this visit was opened."""
    opened = (r.seq for r in reversed(case.state.log) if isinstance(r.event, VisitOpened))
    return next(opened, 0)


# ------------------------------------------------------------------------------------------------ flare


def state_flare(case: Situation, command: StateFlare) -> Decision:
    """Worse after the last visit: how long, and swelling new since."""
    if case.state.visit < 2:
        return refuse("this is the first visit: nothing was given before it")
    if command.hours is not None and command.hours < 0:
        return refuse("hours below zero: not possible", "write for example: flare 36 h")
    rules = case.knowledge.policy.visit_rules
    lasted = "not known" if command.hours is None else "no" if command.hours == 0 else _span(command.hours)
    says = [f"worse after the last visit: {lasted}" + _swelling(command)]
    if rules is not None:
        long = command.hours is not None and command.hours > rules.reassess_hours
        if long or command.swelling == "present":
            cause = "new swelling" if command.swelling == "present" else f"over {words.number(rules.reassess_hours)} h"
            says.append(f"  {cause}: reassess before anything is given; not the same again")
        elif command.hours is not None and command.hours > rules.lower_dose_hours:
            says.append(f"  over {words.number(rules.lower_dose_hours)} h: a lower dose this time")
    return Decision((FlareStated(command.hours, command.swelling),), tuple(says))


def _span(hours: float) -> str:
    return f"{words.number(hours)} h" if hours < 72 else f"{words.number(hours / 24)} days"


def _swelling(command: StateFlare) -> str:
    return {"present": "; swelling new", "absent": "; no new swelling", "unknown": ""}[command.swelling]


def first_after_flare(case: Situation, *, dose: str) -> Decision | None:
    """What a flare asks for before a technique is given; None if nothing is lacking."""
    if reassess(case):
        flare = max((f.seq for f in case.state.flares if f.visit == case.state.visit), default=0)
        restated = case.state.irritability is not None and case.state.irritability.seq > flare
        planned = any(p.visit == case.state.visit and p.seq > flare for p in case.state.exam_plans)
        if not (restated and planned):
            return refuse(
                "it flared for long, or swelling is new since: reassess first",
                "irritability ..., then the examination plan: exam   (or: treat ... because ...)",
            )
    if lowers_dose(case) and not dose:
        return refuse("it was worse for over a day: what lower dose is given?", "write it: treat NAME DOSE")
    return None


# ------------------------------------------------------------------------------------------------ no progress


def stall_text(case: Situation) -> str:
    """What no progress means here: the pack's words and the signs."""
    rules = case.knowledge.policy.visit_rules
    signs = (
        f"{r.record.name} {words.number(r.before)} -> {words.number(r.after)}" for r in since_first(case)
    )
    return f"{rules.review_say if rules is not None else ''} ({words.listed(signs)})".strip()


def answer_stall(case: Situation, command: AnswerStall) -> Decision:
    """One of the three, in words."""
    name = STALL_CHOICES[command.choice]
    if not command.words.strip():
        return refuse(f"{name}: which?", f"write: stalled {command.choice.replace('_', ' ')}: ...")
    return Decision((StallAnswered(command.choice, command.words.strip()),), (f"no progress answered: {name}",))


def stall_first(case: Situation) -> Decision | None:
    """Going on as before needs an answer to no progress."""
    if not no_progress(case):
        return None
    return refuse(
        "no retest sign is better by more than error since the first visit",
        "write: stalled changed hypothesis: ... | imaging question: ... | second opinion: ...",
        needs=("stall",),
    )


# ------------------------------------------------------------------------------------------------ dates


def date_doubtful(case: Situation, anchor: str) -> bool:
    """A date that was stated and can no longer be counted from: the clock ran backwards or leapt."""
    stated = case.state.context.days_since.get(anchor)
    if stated is None or stated.days is None:
        return False
    return case.facts.days_since(anchor)[1] is None


def dates_to_say(case: Situation) -> Iterator[tuple[str, int, SetAnchor]]:
    """(in words, days, what a yes records) of every date that healing windows count from, once a visit."""
    began = opened_seq(case)
    for anchor in DATED:
        stated = case.state.context.days_since.get(anchor)
        _, days = case.facts.days_since(anchor)
        if stated is not None and days is not None and stated.seq < began:
            yield ANCHOR_NAMES[anchor], days, SetAnchor(anchor, days)
