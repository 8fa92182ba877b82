"""Words for what is wrong with the shape of a record: pydantic's complaints, reworded for someone who writes packs.

Takes the complaints as plain mappings (`type`, `loc`, `input`, `ctx`), so that pydantic stays in one module.
"""

from __future__ import annotations

import dataclasses
import re
import types
import typing
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from reasoner.problems import nearest, one_line

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["SHAPE_CODES", "Complaint", "field_names", "required_names", "reworded"]

SHAPE_CODES: Mapping[str, str] = {
    "S-RECORD": "The file does not hold a record (key: value lines) or a list of records.",
    "S-KIND": "The entry has the shape of another kind of record. Move the file to that kind's folder.",
    "S-KEY": "A key no record of this kind has; nothing would read it. Most often a slip of the pen.",
    "S-NEEDED": "A key that every record of this kind must have is missing.",
    "S-CHOICE": "The value is not one of the few allowed here. Write one of those named.",
    "S-NUMBER": "A number is expected: digits and a point, no unit, no comma, no range, no sign such as ≥.",
    "S-TEXT": "Text is expected. A number or true/false meant as text goes in quotes.",
    "S-YES-NO": "true or false is expected, in small letters and without quotes.",
    "S-LIST": "A list is expected: [a, b], or one `- item` a line.",
    "S-MAPPING": "A mapping is expected: key: value lines, or {key: value}.",
    "S-LENGTH": "The list has too many or too few items. An interval is [low, high].",
}

# shown after "for example"; names in them are made up
_EXAMPLES = {
    "Figure": "{value: 0.3, basis: practice} or {word: often, basis: practice}",
    "Spread": "{mean: 2.0, sd: 1.5, basis: practice}",
    "Link": "{finding: some_finding, chance: often, basis: practice}",
    "GroupMember": "{finding: some_finding, sens: 0.8, spec: 0.7, basis: published, evidence: [some-entry]}",
    "Modifier": "{fact: some_finding, odds_ratio: 2.0, basis: practice}",
    "Shift": "{by: some_condition, odds_ratio: 2.0, basis: practice}",
    "Dose": "{text: 3 x 60 s, basis: practice}",
    "Gate": "{when: some_finding, say: what to do instead, basis: practice}",
    "Caution": "{when: some_finding, say: what to do instead, basis: practice}",
    "Window": "{load_class: some_class, counted_from: surgery, later_weeks: 6, basis: practice}",
    "Citation": "{authors: Name et al., year: 2020, journal: Some Journal}",
    "Grading": "{scheme: GRADE, value: low, rated_by: published}",
    "MeasuredBy": "{measure: some_measure, of: value, cuts: [1.5, 3.0], reference: {...}, healthy: {...}}",
    "Tool": "{id: tape, name: tape measure}",
    "Setting": "{id: some_setting, name: what it is called}",
    "Word": "{id: often, value: 0.6, range: [0.45, 0.75]}",
}
_LOOKS_LIKE = {
    "–": re.compile(r"\s*-?[\d.]+\s*(?:[–—-]|to)\s*-?[\d.]+"),
    ",": re.compile(r"\s*[-+]?\d+,\d+\s*\Z"),
    "≥": re.compile(r"\s*[≥≤<>=~≈±]+\s*[-+]?\d"),
    "%": re.compile(r"\s*[\d.]+\s*%"),
    "unit": re.compile(r"\s*([-+]?[\d.]+)\s*[a-zA-Z°µ]"),
}


@dataclasses.dataclass(frozen=True, slots=True)
class Complaint:
    """One reworded complaint about one record; `path` leads to the line."""

    code: str
    path: FieldPath
    message: str
    hint: str


def field_names(cls: type) -> tuple[str, ...]:
    """Keys a record of this class may have. `place` is filled in by the loader and is not one."""
    return tuple(f.name for f in dataclasses.fields(cls) if f.name != "place")


def required_names(cls: type) -> tuple[str, ...]:
    """Keys a record of this class must have."""
    missing = dataclasses.MISSING
    fields = dataclasses.fields(cls)
    return tuple(f.name for f in fields if f.default is missing and f.default_factory is missing)


def reworded(cls: type, record: Any, errors: Iterable[Mapping[str, Any]]) -> list[Complaint]:
    """All complaints about one record of class `cls`, one a place. `loc` of each error starts inside the record."""
    at_path: dict[FieldPath, list[Mapping[str, Any]]] = {}
    for error in errors:
        at_path.setdefault(_real_path(record, error), []).append(error)
    return [_complaint(cls, path, found) for path, found in at_path.items()]


def _real_path(record: Any, error: Mapping[str, Any]) -> FieldPath:
    """`loc` without the tags of a union: the steps that exist in the record, and a last one that is missing."""
    loc = tuple(error["loc"])
    path: FieldPath = ()
    here = record
    for n, step in enumerate(loc):
        if _has(here, step):
            here = here[step]
        elif error["type"] != "missing" or n + 1 < len(loc):
            continue
        path = (*path, step)
    return path


def _has(here: Any, step: Any) -> bool:
    if isinstance(here, list):
        return isinstance(step, int) and step < len(here)
    return isinstance(here, dict) and step in here


