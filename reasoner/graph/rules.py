"""The grammar of rules as data: every step of a rule with its field path, and what is wrong with its form.

Evaluation is in `safety/rules.py`; here a rule is only read, so that the checks can follow it to any depth.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeGuard

from reasoner.problems import nearest

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["OPERATORS", "Step", "Wrong", "rules_of", "steps", "wrong_forms"]

_BOUNDS = ("below", "at_least")
# operator -> the keys that go with it
OPERATORS: Mapping[str, tuple[str, ...]] = {
    "all": (),
    "any": (),
    "not": (),
    "of": ("at_least",),
    "score": (),
    "age": (),
    "sex": (),
    "days_since": _BOUNDS,
    "weeks_since": _BOUNDS,
    "setting": (),
    "surgery": (),
    "procedure": (),
    "orders": (),
    "weight_bearing": (),
    "immobilised": (),
    "immobilised_position": (),
    "measure": ("of", *_BOUNDS),
    "screen": (),
    "suspected": (),
    "competence": (),
}
_ANCHORS = ("injury", "surgery", "cast_off", "union_on_film", "symptoms")
_WORDS: Mapping[str, tuple[str, ...]] = {
    "sex": ("female", "male"),
    "surgery": ("any",),
    "orders": ("known", "not_seen", "conflicting"),
    "weight_bearing": ("non", "touch", "partial", "as_tolerated", "full"),
    "days_since": _ANCHORS,
    "weeks_since": _ANCHORS,
}
_EXAMPLES: Mapping[str, str] = {
    "all": "{all: [a, b]}",
    "any": "{any: [a, b]}",
    "not": "{not: a}",
    "of": "{at_least: 2, of: [a, b, c]}",
    "score": "{score: {at_least: 2, items: [{points: 1, when: a}]}}",
    "age": "{age: {below: 16}}",
    "sex": "{sex: female}",
    "days_since": "{days_since: injury, below: 10}",
    "weeks_since": "{weeks_since: surgery, at_least: 6}",
    "setting": "{setting: [a, b]}",
    "surgery": "{surgery: any}",
    "procedure": "{procedure: [a, b]}",
    "orders": "{orders: [not_seen, conflicting]}",
    "weight_bearing": "{weight_bearing: [non, partial]}",
    "immobilised": "{immobilised: any} or {immobilised: {at_least_weeks: 2}}",
    "immobilised_position": "{immobilised_position: plantarflexed}",
    "measure": "{measure: m, of: side_difference, at_least: 2}",
    "screen": "{screen: s}",
    "suspected": "{suspected: h}",
    "competence": "{competence: load_class}",
}


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a rule. `operator` is empty for a finding id and for a step the grammar does not have; `meant` is
    then the operator it seems to be, if any."""

    path: FieldPath
    rule: Any
    operator: str
    meant: str = ""
    under_not: bool = False
    negative_points: bool = False


@dataclass(frozen=True, slots=True)
class Wrong:
    """A form the grammar does not have."""

    path: FieldPath
    message: str
    hint: str


def operator_of(rule: Mapping[str, Any]) -> str:
    """The operator of a mapping; `of` only with at_least and without measure; empty when there is none."""
    for name in OPERATORS:
        if name in rule and not (name == "of" and "measure" in rule):
            return name
    return ""


def steps(rule: Any, path: FieldPath = (), under_not: bool = False, negative: bool = False) -> Iterator[Step]:
    """The rule itself and every rule inside it, outermost first."""
    operator = operator_of(rule) if isinstance(rule, dict) else ""
    fits = bool(operator) and _fits(operator, rule)
    yield Step(path, rule, operator if fits else "", operator, under_not, negative)
    if not operator:
        return
    value = rule[operator]
    if operator in ("all", "any", "of") and isinstance(value, list):
        for n, part in enumerate(value):
            yield from steps(part, (*path, operator, n), under_not, negative)
    elif operator == "not":
        yield from steps(value, (*path, "not"), not under_not, negative)
    elif operator == "score" and isinstance(value, dict) and isinstance(value.get("items"), list):
        for n, item in enumerate(value["items"]):
            if isinstance(item, dict) and "when" in item:
                points = item.get("points")
                minus = _is_number(points) and points < 0
                yield from steps(item["when"], (*path, "score", "items", n, "when"), under_not, negative or minus)


