"""Cases of many visits for tests: events in, state out. Invented numbers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from reasoner.case.apply import replay
from reasoner.case.events import (
    CaseOpened,
    ContextStated,
    Event,
    Measured,
    Recorded,
    Retested,
    SignsChosen,
    Treated,
    VisitClosed,
    VisitOpened,
)
from reasoner.case.state import CaseState
from tests.visit import START

__all__ = ["case", "events"]


def events(
    befores: Sequence[float | None], *, other: float | None = 9.0, gain: float | None = 2.0, first_treated: int = 1,
    tool: Sequence[str] = (), by: Sequence[str] = (), days: int = 7, side: str = "left",
) -> list[Recorded]:
    """One visit a value of knee_to_wall (None: not measured), `days` apart; treated from visit `first_treated` on."""
    made: list[Recorded] = []
    opposite = "right" if side == "left" else "left"

    def put(event: Event, visit: int, minutes: int = 0) -> None:
        at = START + timedelta(days=days * (visit - 1), minutes=minutes)
        made.append(Recorded(len(made) + 1, at, by[visit - 1] if by else "KM", "physio", event))

    put(CaseOpened("oak-17", "demo", "ankle"), 1)
    for number, before in enumerate(befores, 1):
        put(VisitOpened(number), number)
        if number == 1:
            put(ContextStated("side", side), number)  # type: ignore[arg-type]
            put(ContextStated("setting", "after_sprain"), number)
            put(SignsChosen(("knee_to_wall",), "stairs"), number)
        used = tool[number - 1] if tool else "tape"
        if before is not None:
            put(Measured("knee_to_wall", side, used, (before,) * 3, "heel down"), number)  # type: ignore[arg-type]
        if number == 1 and other is not None:
            put(Measured("knee_to_wall", opposite, "tape", (other,) * 3, "heel down"), number)  # type: ignore[arg-type]
        if before is not None and gain is not None and number >= first_treated:
            put(Treated(number, "back_glide", side, "offered", "3 x 60 s"), number, 10)  # type: ignore[arg-type]
            after = Measured("knee_to_wall", side, used, (before + gain,) * 3, "heel down", "retest", number)  # type: ignore[arg-type]
            put(after, number, 20)
            put(Retested(number, "beyond"), number, 20)
        put(VisitClosed(), number, 30)
    return made


def case(befores: Sequence[float | None], **how: object) -> CaseState:
    """The state after these visits."""
    return replay(events(befores, **how))  # type: ignore[arg-type]
