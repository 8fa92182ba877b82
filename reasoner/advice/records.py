"""Advice as data: what `advise` returns and every view, report and decision reads. No rendering here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

__all__ = [
    "Advice", "Conflict", "Contribution", "HypothesisAdvice", "OptionAdvice", "Question", "ScreenAdvice", "ScreenState",
    "Steadiness",
]

ScreenState = Literal["met", "open", "not_met", "does_not_apply"]
OptionState = Literal["offered", "caution", "not_yet", "barred"]


@dataclass(frozen=True, slots=True)
class ScreenAdvice:
    """One screen's state and what to do."""

    id: str
    name: str
    state: ScreenState
    send: str
    hands: str
    met_by: tuple[str, ...] = ()  # "finding@side" or a rule atom in words
    missing: tuple[str, ...] = ()  # finding ids or context names that keep it open
    resolved: bool = False
    say: str = ""
    next_step: str = ""
    not_excluded: str = ""
    score: tuple[float, float] | None = None  # interval of the score shown beside it


@dataclass(frozen=True, slots=True)
class Contribution:
    """One step of a belief, in the order recorded: nats of log odds. Steps sum to the total move."""

    name: str  # finding, group or measure id
    value: str
    nats: float
    if_wrong: float | None = None  # chance of the hypothesis if this answer alone were unknown


@dataclass(frozen=True, slots=True)
class HypothesisAdvice:
    """One hypothesis on one side."""

    id: str
    name: str
    list: str  # limits | injured_or_ill | must_not_miss | pain_mechanism | feeds_it
    chance: float
    base: float  # its base rate here, modifiers included
    words: str  # "fits best" | "fits" | "little for it" | "open: ..." | ...
    for_: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    range: tuple[float, float] | None = None
    side: str | None = None
    screen_state: str | None = None
    next_step: str = ""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """Whether the first of one list stays first when every number is drawn from its interval."""

    list: str
    lead: str  # hypothesis id
    held: float  # share of draws in which it leads
    words: str  # "steady" | "leads narrowly" | "hangs on one answer" | "cannot be told apart"
    rivals: tuple[str, ...] = ()  # ids that lead in a tenth of the draws or more
    hangs_on: str = ""  # the answer without which another would lead, if there is one
    side: str | None = None


@dataclass(frozen=True, slots=True)
class Conflict:
    """The answers fit no combination of hypotheses well."""

    answer: str  # finding id: what goes least with the rest
    value: str  # the same with `=absent` where that was the answer
    chance: float  # of that answer, given all others
    z: float  # surprise of all answers beyond what is to be expected, in standard deviations
    side: str | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """Something worth asking next."""

    id: str
    kind: Literal["finding", "measure", "screen", "response"]  # response: only among `trials`
    ask: str
    gain_bits: float
    minutes: float
    position: str = ""
    why: str = ""
    changes: str = ""  # the answer that would put another option first, if one would


@dataclass(frozen=True, slots=True)
class OptionAdvice:
    """One option in its lane."""

    id: str
    name: str
    lane: str
    state: OptionState
    value: float | None = None
    if_touch: float | None = None
    chance_real_change: float | None = None  # if the studies hold
    certainty: str = ""
    sign: str = ""  # retest measure the value is for
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    relevant: bool = True
    side: str | None = None
    range: tuple[float, float] | None = None  # of `value`, 5-95 % of the draws


@dataclass(frozen=True, slots=True)
class Advice:
    """Everything the tool would say now. `blocked`: an emergency or same-day screen is met."""

    region: str
    knowledge: str
    covered: bool | None  # None: not known yet
    screening_complete: bool
    blocked: bool
    ask_first: tuple[Question, ...]
    screens: tuple[ScreenAdvice, ...]
    hypotheses: tuple[HypothesisAdvice, ...]
    questions: tuple[Question, ...]
    options: tuple[OptionAdvice, ...]
    informative: int = 0  # answers that carry weight
    askable: int = 0
    impossible: tuple[str, ...] = ()  # answers that cannot all hold, if any
    conflicts: tuple[Conflict, ...] = ()  # one a side whose answers fit no combination well
    waiting: float | None = None  # chance of a real change from waiting, same sign
    approximate: bool = False
    not_covered_say: str = ""
    steadiness: tuple[Steadiness, ...] = ()  # empty with `drawn` False: not worked out here
    drawn: bool = False  # were the numbers drawn from their intervals?
    trials: tuple[Question, ...] = ()  # options whose response would tell most, best first
    # True: no single remaining question changes the first option or a screen. None: no option is open, or not exact.
    nothing_changes: bool | None = None
    extra: Mapping[str, Any] = field(default_factory=dict)
