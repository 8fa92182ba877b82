"""Made-up case states at which a change of knowledge would show: at every bound of its rules and windows.

Deterministic: the same knowledge gives the same states. They are built from what the rules themselves read, so that a
loosened window is looked at on the day before and the day it opens, a threshold on both sides, and every danger sign
alone, in pairs and together with the others of its screen.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import combinations, product
from typing import Any

from reasoner.case.state import (
    Anchor,
    Answer,
    CaseState,
    Context,
    Immobilised,
    Measurement,
    Resolution,
    Side,
    Surgery,
    Visit,
)
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Measure
from reasoner.graph.rules import rules_of, steps
from reasoner.upkeep.likely import stories

__all__ = ["GATES", "NOW", "Made", "made_states"]

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
GATES = "gates"
_MOST_IN_PAIRS = 6
_RANDOM = 60
_ANCHORS = ("injury", "surgery", "cast_off", "union_on_film")


@dataclass(frozen=True, slots=True)
class Made:
    """A state and what it is, in words for a message. `whole`: also worth working the chances out.

    `about`: the screen whose bounds it stands at, or `gates` for those of a healing window or bar: where those are not
    in question nothing shows that no other state shows. Empty: always looked at.
    """

    words: str
    state: CaseState
    whole: bool = False
    about: str = ""


def made_states(*several: Knowledge) -> tuple[Made, ...]:
    """States for comparing these versions of one region's knowledge: at the bounds of all of them."""
    builder = _Builder(several)
    return (
        Made("nothing asked yet", CaseState(case="made", region=builder.region, visits=(Visit(1, NOW),)), True),
        Made("everything denied", builder.calm()),
        *builder.of_screens(),
        *builder.of_gates(),
        *builder.of_bounds(),
        *builder.of_windows(),
        *builder.of_measures(),
        *builder.of_time(),
        *builder.drawn(),
        *builder.of_chances(),
    )


