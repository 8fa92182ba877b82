"""Where a clinic's knowledge is looser than the shipped one and signed for: said at the option or screen it touches."""

from __future__ import annotations

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Entry
from reasoner.graph.records import OptionRecord, Screen

__all__ = ["signed_looser", "signed_looser_screen"]


def signed_looser(option: OptionRecord, knowledge: Knowledge) -> tuple[str, ...]:
    """What to say about one option: its own entry, or one of its load classes' gates and windows."""
    clinic = knowledge.clinic
    if clinic is None:
        return ()
    entries = [*clinic.signed_for("option", option.id)]
    for load_class in option.load_classes:
        entries += clinic.signed_for("load_class", load_class)
        entries += clinic.signed_for("protocol", within=load_class)
    return _said(entries)


def signed_looser_screen(screen: Screen, knowledge: Knowledge) -> tuple[str, ...]:
    """What to say about one screen."""
    clinic = knowledge.clinic
    return () if clinic is None else _said([*clinic.signed_for("screen", screen.id)])


def _said(entries: list[Entry]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"looser here than shipped ({e.id}), {e.signed}" for e in entries))
