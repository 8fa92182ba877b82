"""Consent and treatment: what was agreed, what was really given, and the loop it opens.

What was done can always be recorded. Where it was not offered, that takes a reason, and the reason heads the review.
"""

from __future__ import annotations

from textwrap import shorten

from reasoner.advice.records import OptionAdvice
from reasoner.case.events import ConsentRecorded, Event, RetestExcused, Treated, VisitOpened
from reasoner.case.state import CaseState, Loop, Side
from reasoner.consult import words
from reasoner.consult.advising import advised, option_advice
from reasoner.consult.commands import Consent, ExcuseRetest, Treat
from reasoner.consult.following import first_after_flare, stall_first
from reasoner.consult.judging import judgement_first
from reasoner.consult.measuring import baseline_of, needs_retest, sign_name, signs
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.graph.records import OptionRecord

__all__ = [
    "COVERED", "COVER_KEYS", "NOTHING_TO_RETEST", "agreements", "consent", "consent_for", "excuse_retest", "open_loop",
    "treat",
]

# said before agreeing, each with the letter that names it
COVERED = ("what_why", "after_effects", "alternatives", "questions", "observer", "may_stop")
COVER_KEYS = {"w": "what_why", "a": "after_effects", "i": "alternatives", "q": "questions", "o": "observer",
              "s": "may_stop"}  # fmt: skip
_SHORT = 90  # letters of one reason; `why` gives all of it
_FIRST = 2
_BECAUSE = "if it was really given, say why: treat ... because ..."
NOTHING_TO_RETEST = "no retest sign belongs to this option"


def open_loop(case: Situation) -> Loop | None:
    """The last treatment without retest or excuse, of any visit."""
    waiting = [p for p in case.state.loops if not p.retested and not p.excused]
    return waiting[-1] if waiting else None


def consent_for(case: Situation, option: str) -> ConsentRecorded | None:
    """Consent that covers giving this option now: given in this visit, and no other technique since."""
    said, _ = _said_and_covered(case.state)
    return said[option] if option in said and said[option].answer == "given" else None


def agreements(state: CaseState) -> dict[int, ConsentRecorded]:
    """By number of the treatment, the agreement that covered it when it was given; without one it is not in it."""
    return _said_and_covered(state)[1]


def _said_and_covered(state: CaseState) -> tuple[dict[str, ConsentRecorded], dict[int, ConsentRecorded]]:
    """What was answered last in the latest visit, by option, as far as it still counts; and `agreements`."""
    said: dict[str, ConsentRecorded] = {}
    covered: dict[int, ConsentRecorded] = {}
    for event in (r.event for r in state.log):
        if isinstance(event, VisitOpened):
            said.clear()
        elif isinstance(event, ConsentRecorded):
            said[event.option] = event
        elif isinstance(event, Treated):
            said = {k: v for k, v in said.items() if k == event.option}  # another technique: the others are asked again
            if event.option in said and said[event.option].answer == "given":
                covered[event.loop] = said[event.option]
    return said, covered


def consent(case: Situation, command: Consent) -> Decision:
    """The patient's answer."""
    name = case.knowledge.options[command.option].name
    event = ConsentRecorded(command.option, command.answer, command.covered)
    said = {"given": "agreed", "refused": "not agreed", "withdrawn": "agreement taken back"}[command.answer]
    says = [f"{name}: {said}"]
    unsaid = words.covered_words(c for c in COVERED if c not in command.covered)
    if command.answer == "given" and unsaid:
        says.append(f"  not said before it: {words.listed(unsaid)}; that stays open in the note")
    return Decision((event,), tuple(says))


def treat(case: Situation, command: Treat) -> Decision:
    """Record an option as given; it opens a loop that waits for its retest."""
    option = case.knowledge.options[command.option]
    side = case.one_side(command.side, sided=True)
    if side is None:
        return refuse(f"{option.name}: which side?", f"write: treat {option.name} left ...")
    advice = option_advice(case, option.id, side)
    stood = advice.state if advice is not None else "not_yet"
    if stood in ("not_yet", "barred") and not command.reason:
        return _not_offered(case, option, advice)
    if not command.reason:
        first = _hindered(case, option, side) or _stopped(case, option, side, command) or _consent_first(case, option)
        if first is not None:
            return first
    number = 1 + max((r.event.loop for r in case.state.log if isinstance(r.event, Treated)), default=0)
    number = max(number, 1 + max((p.number for p in case.state.loops), default=0))
    events: list[Event] = [
        *advised(case),
        Treated(
            number, option.id, side, stood, command.dose, command.reason, command.late,
            advice.value if advice is not None else None,
        ),
    ]
    if not needs_retest(option):
        events.append(RetestExcused(number, NOTHING_TO_RETEST))
    return Decision(tuple(events), tuple(_says(case, option, side, stood, command)))