def _complaint(cls: type, path: FieldPath, errors: list[Mapping[str, Any]]) -> Complaint:
    kinds = {e["type"] for e in errors}
    first = errors[0]
    name = one_line(".".join(str(p) for p in path if isinstance(p, str))) or "the entry"
    found = f"{name}: found {_shown(first.get('input'))}"
    parent = _class_at(cls, path[:-1])
    if "unexpected_keyword_argument" in kinds:
        near = nearest(str(path[-1]), field_names(parent), 1) if parent else ()
        hint = f"write {near[0]}" if near else f"keys: {', '.join(field_names(parent))}" if parent else "remove it"
        return Complaint("S-KEY", path, f"{name}: no such key", hint)
    if "missing" in kinds:
        if isinstance(path[-1], int):
            return Complaint("S-LENGTH", path, f"{name}: too few items", "write two numbers: [low, high]")
        if path[-1] == "basis":
            return Complaint("S-NEEDED", path, f"{name}: is missing", "add basis: published, practice or recalled")
        example = _EXAMPLES.get(parent.__name__) if parent else None
        return Complaint("S-NEEDED", path, f"{name}: is missing", f"for example {example}" if example else "add it")
    if first.get("input") is None and not kinds & {"dataclass_type"}:
        return Complaint(_code(kinds), path, f"{name}: found nothing", "give a value, or leave the key out")
    return Complaint(_code(kinds), path, found, _hint(kinds, first))


def _code(kinds: set[str]) -> str:
    if kinds & {"float_type", "int_type", "int_from_float", "finite_number", "float_parsing", "int_parsing"}:
        return "S-NUMBER"
    for code, names in {
        "S-CHOICE": {"literal_error"},
        "S-YES-NO": {"bool_type", "bool_parsing"},
        "S-LIST": {"tuple_type", "list_type"},
        "S-MAPPING": {"dict_type", "dataclass_type", "dataclass_exact_type"},
        "S-LENGTH": {"too_long", "too_short"},
    }.items():
        if kinds & names:
            return code
    return "S-TEXT"


def _hint(kinds: set[str], error: Mapping[str, Any]) -> str:
    value = error.get("input")
    code = _code(kinds)
    if code == "S-CHOICE":
        choices = re.findall(r"'([^']*)'", str(error.get("ctx", {}).get("expected", "")))
        near = nearest(str(value), choices, 1)
        return f"write {near[0]}" if near else "write one of " + ", ".join(choices)
    if code == "S-NUMBER":
        return _number_hint(value, "string_type" in kinds, bool(kinds & {"int_type", "int_from_float"}))
    if code == "S-TEXT":
        return f'write "{one_line(str(value))}"' if isinstance(value, (int, float, bool)) else "write text"
    if code == "S-YES-NO":
        return "write true or false"
    if code == "S-LIST":
        if isinstance(value, dict) and value:
            return f"begin each entry of the list with a dash: - {one_line(str(next(iter(value))))}: ..."
        one = isinstance(value, (str, int, float))
        return f"write a list: [{one_line(str(value))}]" if one else "write a list: [a, b]"
    if code == "S-LENGTH":
        return "write two numbers: [low, high]"
    if "string_type" in kinds:
        return "write an id, or a rule such as {all: [a, b]}"
    example = _EXAMPLES.get(str(error.get("ctx", {}).get("class_name", "")))
    return f"write {example}" if example else "write key: value lines"


def _number_hint(value: Any, or_word: bool, whole: bool) -> str:
    """What to write where a number is expected; says what is usually meant by the notation found."""
    if isinstance(value, str):
        if _LOOKS_LIKE["≥"].match(value):
            return "write the number alone; a bound in a rule is at_least: or below:"
        if _LOOKS_LIKE["–"].match(value):
            return "write one number here; an interval goes under range: [low, high]"
        if _LOOKS_LIKE[","].match(value):
            return f"write a decimal point: {value.strip().replace(',', '.')}"
        if _LOOKS_LIKE["%"].match(value):
            return "write a share of one: 35 % is 0.35"
        unit = _LOOKS_LIKE["unit"].match(value)
        if unit:
            return f"leave the unit out: {unit.group(1)}"
        if value.strip().replace(".", "", 1).isdigit():
            return f"take the quotes off: {value.strip()}"
    if or_word:
        return "write a word of scales.yaml or a number, for example often or 0.6"
    return "write a whole number, for example 3" if whole else "write a number, for example 0.35"


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    return "nothing" if value is None else one_line(str(value))


def _class_at(cls: type | None, path: FieldPath) -> type | None:
    """The record class that stands at a field path, if one does."""
    for step in path:
        if cls is None:
            return None
        if isinstance(step, str) and dataclasses.is_dataclass(cls) and step in field_names(cls):
            cls = _record_in(typing.get_type_hints(cls)[step])
        # an index into a list, or a free key of a mapping, leads to the same class
    return cls


def _record_in(hint: Any) -> type | None:
    """The first record class inside a type such as `tuple[Link, ...]` or `Figure | None`."""
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return hint
    if typing.get_origin(hint) is typing.Literal:
        return None
    if isinstance(hint, types.UnionType) or typing.get_args(hint):
        for part in typing.get_args(hint):
            found = _record_in(part)
            if found is not None:
                return found
    return None
