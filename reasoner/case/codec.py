"""Events as plain data and back: what a trail line holds. A person's own words travel apart from the rest.

Whoever changes the shape of an event adds a step in `trail/upcast.py`; here only today's shape is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import NoneType, UnionType
from typing import Any, Final, Literal, get_args, get_origin, get_type_hints

from reasoner.case.events import EVENT_TYPES, Event, free_fields
from reasoner.problems import InputRefused, Problem

__all__ = ["Encoded", "decode", "encode"]

_NAMES: Final = {kind: name for name, kind in EVENT_TYPES.items()}


@dataclass(frozen=True, slots=True)
class Encoded:
    """A line to be written: event name, payload (JSON values), free texts by field name."""

    name: str
    payload: dict[str, Any]
    texts: dict[str, str]


def encode(event: Event) -> Encoded:
    """An event as plain data. Fields at their default are left out, so that lines stay short."""
    kind = type(event)
    free = set(free_fields(kind))
    payload: dict[str, Any] = {}
    texts: dict[str, str] = {}
    for f in fields(kind):
        value = getattr(event, f.name)
        if value == f.default:
            continue
        if f.name in free:
            texts[f.name] = value
        else:
            payload[f.name] = list(value) if isinstance(value, tuple) else value
    return Encoded(_NAMES[kind], payload, texts)


def decode(name: str, payload: Mapping[str, Any], texts: Mapping[str, str]) -> Event:
    """The event of a line. Raises InputRefused for an unknown event or fields that do not fit it."""
    if name not in EVENT_TYPES:
        raise _refused(f"a line holds an event this version does not know: {name!r}")
    return _build(name, {**payload, **texts})


def _build(name: str, data: Mapping[str, Any]) -> Event:
    kind = EVENT_TYPES[name]
    hints = _hints(kind)
    unknown = sorted(set(data) - set(hints))
    if unknown:
        raise _refused(f"event {name} has a field it should not have: {unknown[0]}")
    values = {}
    for field, value in data.items():
        if not _fits(value, hints[field]):
            raise _refused(f"event {name}: {field} cannot be {value!r}")
        values[field] = tuple(value) if isinstance(value, list) else value
    try:
        return kind(**values)
    except TypeError:
        missing = [f.name for f in fields(kind) if f.name not in values]
        raise _refused(f"event {name} lacks a field: one of {', '.join(missing)}") from None


def _hints(kind: type[Event]) -> Mapping[str, Any]:
    return _HINTS[_NAMES[kind]]


_HINTS: Final[Mapping[str, Mapping[str, Any]]] = {n: get_type_hints(k) for n, k in EVENT_TYPES.items()}


def _fits(value: Any, hint: Any) -> bool:
    """Does a JSON value fit a field's type? Only the types that events use."""
    origin = get_origin(hint)
    if origin is Literal:
        return value in get_args(hint)
    if origin is UnionType or isinstance(hint, UnionType):
        return any(_fits(value, part) for part in get_args(hint))
    if origin is tuple:
        return isinstance(value, list) and all(_fits(v, get_args(hint)[0]) for v in value)
    if hint in (None, NoneType):
        return value is None
    if hint is float:
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    return type(value) is hint


def _refused(message: str) -> InputRefused:
    return InputRefused([Problem("T-EVENT", message)])