class _Builder:
    def __init__(self, several: tuple[Knowledge, ...]) -> None:
        self.several = several
        first = several[0]
        self.region = first.region.id
        self.known = {f.id: f for k in several for f in k.findings.values() if f.kind not in ("measured", "composite")}
        self.places = {ident: n for n, ident in enumerate(self.known)}
        self.denied = tuple(
            Answer(ident, "left" if finding.sided else "none", "absent", None, NOW, seq=n)
            for n, (ident, finding) in enumerate(self.known.items(), 1)
        )
        self.competences = frozenset(c for k in several for c in k.load_classes)

    # ------------------------------------------------------------------------------------------- building

    def calm(self, present: tuple[str, ...] = (), context: Context | None = None, **fields: Any) -> CaseState:
        """Everything asked and denied, but for `present`."""
        answers = list(self.denied)
        for finding in present:
            place = self.places[finding]
            answers[place] = replace(answers[place], value="present")
        given = context if context is not None else self.context()
        return CaseState(
            case="made", region=self.region, context=given, answers=tuple(answers), visits=(Visit(1, NOW),),
            competences=self.competences, **fields,
        )  # fmt: skip

    def context(self, **parts: Any) -> Context:
        """A grown-up with nothing operated, immobilised or dated, and parts of that replaced."""
        days = {name: Anchor(None, NOW, none=True) for name in _ANCHORS}
        dated = {name: Anchor(value, NOW) for name, value in parts.pop("days", {}).items()}
        plain = Context(
            side="left", age=40.0, sex="female", setting="not_stated", days_since={**days, **dated},
            immobilised=Immobilised(none=True), surgery=Surgery(none=True),
        )  # fmt: skip
        return replace(plain, **parts)

    def of_chances(self) -> Iterator[Made]:
        """Stories told to somebody who has asked nothing else: what is told moves the chances most."""
        for story in stories(self.several, self.known):
            told = (Answer(f, "left" if self.known[f].sided else "none", "present", None, NOW) for f in story.present)
            context = Context(side="left", age=story.age, sex=story.sex, setting=story.setting)
            state = CaseState(
                case="made", region=self.region, context=context, visits=(Visit(1, NOW),),
                answers=tuple(replace(a, seq=n) for n, a in enumerate(told, 1)),
            )  # fmt: skip
            yield Made(story.words, state, True)

    # ------------------------------------------------------------------------------------------- screens

    def of_screens(self) -> Iterator[Made]:
        """Each screen's signs: alone, in pairs and all together, on a context in which it is used."""
        for ident, signs, contexts in self._screens():
            for context in contexts:
                yield Made(f"every sign of {ident}", self.calm(signs, context), True)
                for one in signs:
                    yield Made(f"{one} alone", self.calm((one,), context), about=ident)
                if len(signs) <= _MOST_IN_PAIRS:
                    for pair in combinations(signs, 2):
                        yield Made(" and ".join(pair), self.calm(pair, context), about=ident)

    def _screens(self) -> Iterator[tuple[str, tuple[str, ...], tuple[Context, ...]]]:
        idents = dict.fromkeys(i for k in self.several for i in k.screens)
        for ident in idents:
            rules = [r for k in self.several if ident in k.screens for _, r in rules_of("screen", k.screens[ident])]
            yield ident, self._signs(rules), (self.context(days={"injury": 3}, setting=_setting(rules)),)

    def _signs(self, rules: list[Any]) -> tuple[str, ...]:
        """Findings that these rules read, those inside a composite one included."""
        found, left = dict[str, None](), list(rules)
        while left:
            for ident in _findings(left.pop(0)):
                inner = [k.findings[ident].composite for k in self.several if ident in k.findings]
                left += [rule for rule in inner if rule is not None and ident not in found]
                found[ident] = None
        return tuple(ident for ident in found if ident in self.known)

    def of_gates(self) -> Iterator[Made]:
        """What each bar and caution reads: every finding of its rule present, each alone, in a setting it names.

        On both sides of every age, day and setting that any rule of that entry names: else a rule that holds in all
        of these states would hide the loss of another.
        """
        seen: set[tuple[object, ...]] = set()
        for k in self.several:
            for kind, table, tables in (
                ("load_class", k.load_classes, [one.load_classes for one in self.several]),
                ("option", k.options, [one.options for one in self.several]),
            ):
                for ident, record in table.items():
                    beside = [rule for one in tables if ident in one for _, rule in rules_of(kind, one[ident])]
                    for _, rule in rules_of(kind, record):
                        signs = self._signs([rule])
                        setting = next(iter(_named(rule, "setting")), "not_stated")
                        plain = self.context(setting=setting, days={"injury": 60})
                        for context in self._around(beside, plain) if signs else ():
                            what = (context.age, context.setting, tuple(context.days_since.items()))
                            for present in dict.fromkeys((signs, *((one,) for one in signs))):
                                if (present, *what) not in seen:
                                    seen.add((present, *what))
                                    words = f"a gate's {' and '.join(present)}"
                                    yield Made(words, self.calm(present, context), about=GATES)

    def _around(self, rules: list[Any], context: Context) -> Iterator[Context]:
        """This context, and those at each side of every age and day bound and in a setting that no rule names."""
        ages = sorted({b - less for rule in rules for b in _rule_bounds(rule, "age") for less in (1, 0)})
        bounds = {(name, max(0, day - less)) for rule in rules for name, day in _days_bounds(rule) for less in (1, 0)}
        named = {s for rule in rules for s in _named(rule, "setting")}
        others = (s for k in self.several for s in k.settings if s not in (*named, "not_stated"))
        settings = [context.setting, *([next(others, context.setting)] if named else [])]
        for age, setting, day in product((context.age, *ages), dict.fromkeys(settings), (None, *sorted(bounds))):
            days = context.days_since if day is None else {**context.days_since, day[0]: Anchor(day[1], NOW)}
            yield replace(context, age=age, setting=setting, days_since=days)

    # ------------------------------------------------------------------------------------------- bounds

    def of_bounds(self) -> Iterator[Made]:
        """Ages and times at, just below and well beyond every bound a rule has, with the signs of its screen."""
        ages = sorted({b for k in self.several for b in _bounds(k, "age")})
        for ident, signs, (context, *_) in self._screens():
            rules = [r for k in self.several if ident in k.screens for _, r in rules_of("screen", k.screens[ident])]
            for age in sorted({b for rule in rules for b in _rule_bounds(rule, "age")} | set(ages[:1])):
                for value in (age - 1, age):
                    state = self.calm(signs, replace(context, age=float(value)))
                    yield Made(f"age {value:g} with every sign of {ident}", state, about=ident)
            for anchor, days in sorted({b for rule in rules for b in _days_bounds(rule)}):
                for value in (days - 1, days):
                    for present, said in ((signs, "every sign"), ((), "no sign")):
                        dated = self.context(days={anchor: max(0, value)}, setting=context.setting)
                        words = f"day {value} since {anchor} with {said} of {ident}"
                        yield Made(words, self.calm(present, dated), about=ident)
        for age in ages:
            for value in (age - 1, age):
                yield Made(f"age {value:g}", self.calm((), self.context(age=float(value))))

    def of_windows(self) -> Iterator[Made]:
        """Each healing window on the day before and the day it opens, wherever its protocol applies."""
        for context, words, anchor, weeks in sorted(self._windows(), key=lambda w: (w[1], w[2], w[3])):
            for days in (weeks * 7 - 1, weeks * 7):
                if days >= 0:
                    dated = {**context.days_since, anchor: Anchor(days, NOW)}
                    state = self.calm((), replace(context, days_since=dated))
                    yield Made(f"{words}, day {days} since {anchor}", state, about=GATES)

    def _windows(self) -> Iterator[tuple[Context, str, str, int]]:
        seen: set[tuple[str, str, int]] = set()
        for k in self.several:
            for protocol in k.protocols.values():
                for context, words in self._applying(protocol.applies_when, k):
                    for window in protocol.windows:
                        anchor: str = window.counted_from
                        if (words, anchor, window.later_weeks) not in seen:
                            seen.add((words, anchor, window.later_weeks))
                            yield context, words, anchor, window.later_weeks
            for load_class in k.load_classes.values():
                for _, rule in rules_of("load_class", load_class):
                    for anchor, days in _days_bounds(rule):
                        key = (f"gate of {load_class.id}", anchor, -(-days // 7))
                        if key not in seen:
                            seen.add(key)
                            surgery = (
                                Surgery(procedure="other", orders="known")
                                if anchor == "surgery"
                                else Surgery(none=True)
                            )
                            yield self.context(surgery=surgery), key[0], anchor, key[2]

    def _applying(self, rule: Any, knowledge: Knowledge) -> Iterator[tuple[Context, str]]:
        """Contexts built from the settings and operations that a protocol's rule names."""
        settings = [s for s in _named(rule, "setting") if s in knowledge.settings] or ["not_stated"]
        other = (s for s in knowledge.settings if s not in (*settings, "not_stated"))
        settings += [s for s in (next(other, None),) if s is not None]  # one that no version of the rule names
        procedures: list[str | None] = [*_named(rule, "procedure")]
        operated = any("surgery" in s.rule for s in steps(rule) if isinstance(s.rule, dict))
        if operated and not procedures:
            procedures = ["other", None]
        for setting, procedure in product(settings, procedures or [None]):
            surgery = Surgery(procedure=procedure, orders="known") if procedure else Surgery(none=True)
            words = f"{setting.replace('_', ' ')}{f', {procedure}' if procedure else ''}"
            yield self.context(setting=setting, surgery=surgery), words

    # ------------------------------------------------------------------------------------------- measures, time

    def of_measures(self) -> Iterator[Made]:
        """A measure on both sides of every cut that a rule has."""
        for ident, cuts in sorted(self._cuts().items()):
            measure = next(k.measures[ident] for k in self.several if ident in k.measures)
            spread = (measure.possible[1] - measure.possible[0]) / 40
            for cut in sorted(cuts):
                for value in (
                    cut - 8 * spread,
                    cut - spread,
                    cut - spread / 4,
                    cut + spread / 4,
                    cut + spread,
                    cut + 8 * spread,
                ):
                    taken = _taken(measure, value)
                    yield Made(f"{ident} {value:.1f}", self.calm((), None, measurements=taken))

    def _cuts(self) -> Mapping[str, set[float]]:
        found: dict[str, set[float]] = {}
        for k in self.several:
            for kind, record in _ruled(k):
                for _, rule in rules_of(kind, record):
                    for step in steps(rule):
                        if isinstance(step.rule, dict) and step.rule.get("measure") in k.measures:
                            bounds = (step.rule[b] for b in ("below", "at_least") if b in step.rule)
                            found.setdefault(step.rule["measure"], set()).update(float(b) for b in bounds)
        return found

    def of_time(self) -> Iterator[Made]:
        """Danger answers given earlier, in a visit before or hours ago; screens that were resolved some days ago."""
        for days in (1, 3, 8, 15, 40):
            old = self.calm()
            answers = tuple(replace(a, at=NOW - timedelta(days=days)) for a in old.answers)
            visits = (Visit(1, NOW - timedelta(days=days)), Visit(2, NOW))
            yield Made(f"everything denied {days} days ago", replace(old, answers=answers, visits=visits))
        for hours in (5, 11, 13, 25):
            old = self.calm()
            answers = tuple(replace(a, at=NOW - timedelta(hours=hours)) for a in old.answers)
            yield Made(f"everything denied {hours} hours ago", replace(old, answers=answers))
        limits = sorted({d for k in self.several for s in k.screens.values() for d in (s.resolve_days,)})
        for ident, signs, (context, *_) in self._screens():
            sided = {f"{s}@{'left' if self.known[s].sided else 'none'}" for s in signs}
            own = {k.screens[ident].resolve_days for k in self.several if ident in k.screens}
            if len(own) > 1:
                for days in [d for d in limits if min(own) <= d <= max(own)]:
                    at = NOW - timedelta(days=days, hours=-1)
                    made = Resolution(ident, "film", "nothing found", "someone", "", tuple(sorted(sided)), at)
                    state = self.calm(signs, context, resolutions=(made,))
                    yield Made(f"{ident} resolved {days} days ago", state, about=ident)

    def drawn(self) -> Iterator[Made]:
        """Drawn at random from a fixed seed: a few signs present, some unknown, any context."""
        rng = random.Random(20260302)
        idents = sorted(self.known)
        settings = sorted({s for k in self.several for s in k.settings})
        for n in range(_RANDOM):
            present = tuple(rng.sample(idents, k=min(rng.randint(1, 7), len(idents))))
            context = self.context(
                age=float(rng.randint(16, 85)), setting=rng.choice(settings), days={"injury": rng.randint(0, 200)}
            )
            state = self.calm(present, context)
            kept = tuple(a for a in state.answers if a.value == "present" or rng.random() < 0.6)
            yield Made(f"drawn case {n + 1}", replace(state, answers=kept), n % 2 == 0)


def _taken(measure: Measure, value: float) -> tuple[Measurement, ...]:
    low, high = measure.possible
    tool = measure.tools[0].id if measure.tools else ""
    other = min(high, max(low, (low + high) / 2))
    sides: tuple[tuple[Side, float], ...] = (("left", value), ("right", other)) if measure.sided else (("none", value),)
    return tuple(
        Measurement(measure.id, side, tool, (min(high, max(low, v)),), at=NOW, seq=9000 + n)
        for n, (side, v) in enumerate(sides)
    )


def _findings(rule: Any) -> Iterator[str]:
    return (step.rule for step in steps(rule) if isinstance(step.rule, str))


def _named(rule: Any, word: str) -> list[str]:
    found: list[str] = []
    for step in steps(rule):
        if isinstance(step.rule, dict) and word in step.rule:
            value = step.rule[word]
            found += [value] if isinstance(value, str) else list(value)
    return list(dict.fromkeys(found))


def _setting(rules: list[Any]) -> str:
    return next((s for rule in rules for s in _named(rule, "setting")), "not_stated")


def _ruled(knowledge: Knowledge) -> Iterator[tuple[str, Any]]:
    for kind, table in (
        ("screen", knowledge.screens), ("load_class", knowledge.load_classes), ("option", knowledge.options),
    ):  # fmt: skip
        for record in table.values():
            yield kind, record
    yield "region", knowledge.region


def _bounds(knowledge: Knowledge, word: str) -> Iterator[float]:
    for kind, record in _ruled(knowledge):
        for _, rule in rules_of(kind, record):
            yield from _rule_bounds(rule, word)


def _rule_bounds(rule: Any, word: str) -> Iterator[float]:
    for step in steps(rule):
        if isinstance(step.rule, dict) and isinstance(step.rule.get(word), dict):
            yield from (float(v) for v in step.rule[word].values())


def _days_bounds(rule: Any) -> Iterator[tuple[str, int]]:
    for step in steps(rule):
        if isinstance(step.rule, dict):
            for word, factor in (("days_since", 1), ("weeks_since", 7)):
                anchor = step.rule.get(word)
                if anchor in _ANCHORS:
                    for bound in ("below", "at_least"):
                        if bound in step.rule:
                            yield anchor, int(step.rule[bound] * factor)
