"""An emergency handed over, a surgeon's order heard, and the end of care: acts that need every one of their parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from reasoner.case.events import EpisodeEnded, HandedOver, Noted, OrderHeard
from reasoner.consult import words
from reasoner.consult.commands import EndCase, HandOver, HearOrder
from reasoner.consult.measuring import sign_name, signs
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.consult.treating import open_loop
from reasoner.measures.baseline import value

__all__ = ["END_PARTS", "END_REASONS", "HAND_PARTS", "ORDER_PARTS", "end_case", "hand_over", "hear_order"]

HAND_PARTS = {
    "to": "Who took it (name of the service or code)?",
    "at": "When?",
    "travel": "How do they travel, and with whom?",
    "told": "What were they told?",
}
ORDER_PARTS = {"text": "What was the order?", "by": "Who gave it?", "when": "When?"}
END_PARTS = {
    "outcome": "Outcome against their goals, in your words?",
    "self_management": "What do they go on doing themselves?",
    "return_signs": "Come back if?",
}
END_REASONS = {
    "goals_met": "goals met", "partly_met": "goals partly met", "no_progress": "no progress",
    "their_choice": "their own choice", "sent_on": "sent on", "stopped_coming": "stopped coming", "other": "other",
}  # fmt: skip


def _lacking(command: object, parts: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(part for part in parts if not str(getattr(command, part)).strip())


def _named(parts: tuple[str, ...]) -> str:
    return ", ".join(p.replace("_", " ") for p in parts)


def hand_over(case: Situation, command: HandOver) -> Decision:
    """Who took over, when, how they travel, what they were told. Also written as a note for the documents."""
    lacking = _lacking(command, HAND_PARTS)
    if lacking:
        return refuse(
            f"hand-over: say also: {_named(lacking)}",
            "write: handover to ...; at ...; travel ...; told ...   (phoned, if by phone first)",
            needs=lacking,
        )
    event = HandedOver(command.to, command.at, command.travel, command.told, command.phoned)
    phoned = "phoned first; " if command.phoned else ""
    text = f"{phoned}taken by {command.to}, {command.at}; travels {command.travel}; told: {command.told}"
    says = [f"handed over: {text}"]
    if not command.phoned:
        says.append("  not by phone first: that stays open in the note")
    return Decision((event, Noted("handover", text)), tuple(says))


def hear_order(case: Situation, command: HearOrder) -> Decision:
    """A verbal order: who and when. Windows stay as they are until orders are seen in writing."""
    surgery = case.state.context.surgery
    if surgery is None or surgery.none:
        return refuse("no operation is recorded, so there are no orders", "first: surgery ...")
    lacking = _lacking(command, ORDER_PARTS)
    if lacking:
        return refuse(
            f"order: say also: {_named(lacking)}", "write: order WHAT; by ...; when ...", needs=lacking
        )
    event = OrderHeard(command.text, command.by, command.when)
    says = [f"order by word of mouth: {command.text} ({command.by}, {command.when})"]
    if surgery.orders != "known":
        says.append("  the later limits stay until it is seen in writing: orders known")
    return Decision((event,), tuple(says))


def end_case(case: Situation, command: EndCase) -> Decision:
    """The end of care here; then the visit is closed as any other."""
    loop = open_loop(case)
    if loop is not None:
        return refuse("a treatment waits for its retest", "first: retest ...   (or: excuse because ...)")
    lacking = _lacking(command, END_PARTS)
    if lacking:
        refused = refuse(
            f"finish: say also: {_named(lacking)}",
            "write: finish REASON; outcome ...; self-management ...; return if ...",
            needs=lacking,
        )
        return replace(refused, says=tuple(_goals(case))) if "outcome" in lacking else refused
    event = EpisodeEnded(command.reason, command.outcome, command.self_management, command.return_signs)
    says = [f"care here ends: {END_REASONS[command.reason]}", *_goals(case)]
    back = case.knowledge.region.return_to_activity
    if back is not None:
        says.append("  back to full activity: look at all of these together")
        says += [f"    {d.name}: {d.look_at}" for d in back.domains]
        says.append(f"  {back.cut_offs} ({back.basis}: {words.listed(back.evidence)})")
    return Decision((event,), tuple(says))


def _goals(case: Situation) -> list[str]:
    """What they wanted, in their words and in numbers, and the retest signs from the first to the latest value."""
    told = [n.text for n in case.state.notes if n.heading == "goal"]
    lines = [f'  they wanted: "{told[-1]}"'] if told else []
    for goal in case.state.goals:
        record = case.knowledge.measures.get(goal.measure)
        if record is not None:
            taken = _means(case, goal.measure, goal.side)
            now = words.number(taken[-1]) if taken else "not measured"
            lines.append(f"  goal {record.name}{words.of_side(goal.side)} {words.number(goal.value)}: now {now}")
    for sign in signs(case):
        for side in case.facts.case_sides if case.knowledge.measures[sign].sided else ("none",):
            taken = _means(case, sign, side)
            if len(taken) > 1:
                change = f"{words.number(taken[0])} at first, {words.number(taken[-1])} at the last"
                lines.append(f"  {sign_name(case, sign)}{words.of_side(side)}: {change}")
    return lines


def _means(case: Situation, measure: str, side: str) -> list[float]:
    taken = [m for m in case.state.measurements if (m.measure, m.side) == (measure, side)]
    return [value(m.values) for m in taken if m.values]
