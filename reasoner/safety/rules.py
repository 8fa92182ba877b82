"""The rule language: evaluates a YAML rule over Facts to a Verdict, naming what met it and what is missing.

    finding_id                        present on a side considered
    {all: [...]} {any: [...]} {not: rule} {at_least: 2, of: [...]}
    {score: {at_least: 2, items: [{points: 1, when: rule}, ...]}}
    {age: {below: 16}} {age: {at_least: 55}} {sex: female} {setting: [...]}
    {days_since: injury, below: 10} {weeks_since: surgery, at_least: 6}      whole days, whole weeks
    {surgery: any} {procedure: [...]} {orders: [...]} {weight_bearing: [...]}
    {immobilised: any} {immobilised: {at_least_weeks: 2}} {immobilised_position: plantarflexed}
    {measure: id, of: value | side_difference, below | at_least: x}
    {screen: id} {suspected: hypothesis}       met = true, open = unknown, otherwise false
    {competence: load_class}                   recorded competence of the clinician

Counts and scores are intervals; every atom is three-valued; a rule is never definite and wrong (property test).
A verdict may stay unknown although the answers decide it ("A or not A"): on the cautious side.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reasoner.facts.facts import Facts
from reasoner.facts.measured import bound
from reasoner.facts.verdict import FALSE, TRUE, UNKNOWN, Verdict, all_of, any_of
from reasoner.graph.records import Rule

__all__ = ["OPERATORS", "Outcome", "RuleContext", "evaluate", "score_interval"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """A verdict with its reasons: atoms that met it and atoms that are missing, as finding ids or context names."""

    verdict: Verdict
    met_by: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


ScreenVerdict = Callable[[str], Outcome]


@dataclass(frozen=True)
class RuleContext:
    """What a rule may look at: facts, and the verdicts of screens (by id) where rules name them."""

    facts: Facts
    screen: ScreenVerdict
    suspects: Mapping[str, tuple[str, ...]]  # hypothesis id -> screen ids


def evaluate(rule: Rule | None, context: RuleContext, *, default: Verdict = TRUE) -> Outcome:
    """Verdict of `rule`; `default` where there is none. Raises KeyError on an operator the loader let through."""
    if rule is None:
        return Outcome(default)
    if isinstance(rule, str):
        finding = context.facts.knowledge.findings.get(rule)
        if finding is not None and finding.composite is not None:
            return _composite(rule, finding.composite, context)
        return _atom(context.facts.truth(rule), context.facts.asked_for(rule))
    operator = next(name for name in OPERATORS if name in rule)  # `at_least` is also a bound: it comes last
    return OPERATORS[operator](rule, context)


def _composite(name: str, rule: Rule, context: RuleContext) -> Outcome:
    """A rule's own items; where they leave it open, a reported "met" counts (a reported "not met" does not)."""
    outcome = evaluate(rule, context)
    if outcome.verdict.unknown and context.facts.truth(name).certainly:
        return Outcome(TRUE, (name,))
    return outcome


def _atom(verdict: Verdict, name: str) -> Outcome:
    if verdict.unknown:
        return Outcome(verdict, missing=(name,))
    return Outcome(verdict, met_by=(name,) if verdict.certainly else ())


def _join(verdict: Verdict, parts: Iterable[Outcome]) -> Outcome:
    """Reasons of a combination: what met it if it is met; what is missing if it is unknown."""
    seen = tuple(parts)
    met = _unique(name for p in seen if p.verdict.certainly for name in p.met_by)
    missing = _unique(name for p in seen if p.verdict.unknown for name in p.missing)
    return Outcome(verdict, met if not verdict.false else (), missing if verdict.unknown else ())


