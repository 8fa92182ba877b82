"""One entry laid over another: only what is named changes. Values in, values out; no files, no shapes.

- a mapping onto a mapping: key by key; `null` takes a key away
- a mapping onto a list of entries that have a name (`load_class`, `finding`, `id`, ...): entry by entry, by that name;
  `null` takes one away, a new name adds one
- `{add: [...], remove: [...]}` onto any list
- a rule, a list or a single value: takes the place of what was there. Rules are never mixed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from reasoner.problems import nearest

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["Merged", "Wrong", "laid_over"]

# fields that hold a rule: always written whole
RULES = frozenset(
    {"rule", "use_when", "valid_when", "when", "applies_when", "consider_when", "composite", "covers", "fact"}
)
_NAMES = ("id", "finding", "load_class", "sign", "measure", "tool")
_LIST_WORDS = frozenset({"add", "remove"})


@dataclass(frozen=True, slots=True)
class Wrong:
    """What cannot be laid over, with the path in the patch."""

    code: str
    path: FieldPath
    message: str
    hint: str


@dataclass(slots=True)
class Merged:
    """The entry that results; `origin` leads from its paths to those of the patch."""

    value: Any
    origin: dict[FieldPath, FieldPath] = field(default_factory=dict)
    changed: list[str] = field(default_factory=list)
    wrong: list[Wrong] = field(default_factory=list)


def laid_over(base: Mapping[str, Any], patch: Mapping[str, Any]) -> Merged:
    """`patch` laid over `base`; neither is changed. A value that says what is there already is told in `wrong`."""
    result = Merged(None)
    result.value = _mapping(base, patch, (), (), result)
    return result


def _any(base: Any, patch: Any, at: FieldPath, by: FieldPath, result: Merged) -> Any:
    if isinstance(patch, dict) and by[-1] not in RULES:
        if isinstance(base, dict):
            return _mapping(base, patch, at, by, result)
        if isinstance(base, list):
            return _in_list(base, patch, at, by, result)
    result.origin[at] = by
    if patch == base:
        result.wrong.append(Wrong("O-SAME", by, f"{_said(by)}: the shipped entry says the same", "leave it out"))
    else:
        result.changed.append(_said(by))
    return patch


def _mapping(base: Mapping[str, Any], patch: Mapping[str, Any], at: FieldPath, by: FieldPath, result: Merged) -> Any:
    merged = dict(base)
    for key, value in patch.items():
        if value is None:
            if key not in merged:
                result.wrong.append(_nothing((*by, key), merged, "to take away"))
            else:
                del merged[key]
                result.changed.append(_said((*by, key)))
        else:
            merged[key] = _any(merged.get(key, _MISSING), value, (*at, key), (*by, key), result)
    return merged


def _in_list(base: list[Any], patch: dict[str, Any], at: FieldPath, by: FieldPath, result: Merged) -> list[Any]:
    if patch and set(patch) <= _LIST_WORDS:
        return _added(base, patch, at, by, result)
    name = _name_of(base)
    if name is None:
        hint = "write the whole list, or {add: [...], remove: [...]}"
        result.wrong.append(Wrong("O-LIST", by, f"{_said(by)}: its entries have no name of their own", hint))
        return base
    names = [item[name] for item in base]
    merged = list(base)
    gone: list[int] = []
    for key, value in patch.items():
        if names.count(key) > 1:
            message = f"{_said(by)}: {key} stands {names.count(key)} times"
            result.wrong.append(Wrong("O-LIST", (*by, key), message, "write the whole list"))
        elif value is None and key not in names:
            result.wrong.append(_nothing((*by, key), names, "to take away"))
        elif value is None:
            gone.append(names.index(key))
            result.changed.append(_said((*by, key)))
        elif not isinstance(value, dict):
            hint = f"write {key}: and what changes below it"
            result.wrong.append(Wrong("O-LIST", (*by, key), f"{_said((*by, key))}: found a single value", hint))
        elif key in names:
            place = names.index(key)
            merged[place] = _mapping(base[place], value, (*at, place), (*by, key), result)
        else:
            result.origin[(*at, len(merged))] = (*by, key)
            result.changed.append(_said((*by, key)))
            merged.append({name: key, **value})
    return _without(merged, gone, at, result)


def _added(base: list[Any], patch: dict[str, Any], at: FieldPath, by: FieldPath, result: Merged) -> list[Any]:
    gone = []
    for n, item in enumerate(_listed(patch.get("remove"))):
        if item in base:
            gone.append(base.index(item))
        else:
            result.wrong.append(_nothing((*by, "remove", n), [str(b) for b in base], "to remove", str(item)))
    merged = list(base)
    for n, item in enumerate(_listed(patch.get("add"))):
        if item in base:
            message = f"{_said(by)}: {_short(item)} is there already"
            result.wrong.append(Wrong("O-SAME", (*by, "add", n), message, "leave it out"))
        else:
            result.origin[(*at, len(merged))] = (*by, "add", n)
            merged.append(item)
    result.changed.append(_said(by))
    return _without(merged, gone, at, result)


def _without(items: list[Any], gone: list[int], at: FieldPath, result: Merged) -> list[Any]:
    """Take entries out and move what is known about the ones behind them."""
    for place in sorted(gone, reverse=True):
        del items[place]
        moved = {}
        for path, by in result.origin.items():
            if len(path) > len(at) and path[: len(at)] == at and isinstance(path[len(at)], int):
                step = path[len(at)]
                assert isinstance(step, int)
                if step == place:
                    continue
                path = (*at, step - (step > place), *path[len(at) + 1 :])
            moved[path] = by
        result.origin = moved
    return items


def _name_of(items: list[Any]) -> str | None:
    for name in _NAMES:
        if items and all(isinstance(item, dict) and isinstance(item.get(name), str) for item in items):
            return name
    return None


def _nothing(path: FieldPath, known: Any, what: str, found: str = "") -> Wrong:
    word = found or str(path[-1])
    near = nearest(word, [str(k) for k in known], 1)
    hint = f"did you mean {near[0]}?" if near else "look at it: reasoner knowledge show ID"
    return Wrong("O-NOTHING", path, f"{_said(path)}: there is no {_short(word)} {what}", hint)


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [] if value is None else [value]


def _said(path: FieldPath) -> str:
    return ".".join(str(step) for step in path)


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 40 else text[:37] + "..."


_MISSING: Any = object()
