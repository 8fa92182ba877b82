"""The danger screens alone: rules over facts, no chances. What a session looks at after every line."""

from __future__ import annotations

from dataclasses import dataclass

from reasoner.advice.asking import BEFORE_HANDS, screening_complete
from reasoner.advice.records import ScreenAdvice
from reasoner.advice.signed import signed_looser_screen
from reasoner.graph.knowledge import Knowledge
from reasoner.safety.screens import Screening, ScreenResult

__all__ = ["Danger", "danger"]


@dataclass(frozen=True, slots=True)
class Danger:
    """The part of the advice that rules alone decide."""

    screens: tuple[ScreenAdvice, ...]
    screening_complete: bool
    blocked: bool


def danger(screening: Screening) -> Danger:
    """Every screen, whether the always-ask set is complete, and whether an emergency or same-day screen is met."""
    results = screening.results()
    return Danger(
        screens=tuple(_screen(r, screening.facts.knowledge) for r in results),
        screening_complete=screening_complete(screening.facts, results),
        blocked=any(r.state == "met" and r.closing and r.screen.send in BEFORE_HANDS for r in results),
    )


def _screen(result: ScreenResult, knowledge: Knowledge) -> ScreenAdvice:
    screen = result.screen
    signed = signed_looser_screen(screen, knowledge)
    return ScreenAdvice(
        id=screen.id,
        name=screen.name,
        state=result.state,
        send=screen.send,
        hands=screen.hands,
        met_by=result.met_by,
        missing=result.missing,
        resolved=result.resolution is not None,
        say=screen.say_met if result.state == "met" else "",
        next_step=screen.next_step if result.closing else "",
        not_excluded=" ".join((screen.not_excluded, *(f"{s[0].upper()}{s[1:]}." for s in signed))).strip(),
        score=result.score,
    )