def _not_offered(case: Situation, option: OptionRecord, advice: OptionAdvice | None) -> Decision:
    """Not asked back for a reason: what was done against advice is written on purpose, in a line of its own."""
    barred = advice is not None and advice.state == "barred"
    reasons = [shorten(r.rstrip("."), _SHORT, placeholder=" ...") for r in (advice.reasons if advice else ())]
    why = "; ".join(reasons[:_FIRST]) or "not offered now"
    more = f" and {len(reasons) - _FIRST} more (why {option.name})" if len(reasons) > _FIRST else ""
    missing = advice.missing if advice is not None else ()
    names = [_fact(case, m) for m in missing]
    wanted = f"; not known: {words.listed(names, 3)}" if names and not barred else ""
    return refuse(f"{option.name}: {'barred' if barred else 'not yet'}: {why}{more}{wanted}", _BECAUSE)


def _fact(case: Situation, name: str) -> str:
    """A missing fact in words; a competence with the line that records it."""
    held = name.partition("competence.")[2]
    if held in case.knowledge.load_classes:
        return f"your competence, if you have it: competence {case.knowledge.load_classes[held].name}"
    return case.knowledge.findings[name].name if name in case.knowledge.findings else name


def _hindered(case: Situation, option: OptionRecord, side: Side) -> Decision | None:
    """What has to come before giving it: the last retest, a baseline."""
    if not needs_retest(option):
        return None
    loop = open_loop(case)
    if loop is not None:
        name = case.knowledge.options[loop.option].name if loop.option in case.knowledge.options else loop.option
        return refuse(f"{name} has no retest yet", "first: retest ...   (or: excuse because ...)")
    if not _baselines(case, side):
        wanted = signs(case) or option.retest
        names = words.listed(case.knowledge.measures[m].name for m in wanted if m in case.knowledge.measures)
        return refuse(
            f"{option.name}: none of its retest signs was measured in this visit, so no change could be seen",
            f"measure first: {names}   (or: treat ... because ...)",
        )
    return None


def _stopped(case: Situation, option: OptionRecord, side: Side, command: Treat) -> Decision | None:
    """What the course so far asks for before a technique: the side, one's own view, a flare, no progress."""
    if option.lane == "ask_or_send":
        return None
    ours = case.state.context.side
    if ours in ("left", "right") and side != ours:
        return refuse(
            f"the case is about the {ours} side; {option.name} {side}?", "if it is meant: treat ... because ..."
        )
    if not needs_retest(option):
        return None
    return judgement_first(case) or first_after_flare(case, dose=command.dose) or stall_first(case)


def _baselines(case: Situation, side: Side) -> list[str]:
    return [
        sign
        for sign in signs(case)
        if baseline_of(case, sign, side if case.knowledge.measures[sign].sided else "none") is not None
    ]


def _consent_first(case: Situation, option: OptionRecord) -> Decision | None:
    if option.lane == "ask_or_send" or consent_for(case, option.id) is not None:
        return None
    return refuse(
        f"{option.name}: no agreement recorded for it (it is asked again when the technique changes)",
        f"write: consent {option.name} yes",
        needs=("consent",),
    )


def _says(case: Situation, option: OptionRecord, side: Side, stood: str, command: Treat) -> list[str]:
    dose = f", {command.dose}" if command.dose else ""
    late = " (written down afterwards)" if command.late else ""
    lines = [f"given: {option.name},{words.of_side(side)}{dose}{late}"]
    if stood in ("not_yet", "barred"):
        lines.append(f"  recorded as given against advice: {command.reason}")
    if option.lane != "ask_or_send" and consent_for(case, option.id) is None:
        lines.append("  no agreement is recorded for it: this stays open in the note")
    if needs_retest(option):
        names = words.listed(sign_name(case, m) for m in signs(case))
        lines.append(f"  now the same signs again: {names or 'none was measured before'}")
        lines += _control(case, side)
    return lines


def _control(case: Situation, side: Side) -> list[str]:
    """The untreated side as control, where it was measured: what it gains too did not come from the treatment."""
    other: Side | None = {"left": "right", "right": "left"}.get(side)  # type: ignore[assignment]
    if other is None or (case.state.loops and case.state.loops[-1].visit == case.state.visit):
        return []
    for sign in signs(case):
        record = case.knowledge.measures[sign]
        if record.sided and record.kind not in ("pain", "function") and baseline_of(case, sign, other) is not None:
            return [f"  if time allows {record.name} {other} too, as control: what it gains was not the treatment"]
    return []


def excuse_retest(case: Situation, command: ExcuseRetest) -> Decision:
    """Close the open loop without a retest."""
    loop = open_loop(case)
    if loop is None:
        return refuse("nothing waits for a retest")
    if not command.reason:
        return refuse("a retest is left out only with a reason", "write: excuse because ...", needs=("reason",))
    return Decision((RetestExcused(loop.number, command.reason),), (f"no retest: {command.reason}",))
