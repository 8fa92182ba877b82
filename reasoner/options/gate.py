"""Gates on load classes: the same for techniques, tests, measures and retests.

An act is as open as the strictest of its load classes lets it be: offered < caution < not_yet < barred.
An unknown bar gives not_yet and names the missing answer; an unknown caution gives caution naming it.
Nothing here reads a probability: a chance never opens anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from reasoner.facts.facts import Facts
from reasoner.facts.verdict import TRUE, Verdict
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Caution, Gate, LoadClass, Protocol, Rule, Window
from reasoner.safety.rules import Outcome, RuleContext, evaluate
from reasoner.safety.screens import Screening, ScreenResult

__all__ = [
    "BEFORE_HANDS", "HANDS", "Barrier", "GateResult", "GateState", "Gatekeeper", "Part", "parts_of", "worst",
]  # fmt: skip

GateState = Literal["offered", "caution", "not_yet", "barred"]
ORDER: dict[GateState, int] = {"offered": 0, "caution": 1, "not_yet": 2, "barred": 3}
BEFORE_HANDS = ("emergency", "same_day")  # urgencies that close what their `hands` closes
_MEANWHILE = {
    "nothing": "better nothing",
    "protect_only": "better only protection",
    "active_pain_free": "better only active, pain-free movement",
}
HANDS = {"nothing": 0, "protect_only": 1, "active_pain_free": 2, "unrestricted": 3}


@dataclass(frozen=True, slots=True)
class Barrier:
    """One reason why an act is not simply offered."""

    state: GateState
    say: str
    missing: tuple[str, ...] = ()
    basis: str = "practice"
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class GateResult:
    """The strictest state and every barrier, strictest first."""

    state: GateState
    barriers: tuple[Barrier, ...] = ()

    @property
    def open(self) -> bool:
        """May be offered or asked for (with or without a caution)."""
        return self.state in ("offered", "caution")

    @property
    def missing(self) -> tuple[str, ...]:
        """Answers that would decide what holds it at this state: open bars of not_yet, open cautions of caution."""
        return tuple(dict.fromkeys(name for b in self.barriers if b.state == self.state for name in b.missing))


def worst(barriers: Iterable[Barrier]) -> GateResult:
    """The strictest of several barriers; offered if there is none. Identical barriers are given once."""
    ranked = sorted(dict.fromkeys(barriers), key=lambda b: -ORDER[b.state])
    return GateResult(ranked[0].state if ranked else "offered", tuple(ranked))


Part = tuple[GateState, Gate] | tuple[Protocol, Window]


def parts_of(knowledge: Knowledge, record: LoadClass) -> Iterator[Part]:
    """Bars, healing windows and cautions of a load class, whatever the screens say."""
    for bar in record.bars:
        yield "barred", bar
    for protocol in knowledge.protocols.values():
        for window in protocol.windows:
            if window.load_class == record.id:
                yield protocol, window
    for caution in record.cautions:
        yield "caution", caution


@dataclass
class Gatekeeper:
    """Judges acts on one side of a case. `covered`: does the pack cover this person."""

    screening: Screening
    facts: Facts
    covered: Verdict
    unanswered: tuple[str, ...]  # always-ask facts without an answer
    _classes: dict[str, tuple[Barrier, ...]] = field(default_factory=dict)
    _applies: dict[str, Outcome] = field(default_factory=dict)  # by protocol

    @property
    def rules(self) -> RuleContext:
        """Rules read this side's findings."""
        return self.screening.rules_for(self.facts)

    def judge(
        self, classes: Iterable[str], cautions: Iterable[Caution] = (), *, covered_only: bool = False
    ) -> GateResult:
        """State of an act with these load classes. `covered_only`: for whom the pack covers, and nobody else."""
        barriers = [b for name in classes for b in self._class(name)]
        barriers += [b for c in cautions for b in self._rule("caution", c.when, c)]
        if covered_only:
            barriers += self._coverage()
        return worst(barriers)

    def _coverage(self) -> list[Barrier]:
        region = self.facts.knowledge.region
        if self.covered.certainly:
            return []
        if self.covered.unknown:
            missing = evaluate(region.covers, self.rules).missing
            return [Barrier("not_yet", "whether this pack covers them is not known yet", missing)]
        return [Barrier("barred", region.covers_say)]

    def _class(self, name: str) -> tuple[Barrier, ...]:
        if name not in self._classes:
            record = self.facts.knowledge.load_classes[name]
            self._classes[name] = tuple(self._barriers(record))
        return self._classes[name]

    def _barriers(self, record: LoadClass) -> Iterator[Barrier]:
        if record.needs_screening and self.unanswered:
            yield Barrier("not_yet", "the always-ask questions are not all answered", self.unanswered)
        yield from self.hands(record, self._closing)
        for part in parts_of(self.facts.knowledge, record):
            yield from self.part(part)

    def applies(self, protocol: Protocol) -> Outcome:
        """Is this somebody the protocol is for?"""
        if protocol.id not in self._applies:
            self._applies[protocol.id] = evaluate(protocol.applies_when, self.rules)
        return self._applies[protocol.id]

    def part(self, part: Part) -> Iterator[Barrier]:
        """What one bar, healing window or caution of a load class holds back."""
        first, second = part
        if isinstance(first, Protocol):
            assert isinstance(second, Window)
            yield from self._window(first, second)
        else:
            assert isinstance(second, Gate)
            yield from self._rule(first, second.when, second)

    def hands(self, record: LoadClass, results: Iterable[ScreenResult]) -> Iterator[Barrier]:
        """What these screens, met or open, hold back.

        An emergency or same-day screen bars while met and holds back while open; a less urgent one is a caution.

        Both states of a less urgent screen give a caution, so that taking an answer away never lifts one; what such a
        danger must bar outright, the load class bars itself.
        """
        not_looked_at = []
        for result in results:
            if HANDS[record.needs_hands] <= HANDS[result.screen.hands]:
                continue
            if result.screen.send in BEFORE_HANDS or result.state == "met":
                yield _closed_by(result)
            else:
                not_looked_at.append(result.screen.name)
        if not_looked_at:
            yield Barrier("caution", f"not looked at yet: {', '.join(not_looked_at)}")

    @cached_property
    def _closing(self) -> tuple[ScreenResult, ...]:
        return tuple(r for r in self.screening.results() if r.closing)

    def _rule(self, state: GateState, when: Rule, said: Gate | Caution) -> Iterator[Barrier]:
        outcome = evaluate(when, self.rules)
        if outcome.verdict.certainly:
            yield Barrier(state, said.say, (), said.basis, said.evidence)
        elif outcome.verdict.unknown:
            held: GateState = "not_yet" if state == "barred" else "caution"
            yield Barrier(held, f"not known: {said.say}", outcome.missing, said.basis, said.evidence)

    def _window(self, protocol: Protocol, window: Window) -> Iterator[Barrier]:
        applies = self.applies(protocol)
        if applies.verdict.false:
            return
        happened, days = self.facts.days_since(window.counted_from)
        if happened.certainly and days is not None and days // 7 >= window.later_weeks:
            return
        missing = applies.missing
        if happened.unknown or (happened == TRUE and days is None):
            missing = (*missing, f"days_since.{window.counted_from}")
        words = _window_words(protocol, window, happened, days)
        yield Barrier("not_yet", words, missing, window.basis, window.evidence)


def _closed_by(result: ScreenResult) -> Barrier:
    screen = result.screen
    if result.state == "open":
        return Barrier("not_yet", f"{screen.name}: open", result.missing, screen.basis, screen.evidence)
    if screen.send in BEFORE_HANDS:
        return Barrier("barred", f"{screen.name}: criteria met", (), screen.basis, screen.evidence)
    said = f"{screen.name}: criteria met ({screen.send}); {_MEANWHILE[screen.hands]} until it has been seen"
    return Barrier("caution", said, (), screen.basis, screen.evidence)


def _window_words(protocol: Protocol, window: Window, happened: Verdict, days: int | None) -> str:
    anchor = window.counted_from.replace("_", " ")
    limit = f"{protocol.name}: not before week {window.later_weeks} after {anchor}"
    if window.earlier_weeks is not None and window.earlier_weeks < window.later_weeks:
        kind = "published" if window.basis == "published" else "usual"
        limit += f" ({kind} limits {window.earlier_weeks} to {window.later_weeks} weeks; orders decide)"
    if happened.false:
        return f"{limit}; that has not happened"
    if days is None:
        return f"{limit}; time since is not known"
    return f"{limit}; now week {days // 7}"