def _unique(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def _parts(rules: Sequence[Rule], context: RuleContext) -> tuple[Outcome, ...]:
    return tuple(evaluate(r, context) for r in rules)


def _all(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    parts = _parts(rule["all"], context)
    return _join(all_of(p.verdict for p in parts), parts)


def _any(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    parts = _parts(rule["any"], context)
    return _join(any_of(p.verdict for p in parts), parts)


def _not(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    inner = evaluate(rule["not"], context)
    verdict = inner.verdict.negated()
    return Outcome(verdict, missing=inner.missing if verdict.unknown else ())


def _at_least(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    parts = _parts(rule["of"], context)
    need = rule["at_least"]
    certain = sum(p.verdict.certainly for p in parts)
    possible = sum(p.verdict.possibly for p in parts)
    return _join(Verdict(certain >= need, possible >= need), parts)


def score_interval(score: Mapping[str, Any], context: RuleContext) -> tuple[tuple[float, float], tuple[Outcome, ...]]:
    """(lowest, highest) points on these answers, and the items' outcomes. An unknown item spans 0 and its points."""
    low = high = 0.0
    parts = []
    for item in score["items"]:
        part = evaluate(item["when"], context)
        points = float(item["points"])
        if part.verdict.certainly:
            low, high = low + points, high + points
        elif part.verdict.possibly:
            low, high = low + min(0.0, points), high + max(0.0, points)
        parts.append(part)
    return (low, high), tuple(parts)


def _score(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    (low, high), parts = score_interval(rule["score"], context)
    need = rule["score"]["at_least"]
    return _join(Verdict(low >= need, high >= need), parts)


def _compare(value: float, bounds: Mapping[str, Any]) -> Verdict:
    met = ("below" not in bounds or value < bounds["below"]) and (
        "at_least" not in bounds or value >= bounds["at_least"]
    )
    return TRUE if met else FALSE


def _age(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    age = context.facts.state.context.age
    verdict = UNKNOWN if age is None else _compare(age, rule["age"])
    return _atom(verdict, "age")


def _since(event: str, unit: int, rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    happened, days = context.facts.days_since(event)
    if happened.false:
        return Outcome(FALSE)
    verdict = UNKNOWN if days is None or happened.unknown else _compare(days // unit, rule)
    return _atom(verdict, f"days_since.{event}")


def _days_since(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    return _since(rule["days_since"], 1, rule, context)


def _weeks_since(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    return _since(rule["weeks_since"], 7, rule, context)


def _listed(value: str | None, wanted: str | Sequence[str], name: str) -> Outcome:
    names = (wanted,) if isinstance(wanted, str) else wanted
    return _atom(UNKNOWN if value is None else TRUE if value in names else FALSE, name)


def _sex(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    return _listed(context.facts.state.context.sex, rule["sex"], "sex")


def _setting(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    setting = context.facts.state.context.setting
    return _listed(None if setting == "not_stated" else setting, rule["setting"], "setting")


def _surgery(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    surgery = context.facts.state.context.surgery
    return _atom(UNKNOWN if surgery is None else FALSE if surgery.none else TRUE, "surgery")


def _of_surgery(attribute: str, context: RuleContext, wanted: str | Sequence[str]) -> Outcome:
    surgery = context.facts.state.context.surgery
    if surgery is not None and surgery.none:
        return Outcome(FALSE)
    value = getattr(surgery, attribute) if surgery is not None else None
    return _listed(None if value == "unknown" else value, wanted, "surgery" if surgery is None else attribute)


def _procedure(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    return _of_surgery("procedure", context, rule["procedure"])


def _orders(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    return _of_surgery("orders", context, rule["orders"])


def _weight_bearing(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    return _of_surgery("weight_bearing", context, rule["weight_bearing"])


def _immobilised(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    immobilised = context.facts.state.context.immobilised
    if immobilised is None:
        return _atom(UNKNOWN, "immobilised")
    if immobilised.none:
        return Outcome(FALSE)
    if rule["immobilised"] == "any":
        return _atom(TRUE, "immobilised")
    if immobilised.weeks is None:
        return _atom(UNKNOWN, "immobilised")
    return _atom(TRUE if immobilised.weeks >= rule["immobilised"]["at_least_weeks"] else FALSE, "immobilised")


def _immobilised_position(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    immobilised = context.facts.state.context.immobilised
    if immobilised is not None and immobilised.none:
        return Outcome(FALSE)
    value = immobilised.position if immobilised is not None else None
    return _listed(value, rule["immobilised_position"], "immobilised")


def _measure(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    verdicts = (bound(context.facts, rule, side) for side in context.facts.sides)
    return _atom(any_of(verdicts), rule["measure"])


def _screen(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    outcome = context.screen(rule["screen"])
    return Outcome(outcome.verdict, (rule["screen"],) if outcome.verdict.certainly else (), outcome.missing)


def _suspected(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    parts = tuple(context.screen(s) for s in context.suspects.get(rule["suspected"], ()))
    joined = _join(any_of(p.verdict for p in parts), parts)
    return Outcome(joined.verdict, (rule["suspected"],) if joined.verdict.certainly else (), joined.missing)


def _competence(rule: Mapping[str, Any], context: RuleContext) -> Outcome:
    held = rule["competence"] in context.facts.state.competences
    return Outcome(TRUE if held else UNKNOWN, missing=() if held else (f"competence.{rule['competence']}",))


OPERATORS: Mapping[str, Callable[[Mapping[str, Any], RuleContext], Outcome]] = {
    "all": _all,
    "any": _any,
    "not": _not,
    "score": _score,
    "age": _age,
    "sex": _sex,
    "setting": _setting,
    "days_since": _days_since,
    "weeks_since": _weeks_since,
    "surgery": _surgery,
    "procedure": _procedure,
    "orders": _orders,
    "weight_bearing": _weight_bearing,
    "immobilised": _immobilised,
    "immobilised_position": _immobilised_position,
    "measure": _measure,
    "screen": _screen,
    "suspected": _suspected,
    "competence": _competence,
    "at_least": _at_least,
}
