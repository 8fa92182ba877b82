"""Answers about findings: on which side, echoed in words, and a danger answer taken back only with a reason."""

from __future__ import annotations

from reasoner.case.events import Answered, AnswerWithdrawn, BundleAnswered, Event
from reasoner.case.state import Side
from reasoner.consult import words
from reasoner.consult.commands import Answer, AnswerBundle, Withdraw
from reasoner.consult.limits import beyond_limit
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.graph.records import AlwaysAsk, Finding

__all__ = ["answer", "answer_bundle", "fired_by", "withdraw"]

_SAY_WHY = "add the reason: because ..."
_MOST_NAMED = 7  # of one question said back by name
_ALL = " (answers lists them)"


def fired_by(case: Situation, finding: str, side: Side) -> str | None:
    """Name of a met screen that stands on this answer being present now; None if there is none."""
    standing = case.facts.standing.get((finding, side))
    record = case.knowledge.findings.get(finding)
    if record is None or not record.danger or standing is None or standing.value != "present":
        return None
    for screen in case.danger.screens:
        if screen.state == "met" and any(name.partition("@")[0] == finding for name in screen.met_by):
            return screen.name
    return None


def answer(case: Situation, command: Answer) -> Decision:
    """Record an answer on one side, or on both."""
    finding = case.knowledge.findings[command.finding]
    if finding.kind in ("measured", "composite"):
        return _worked_out(case, finding)
    if command.sure is not None and not 0 < command.sure < 1:
        return refuse(f"{finding.name}: a sureness lies between 0 and 1", "write ~.7, or + or -")
    sides = _sides(case, finding, command.side)
    if not sides:
        return _which_side(case, finding)
    events: list[Event] = []
    says = []
    for side in sides:
        takes_back = _taken_back(case, finding, side, command)
        if isinstance(takes_back, Decision):
            return takes_back
        events += [*takes_back, Answered(finding.id, side, command.value, command.sure)]
        earlier = case.facts.standing.get((finding.id, side))
        was = f" (was {earlier.value})" if earlier is not None and earlier.value != command.value else ""
        says.append(words.answered(finding, side, command.value, command.sure) + was)
        ours = case.state.context.side
        if ours in ("left", "right") and side in ("left", "right") and side != ours:
            says.append(f"  the {side} side, although the case is about the {ours}: undo if that is a slip")
        if command.value != "unknown":
            says += beyond_limit(case, finding.id)
    plain = command.sure is None and command.value != "present" and says == [
        words.answered(finding, sides[0], command.value, None)
    ]
    return Decision(tuple(events), tuple(says), brief=words.brief(finding, sides[0], command.value) if plain else None)


def _taken_back(case: Situation, finding: Finding, side: Side, command: Answer) -> list[Event] | Decision:
    """The withdrawal that goes before an answer that is no longer "present", if a screen stands on it."""
    if command.value == "present" and command.sure is None:
        return []
    screen = fired_by(case, finding.id, side)
    if screen is None:
        return []
    if not command.reason:
        return refuse(
            f"{finding.name}: the screen '{screen}' was met by this answer; it is not changed without a reason",
            f"{_SAY_WHY} (what was done about it goes under: resolve)",
            needs=("reason",),
        )
    return [AnswerWithdrawn(finding.id, side, True, command.reason)]


def answer_bundle(case: Situation, command: AnswerBundle) -> Decision:
    """One answer to one of the questions asked before anything else."""
    bundle = next(b for b in case.knowledge.region.always_ask if b.id == command.bundle)
    entries = []
    for ident in bundle.findings:
        finding = case.knowledge.findings[ident]
        sides = _sides(case, finding, None, all_of_case=True)
        if not sides:
            return _which_side(case, finding)
        entries += [(finding, side) for side in sides]
    if command.value != "present":
        for finding, side in entries:
            standing = case.facts.standing.get((finding.id, side))
            if standing is not None and standing.value == "present":
                return refuse(
                    f"{finding.name}: recorded as present, so this question cannot be answered as a whole",
                    f"answer the rest by name, or take it back: withdraw {finding.name} because ...",
                )
    event = BundleAnswered(bundle.id, command.value, tuple(f"{f.id}@{side}" for f, side in entries))
    return Decision((event,), (_bundle_says(bundle, [f for f, _ in entries], command.value),))


def _bundle_says(bundle: AlwaysAsk, findings: list[Finding], value: str) -> str:
    if value == "present":
        return "yes to one of these: now one by one"
    names = tuple(dict.fromkeys(f.name for f in findings))
    return f"{words.VALUES[value]}: {words.listed(names, _MOST_NAMED)}" + _ALL * (len(names) > _MOST_NAMED)


def withdraw(case: Situation, command: Withdraw) -> Decision:
    """Take an answer back."""
    finding = case.knowledge.findings[command.finding]
    sides = [
        side
        for (ident, side) in case.facts.standing
        if ident == finding.id and command.side in (None, "both", side)
    ]
    if not sides:
        return refuse(f"{finding.name}: no answer stands that could be withdrawn")
    events: list[Event] = []
    for side in sides:
        screen = fired_by(case, finding.id, side)
        if screen is not None and not command.reason:
            return refuse(
                f"{finding.name}: the screen '{screen}' was met by this answer", _SAY_WHY, needs=("reason",)
            )
        events.append(AnswerWithdrawn(finding.id, side, screen is not None, command.reason))
    says = tuple(f"{finding.name}{words.of_side(s)}: withdrawn, counts as not asked" for s in sides)
    return Decision(tuple(events), says)


# ------------------------------------------------------------------------------------------------ sides


def _sides(
    case: Situation, finding: Finding, given: Side | None, *, all_of_case: bool = False
) -> tuple[Side, ...]:
    """Sides an answer is for; empty where it has to be said."""
    if not finding.sided:
        return ("none",)
    side = given if given in ("left", "right", "both") else case.state.context.side
    if side == "both":
        return ("left", "right") if given == "both" or all_of_case else ()
    return (side,) if side in ("left", "right") else ()


def _which_side(case: Situation, finding: Finding) -> Decision:
    if case.state.context.side is None:
        return refuse(f"{finding.name}: the side of the case is not known yet", "give it first: side left")
    return refuse(f"{finding.name}: which side?", f"write it: {finding.name} left ... (or right, or both)")


def _worked_out(case: Situation, finding: Finding) -> Decision:
    if finding.measured is not None:
        measure = case.knowledge.measures[finding.measured.measure].name
        return refuse(f"{finding.name}: worked out from a measure", f"enter the measure: {measure} L ... R ...")
    return refuse(f"{finding.name}: worked out from its parts", "answer the parts")