def rules_of(kind: str, record: Any) -> Iterator[tuple[FieldPath, Any]]:
    """Every rule a record holds, with its field path."""
    single = {
        "finding": ("composite",),
        "option": ("consider_when",),
        "protocol": ("applies_when",),
        "screen": ("use_when", "valid_when", "rule"),
        "region": ("covers",),
    }
    for name in single.get(kind, ()):
        if getattr(record, name) is not None:
            yield (name,), getattr(record, name)
    listed = {
        "hypothesis": (("modifiers", "fact"),),
        "option": (("cautions", "when"),),
        "load_class": (("bars", "when"), ("cautions", "when")),
    }
    for name, part in listed.get(kind, ()):
        for n, item in enumerate(getattr(record, name)):
            yield (name, n, part), getattr(item, part)
    if kind == "measure":
        for n, item in enumerate(record.watch):
            yield ("watch", n, "when"), item.get("when")


def wrong_forms(rule: Any, path: FieldPath = ()) -> Iterator[Wrong]:
    """Every step whose form the grammar does not have."""
    for step in steps(rule, path):
        wrong = _wrong(step)
        if wrong is not None:
            yield wrong


def _wrong(step: Step) -> Wrong | None:
    rule, path = step.rule, step.path
    if isinstance(rule, str):
        return None if rule else Wrong(path, "found an empty rule", "write a finding id or {all: [a, b]}")
    if not isinstance(rule, dict):
        return Wrong(path, f"found {_shown(rule)} as a rule", "write a finding id or {all: [a, b]}")
    if not step.meant:
        word = next(iter(rule), "")
        near = nearest(str(word), OPERATORS, 1)
        if set(rule) == {"at_least"}:
            near = ("of",)
        hint = f"write {_EXAMPLES[near[0]]}" if near else "rules: " + ", ".join(OPERATORS)
        return Wrong((*path, word), f"found no rule called {word}", hint)
    allowed = {step.meant, *OPERATORS[step.meant]}
    extra = next((k for k in rule if k not in allowed), None)
    if extra is not None:
        hint = f"write {_EXAMPLES[step.meant]}; join two rules with all: or any:"
        return Wrong((*path, extra), f"found {extra} beside {step.meant}", hint)
    if not step.operator:
        return Wrong(path, f"the rule {step.meant} is not complete", f"write {_EXAMPLES[step.meant]}")
    return _unknown_word(step)


def _unknown_word(step: Step) -> Wrong | None:
    words = _WORDS.get(step.operator)
    if words is None:
        return None
    value = step.rule[step.operator]
    for word in [value] if isinstance(value, str) else value:
        if word not in words:
            near = nearest(str(word), words, 1)
            hint = f"write {near[0]}" if near else "write one of " + ", ".join(words)
            return Wrong((*step.path, step.operator), f"{step.operator}: found {_shown(word)}", hint)
    return None


def _fits(operator: str, rule: Mapping[str, Any]) -> bool:
    """Whether the operator's value has its form. Names inside are checked elsewhere."""
    value = rule[operator]
    if operator in ("all", "any"):
        return isinstance(value, list) and bool(value)
    if operator == "of":
        count = rule.get("at_least")
        return isinstance(value, list) and _is_whole(count) and 1 <= count <= len(value)
    if operator == "score":
        return _score_fits(value)
    if operator == "age":
        return isinstance(value, dict) and bool(value) and set(value) <= set(_BOUNDS) and _bounds_fit(value)
    if operator in ("days_since", "weeks_since"):
        return isinstance(value, str) and any(b in rule for b in _BOUNDS) and _bounds_fit(rule)
    if operator == "measure":
        of = rule.get("of", "value") in ("value", "side_difference")
        return isinstance(value, str) and of and any(b in rule for b in _BOUNDS) and _bounds_fit(rule)
    if operator == "immobilised":
        weeks = isinstance(value, dict) and set(value) == {"at_least_weeks"} and _is_number(value["at_least_weeks"])
        return value == "any" or weeks
    if operator == "not":
        return True
    return _is_name_or_names(value, operator not in ("screen", "suspected", "competence", "surgery"))


def _score_fits(value: Any) -> bool:
    if not isinstance(value, dict) or set(value) != {"at_least", "items"} or not _is_number(value["at_least"]):
        return False
    items = value["items"]
    return (
        isinstance(items, list)
        and bool(items)
        and all(isinstance(i, dict) and set(i) == {"points", "when"} and _is_number(i["points"]) for i in items)
    )


def _bounds_fit(values: Mapping[str, Any]) -> bool:
    given = [values[b] for b in _BOUNDS if b in values]
    in_order = len(given) < 2 or not all(map(_is_number, given)) or values["at_least"] < values["below"]
    return all(map(_is_number, given)) and in_order


def _is_name_or_names(value: Any, many: bool) -> bool:
    if isinstance(value, str):
        return bool(value)
    return many and isinstance(value, list) and bool(value) and all(isinstance(v, str) for v in value)


def _is_number(value: Any) -> TypeGuard[float]:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _is_whole(value: Any) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool)


def _shown(value: Any) -> str:
    return "a list" if isinstance(value, list) else "a mapping" if isinstance(value, dict) else str(value)
