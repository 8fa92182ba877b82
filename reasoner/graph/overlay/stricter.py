"""Fields that bear on safety, and which of two values is the stricter. Used where a shipped entry has changed since.

The table is by kind of record and field; `*` stands for the place in a list. Where a field is not in the table the
clinic's own value holds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["SAFETY_FIELDS", "stricter_of"]

_URGENCY = ("routine", "urgent", "same_day", "emergency")
_HANDS = ("nothing", "protect_only", "active_pain_free", "unrestricted")
_HOLDS_LASTING = 10**6


def _highest(a: Any, b: Any) -> Any:
    return max(a, b) if _numbers(a, b) else a


def _lowest(a: Any, b: Any) -> Any:
    return min(a, b) if _numbers(a, b) else a


def _more_urgent(a: Any, b: Any) -> Any:
    return max((a, b), key=lambda v: _URGENCY.index(v) if v in _URGENCY else 99)


def _less_handled(a: Any, b: Any) -> Any:
    return min((a, b), key=lambda v: _HANDS.index(v) if v in _HANDS else -1)


def _more_needed(a: Any, b: Any) -> Any:
    return max((a, b), key=lambda v: _HANDS.index(v) if v in _HANDS else 99)


def _either_rule(a: Any, b: Any) -> Any:
    return a if a == b else {"any": [a, b]}


def _both_rules(a: Any, b: Any) -> Any:
    return a if a == b else {"all": [a, b]}


def _all_of(a: Any, b: Any) -> Any:
    if not isinstance(a, list) or not isinstance(b, list):
        return a
    return [*b, *(item for item in a if item not in b)]


def _either(a: Any, b: Any) -> Any:
    return bool(a) or bool(b)


def _shorter(a: Any, b: Any) -> Any:
    return min((a, b), key=_days)


def _days(held: Any) -> int:
    text = str(held)
    if text == "visit":
        return 0
    first = text.split()[0]
    return int(first) if first.isdigit() else _HOLDS_LASTING


def _numbers(*values: Any) -> bool:
    return all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in values)


_ALWAYS_WITHOUT = ("use_when", "valid_when")  # a screen without one is always in use, always valid

Combine = Callable[[Any, Any], Any]
SAFETY_FIELDS: Mapping[tuple[str, ...], Combine] = {
    ("screen", "send"): _more_urgent,
    ("screen", "hands"): _less_handled,
    ("screen", "rule"): _either_rule,
    ("screen", "use_when"): _either_rule,
    ("screen", "valid_when"): _either_rule,
    ("screen", "resolve_days"): _lowest,
    ("protocol", "applies_when"): _either_rule,
    ("protocol", "windows", "*", "later_weeks"): _highest,
    ("protocol", "windows", "*", "earlier_weeks"): _highest,
    ("load_class", "needs_hands"): _more_needed,
    ("load_class", "needs_screening"): _either,
    ("load_class", "bars"): _all_of,
    ("load_class", "cautions"): _all_of,
    ("option", "load_classes"): _all_of,
    ("option", "cautions"): _all_of,
    ("measure", "load_classes"): _all_of,
    ("finding", "load_classes"): _all_of,
    ("finding", "danger"): _either,
    ("finding", "holds_for"): _shorter,
    ("hypothesis", "act_above"): _lowest,
    ("hypothesis", "base_rate", "*", "value"): _highest,  # serious ones only, see stricter_of
    ("region", "covers"): _both_rules,
    ("region", "suspected_above", "*"): _lowest,
    ("policy", "suspected_above", "*"): _lowest,
    ("policy", "visit_hours"): _lowest,
    ("policy", "certainty_weight", "*"): _lowest,
    ("policy", "pain_worse"): _lowest,
}


def stricter_of(kind: str, base: Any, ours: Any) -> tuple[Any, tuple[str, ...]]:
    """`ours` with the stricter of both values in every safety field, and the fields where the base's holds."""
    told: list[str] = []
    serious = isinstance(base, dict) and base.get("list") == "serious"
    fields = {p[1:]: f for p, f in SAFETY_FIELDS.items() if p[0] == kind and (serious or p[1] != "base_rate")}
    value = ours
    for path, combine in fields.items():
        value = _combined(base, value, path, combine, (), told)
    return value, tuple(told)


def _combined(
    base: Any, ours: Any, path: tuple[str, ...], combine: Combine, at: tuple[str, ...], told: list[str]
) -> Any:
    """`ours` with one field combined, at every place of the field."""
    if not path:
        value = combine(ours, base)
        if value != ours:
            told.append(".".join(at))
        return value
    step, rest = path[0], path[1:]
    if step == "*" and isinstance(ours, list) and isinstance(base, list):
        theirs = {_key(item): item for item in base}
        mine = [_key(item) for item in ours]
        made = [
            _combined(theirs[_key(item)], item, rest, combine, (*at, _key(item)), told)
            if _key(item) in theirs
            else item
            for item in ours
        ]
        lost = [item for item in base if _key(item) not in mine]  # a window taken away is looser: the base's stays
        told += [
            ".".join((*at, _key(item)))
            for item in lost
            if (*at, _key(item)) and ".".join((*at, _key(item))) not in told
        ]
        return [*made, *lost]
    if not isinstance(ours, dict) or not isinstance(base, dict):
        return ours
    keys = list(base) if step == "*" else [step]
    value = dict(ours)
    for key in keys:
        if key in base and key in ours:
            value[key] = _combined(base[key], ours[key], rest, combine, (*at, key), told)
        elif key in ours and combine is _either_rule and not rest and key in _ALWAYS_WITHOUT:
            del value[key]  # the shipped screen has no such condition: it is always in use
            told.append(".".join((*at, key)))
        elif key in base and not rest and combine is not _either_rule:
            value[key] = base[key]  # taken away by the clinic
            told.append(".".join((*at, key)))
    return value


def _key(item: Any) -> str:
    if not isinstance(item, dict):
        return str(item)
    return " ".join(str(item.get(k, "")) for k in ("load_class", "counted_from")).strip()
