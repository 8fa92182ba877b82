"""Screens: which are met, open, not met, or do not apply; and what resolving one covers.

State, with U = use_when, V = valid_when, B = the rule:
U or V certainly false -> does_not_apply (never reassuring); else B certainly true -> met, even if U or V is unknown;
else U and V certainly true and B certainly false -> not_met; else open.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cached_property
from typing import Literal

from reasoner.case.state import Resolution
from reasoner.facts.facts import Facts
from reasoner.facts.verdict import FALSE, TRUE, UNKNOWN
from reasoner.graph.records import Screen
from reasoner.safety.rules import Outcome, RuleContext, evaluate, score_interval

__all__ = ["ScreenResult", "ScreenState", "Screening", "danger_standing"]

ScreenState = Literal["met", "open", "not_met", "does_not_apply"]


@dataclass(frozen=True, slots=True)
class ScreenResult:
    """One screen's state with its reasons. `resolution`: the one that covers every danger answer standing now."""

    screen: Screen
    state: ScreenState
    met_by: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    resolution: Resolution | None = None
    score: tuple[float, float] | None = None
    in_use: bool = False  # its entry facts certainly hold

    @property
    def closing(self) -> bool:
        """Met or open, and not resolved: its `hands` limit holds."""
        return self.state in ("met", "open") and self.resolution is None


@dataclass
class Screening:
    """Every screen of a case, each worked out once. Screens read all sides: give it Facts with side None."""

    facts: Facts
    _results: dict[str, ScreenResult] = field(default_factory=dict)

    @cached_property
    def _suspects(self) -> Mapping[str, tuple[str, ...]]:
        return suspects(self.facts)

    @property
    def rules(self) -> RuleContext:
        """Context in which rules about these facts are evaluated."""
        return self.rules_for(self.facts)

    def rules_for(self, facts: Facts) -> RuleContext:
        """The same screens, with findings and measures read from `facts` (one side)."""
        return RuleContext(facts, self._verdict, self._suspects)

    def results(self) -> tuple[ScreenResult, ...]:
        """All screens in file order."""
        return tuple(self.result(s) for s in self.facts.knowledge.screens)

    def result(self, ident: str) -> ScreenResult:
        """One screen by id. The loader refuses rules that go round in a circle."""
        if ident not in self._results:
            self._results[ident] = self._judge(self.facts.knowledge.screens[ident])
        return self._results[ident]

    def take(self, results: Iterable[ScreenResult]) -> None:
        """Take over results that were worked out from the same answers by screens that read the same."""
        self._results.update((r.screen.id, r) for r in results)

    def _verdict(self, ident: str) -> Outcome:
        result = self.result(ident)
        if not result.closing:
            return Outcome(FALSE)
        if result.state == "met":
            return Outcome(TRUE, result.met_by)
        return Outcome(UNKNOWN, missing=result.missing)

    def _judge(self, screen: Screen) -> ScreenResult:
        rules = self.rules
        use, valid = evaluate(screen.use_when, rules), evaluate(screen.valid_when, rules)
        rule = evaluate(screen.rule, rules)
        score = self._score(screen)
        if use.verdict.false or valid.verdict.false:
            return ScreenResult(screen, "does_not_apply", score=score)
        if rule.verdict.certainly:
            return ScreenResult(screen, "met", rule.met_by, (), self._resolution(screen, rule.met_by), score)
        if use.verdict.certainly and valid.verdict.certainly and rule.verdict.false:
            return ScreenResult(screen, "not_met", score=score)
        # ask the entry facts first: where they are absent the rest need not be asked
        asked_first = use.missing if use.verdict.unknown else ()
        missing = asked_first or tuple(dict.fromkeys((*valid.missing, *rule.missing)))
        met_by = tuple(dict.fromkeys((*use.met_by, *rule.met_by)))
        resolution = self._resolution(screen, met_by)
        return ScreenResult(screen, "open", met_by, missing, resolution, score, use.verdict.certainly)

    def _score(self, screen: Screen) -> tuple[float, float] | None:
        composite = self.facts.knowledge.findings.get(screen.score)
        if composite is None or not isinstance(composite.composite, dict) or "score" not in composite.composite:
            return None
        return score_interval(composite.composite["score"], self.rules)[0]

    def _resolution(self, screen: Screen, met_by: tuple[str, ...]) -> Resolution | None:
        """The latest unexpired resolution that covers every danger answer now standing behind this screen."""
        standing = danger_standing(self.facts, met_by)
        for resolution in reversed(self.facts.state.resolutions):
            if resolution.screen != screen.id:
                continue
            age = self.facts.now - resolution.at if resolution.at is not None else timedelta(0)
            if age <= timedelta(days=screen.resolve_days) and standing <= set(resolution.covers):
                return resolution
        return None


def danger_standing(facts: Facts, met_by: tuple[str, ...]) -> frozenset[str]:
    """Present answers behind `met_by`, as "finding@side": what a resolution made now would cover."""
    wanted = set(met_by)
    return frozenset(
        f"{finding}@{side}"
        for (finding, side), answer in facts.standing.items()
        if finding in wanted and answer.value == "present"
    )


def suspects(facts: Facts) -> Mapping[str, tuple[str, ...]]:
    """Hypothesis id -> ids of the screens that stand for it."""
    found: dict[str, tuple[str, ...]] = {}
    for screen in facts.knowledge.screens.values():
        for hypothesis in screen.hypotheses:
            found[hypothesis] = (*found.get(hypothesis, ()), screen.id)
    for record in facts.knowledge.hypotheses.values():
        own = found.get(record.id, ())
        found[record.id] = tuple(dict.fromkeys((*own, *record.screens)))
    return found
