"""Leaving a screen that has fired: never by changing the answer, always by saying what was done about it."""

from __future__ import annotations

from reasoner.case.events import ScreenResolved
from reasoner.consult.commands import Resolve
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.safety.screens import danger_standing

__all__ = ["PARTS", "resolve"]

PARTS = {
    "done": "What was done?",
    "result": "With what result?",
    "read_by": "Who read or decided it?",
    "when": "When?",
    "not_excluded": "What does that not exclude?",
}


def resolve(case: Situation, command: Resolve) -> Decision:
    """Every part is needed. It covers the danger answers standing now, for the screen's days; a new sign re-arms it."""
    screen = next((s for s in case.danger.screens if s.id == command.screen), None)
    record = case.knowledge.screens[command.screen]
    if screen is None or screen.state not in ("met", "open"):
        return refuse(f"{record.name}: neither met nor open, so there is nothing to resolve")
    lacking = tuple(part for part in PARTS if not getattr(command, part))
    if lacking:
        names = ", ".join(part.replace("_", " ") for part in lacking)
        return refuse(
            f"{record.name}: to resolve it say also: {names}",
            f"write: resolve {record.name}: done ...; result ...; read by ...; when ...; not excluded ...",
            needs=lacking,
        )
    met_by = tuple(name.partition("@")[0] for name in screen.met_by)
    covers = tuple(sorted(danger_standing(case.facts, met_by)))
    event = ScreenResolved(
        record.id, covers, command.done, command.result, command.read_by, command.not_excluded, command.when
    )
    days = "1 day" if record.resolve_days == 1 else f"{record.resolve_days} days"
    says = (
        f"{record.name}: resolved for {days}: {command.done}, {command.result} ({command.read_by}, {command.when})",
        f"  not excluded: {command.not_excluded}; any new or worse sign arms it again",
    )
    return Decision((event,), says)
