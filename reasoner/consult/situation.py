"""What a decision looks at, and what it comes to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from reasoner.advice.danger import Danger, danger
from reasoner.advice.records import Advice
from reasoner.case.events import Event
from reasoner.case.state import CaseState, Side, Visit
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import Problem
from reasoner.safety.screens import Screening

__all__ = ["Decision", "Situation", "Stamp", "is_reason", "refuse"]

_LEAST_LETTERS = 3


@dataclass(frozen=True, slots=True)
class Stamp:
    """When (with time zone), by whom (a code, not a name), in what role."""

    now: datetime
    by: str
    role: str


@dataclass(frozen=True, slots=True)
class Decision:
    """Events to record, what to say about them, or why not.

    `needs`: what the same command still lacks (consent, reason, or parts of a resolution); then nothing is recorded.
    With them `says` is what to look at while it is asked for.
    `brief`: (value, name) where that is all there is to say, so that several of one line can be said together.
    """

    events: tuple[Event, ...] = ()
    says: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    needs: tuple[str, ...] = ()
    brief: tuple[str, str] | None = None

    @property
    def refused(self) -> bool:
        """Nothing may be recorded."""
        return any(p.level == "error" for p in self.problems)


@dataclass(frozen=True)
class Situation:
    """A case as it stands. `advise` is called only where a decision depends on it: advice costs time."""

    knowledge: Knowledge
    state: CaseState
    advise: Callable[[], Advice]
    stamp: Stamp

    @cached_property
    def facts(self) -> Facts:
        """Facts of the whole case, every side."""
        return Facts(self.knowledge, self.state, self.stamp.now)

    @cached_property
    def advice(self) -> Advice:
        """What the tool would say now."""
        return self.advise()

    @cached_property
    def danger(self) -> Danger:
        """The danger screens alone, at a fraction of the cost of the whole advice."""
        return danger(Screening(self.facts))

    @property
    def open_visit(self) -> Visit | None:
        """The visit that is going on, if one is."""
        last = self.state.visits[-1] if self.state.visits else None
        return last if last is not None and last.closed_at is None else None

    def one_side(self, given: Side | None, sided: bool) -> Side | None:
        """The side something was recorded for; None where it has to be said."""
        if not sided:
            return "none"
        side = given if given in ("left", "right") else self.state.context.side
        return side if side in ("left", "right") else None


def is_reason(text: str) -> bool:
    """Words, not a slip of a key: at least three letters."""
    return sum(c.isalpha() for c in text) >= _LEAST_LETTERS


def refuse(message: str, hint: str = "", *, needs: tuple[str, ...] = ()) -> Decision:
    """A decision that records nothing and says why."""
    return Decision(problems=(Problem("", message, hint),), needs=needs)
