"""Where a clinic's knowledge is looser than the shipped one and signed for: said at the opening, and again at the
option or screen that it touches."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Entry
from reasoner.graph.records import OptionRecord, Screen
from reasoner.graph.rules import rules_of, steps
from reasoner.options.gate import Gatekeeper

__all__ = ["signed_lines", "signed_looser", "signed_looser_screen"]

_MOST = 4


def signed_lines(knowledge: Knowledge) -> tuple[str, ...]:
    """Every entry signed for as looser, and those whose signature has run out. A line each; none without a clinic."""
    signed = [e for e in knowledge.clinic.entries if e.signed is not None] if knowledge.clinic is not None else []
    told = [
        f"Signed until {e.signed.until}, which is over: the shipped {e.id} holds." if e.expired else _sentence(e)
        for e in signed
        if e.signed is not None
    ]
    rest = len(told) - _MOST
    return (*told[:_MOST], *((f"and {rest} signed more: knowledge diff",) if rest > 0 else ()))


def signed_looser(option: OptionRecord, gates: Gatekeeper) -> tuple[str, ...]:
    """What to say about one option: its own entry, or one of its load classes' gates and windows.

    A protocol's only where it is, or may be, this person's.
    """
    knowledge = gates.facts.knowledge
    clinic = knowledge.clinic
    if clinic is None:
        return ()
    entries = [*clinic.signed_for("option", option.id)]
    for load_class in option.load_classes:
        entries += clinic.signed_for("load_class", load_class)
        entries += [
            e
            for e in clinic.signed_for("protocol", within=load_class)
            if not gates.applies(knowledge.protocols[e.id]).verdict.false
        ]
    return _said(entries)


def signed_looser_screen(screen: Screen, knowledge: Knowledge) -> tuple[str, ...]:
    """What to say about one screen: its own entry, what it looks for, and the signs its rules read."""
    clinic = knowledge.clinic
    if clinic is None or not any(e.signed is not None for e in clinic.entries):
        return ()
    entries = [*clinic.signed_for("screen", screen.id)]
    entries += [e for h in screen.hypotheses for e in clinic.signed_for("hypothesis", h)]
    read = {s.rule for _, rule in rules_of("screen", screen) for s in steps(rule) if isinstance(s.rule, str)}
    entries += [e for e in clinic.signed_for("finding") if e.id in read]
    return _said(entries)


def _sentence(entry: Entry) -> str:
    (said,) = _said([entry])
    return f"{said[0].upper()}{said[1:].rstrip('.')}."


def _said(entries: Iterable[Entry]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(f"looser here than shipped ({e.id}), {e.signed}" for e in entries))
