"""Documents that left the room and no longer hold: which to recall, and why. Rules and the record only, no beliefs.

An export is an event; what it listed is kept with it. Recorded after it: a danger screen newly met, a screen resolved,
an answer that closes something the sheet told the patient to do, the orders or dates that healing windows count from.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from reasoner.advice.records import Advice
from reasoner.case.apply import replay
from reasoner.case.events import AnchorStated, Exported, ImmobilisedStated, Recorded, ScreenResolved, SurgeryStated
from reasoner.case.state import CaseState
from reasoner.consult.standing import standing
from reasoner.graph.knowledge import Knowledge

__all__ = ["RECALLED", "recall_lines"]

# what others act on; data exports are read by programs and carry their own time
RECALLED = {"note": "note", "letter": "letter", "handover": "hand-over", "home": "home sheet", "html": "printed note"}
_WINDOWS = (AnchorStated, SurgeryStated, ImmobilisedStated)


def recall_lines(
    knowledge: Knowledge, state: CaseState, advice: Advice, now: datetime, *, waiting: bool = True
) -> tuple[str, ...]:
    """One line for each kind of document whose last copy is overtaken: "recall the 10:42 home sheet: ...".

    `waiting` False: what only waits for an answer is no reason yet, as in the middle of a visit that is still asking.
    """
    last: dict[str, Recorded] = {}
    for recorded in state.log:
        if isinstance(recorded.event, Exported) and recorded.event.document in RECALLED:
            last[recorded.event.document] = recorded
    lines = []
    for document, recorded in last.items():
        reasons = tuple(dict.fromkeys(_reasons(knowledge, state, advice, now, recorded, waiting)))
        if reasons:
            lines.append(f"recall the {_when(recorded.at, now)} {RECALLED[document]}: {'; '.join(reasons)}")
    return tuple(lines)


def _when(at: datetime, now: datetime) -> str:
    day = "" if at.date() == now.astimezone(at.tzinfo).date() else f"{at:%a} {at.day} {at:%b} "
    return f"{day}{at:%H:%M}"


def _reasons(
    knowledge: Knowledge, state: CaseState, advice: Advice, now: datetime, exported: Recorded, waiting: bool
) -> Iterator[str]:
    event: Exported = exported.event  # type: ignore[assignment]
    before = replay(r for r in state.log if r.seq < exported.seq)
    later = [r for r in state.log if r.seq > exported.seq]
    known = {s.screen.id for s in standing(knowledge, before, exported.at)}
    for one in standing(knowledge, state, now):
        if one.screen.id not in known:
            yield f"danger sign recorded after it ({one.screen.name}: criteria met)"
    for recorded in later:
        if isinstance(recorded.event, ScreenResolved):
            name = knowledge.screens[recorded.event.screen].name if recorded.event.screen in knowledge.screens else ""
            yield f"a screen was resolved after it ({name or recorded.event.screen})"
    asked = waiting and advice.screening_complete  # a new visit asks all of it again
    shut = ("barred", "not_yet") if asked else ("barred",)
    closed = [o for o in advice.options if o.id in event.options and o.state in shut]
    if closed and later:
        yield "it lists what now has to wait (" + ", ".join(dict.fromkeys(o.name for o in closed)) + ")"
    if event.options and any(isinstance(r.event, _WINDOWS) for r in later):
        yield "dates, operation or orders were changed after it: healing windows count from them"

