"""An entry in lines: every field with the folder it comes from; a patch beside the shipped entry then and now."""

from __future__ import annotations

import dataclasses
import re
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Entry
from reasoner.graph.pack import FIELDS
from reasoner.graph.records import Place

__all__ = ["entry_lines", "flat", "flat_record", "record_of", "side_by_side"]

WIDTH = 80


def record_of(knowledge: Knowledge, ident: str, kind: str = "") -> tuple[str, Any] | None:
    """(kind, record) of an id, by its id or a former one."""
    for name, field in FIELDS.items():
        if kind and kind != name:
            continue
        table: Mapping[str, Any] = getattr(knowledge, field)
        if ident in table:
            return name, table[ident]
        for record in table.values():
            if ident in getattr(record, "formerly", ()):
                return name, record
    if ident == knowledge.region.id and kind in ("", "region"):
        return "region", knowledge.region
    single = {"policy": knowledge.policy, "scales": knowledge.scales}
    return (ident, single[ident]) if ident in single else None


def entry_lines(record: Any, shown: str = "shipped") -> list[str]:
    """Every field that says something, with the folder and line it comes from. `shown`: word for the shipped folder."""
    place: Place = record.place
    lines = []
    for path, value in _leaves(record, ()):
        file, line = place.whereabouts(*path)
        where = f"clinic  {file.removeprefix('clinic/')}:{line}" if file.startswith("clinic/") else shown
        text = f"{_said(path)}: {_text(value)}"
        for n, part in enumerate(textwrap.wrap(text, WIDTH - 12, subsequent_indent="    ") or [""]):
            lines.append(f"{'' if n else where.split()[0]:<10}{part}".rstrip())
        if where != shown:
            lines.append(f"{'':<10}  ({file.removeprefix('clinic/')}:{line})")
    return lines


def _leaves(value: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        for f in dataclasses.fields(value):
            inner = getattr(value, f.name)
            empty = inner is None or inner == "" or (isinstance(inner, (tuple, dict)) and not inner)
            if f.name != "place" and not empty:
                yield from _leaves(inner, (*path, f.name))
    elif isinstance(value, tuple) and any(dataclasses.is_dataclass(v) for v in value):
        for n, item in enumerate(value):
            yield from _leaves(item, (*path, n))
    elif isinstance(value, dict) and any(dataclasses.is_dataclass(v) for v in value.values()):
        for key, item in value.items():
            yield from _leaves(item, (*path, key))
    else:
        yield path, value


def _said(path: tuple[str | int, ...]) -> str:
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in path)


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (tuple, list)):
        return ", ".join(_text(v) for v in value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_text(v)}" for k, v in value.items()) + "}"
    return str(value)


def flat(value: Any, path: str = "") -> dict[str, str]:
    """Field path -> text of every leaf of a plain value; entries of a list by their own name where they have one."""
    if isinstance(value, dict) and not _is_rule(path):
        found: dict[str, str] = {}
        for key, inner in value.items():
            found |= flat(inner, f"{path}.{key}" if path else str(key))
        return found
    if isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
        found = {}
        for n, item in enumerate(value):
            named = next((str(item[k]) for k in ("id", "load_class", "finding", "sign") if k in item), str(n + 1))
            name = (
                f"{path}.{named}"
                if f"{path}.{named}" not in {p.rsplit(".", 1)[0] for p in found}
                else f"{path}.{n + 1}"
            )
            found |= flat(item, name)
        return found
    return {path: _text(value)}


def flat_record(record: Any) -> dict[str, str]:
    """Field path -> text of every field of a record that says something."""
    return {k: v for k, v in flat(_plain(record)).items() if v not in ("", "None")}


def _is_rule(path: str) -> bool:
    return path.rsplit(".", 1)[-1] in (
        "rule",
        "use_when",
        "valid_when",
        "when",
        "applies_when",
        "consider_when",
        "covers",
    )


def side_by_side(entry: Entry, then: Mapping[str, Any], now: Mapping[str, Any], knowledge: Knowledge) -> list[str]:
    """Old base, new base and ours, for every field that the patch sets or that has changed under it."""
    old, new = flat(dict(then)), flat(dict(now))
    found = record_of(knowledge, entry.id, entry.kind)
    ours = flat(_plain(found[1])) if found is not None else {}
    set_here = [f for f in {**new, **ours} if _touches(f, entry.fields)]
    moved = [f for f in {**old, **new} if then and old.get(f) != new.get(f)]
    lines = [f"{entry.kind.replace('_', ' ')} {entry.id}  ({entry.file.removeprefix('clinic/')}:{entry.line})"]
    if entry.moved:
        lines.append("  the shipped entry has changed since this was written")
        if not then:
            lines.append("  what it said then was not kept")
    for name in dict.fromkeys((*set_here, *moved)):
        lines.append(f"  {name}")
        if then:
            lines += _wrapped("shipped then", old.get(name, "nothing"))
        lines += _wrapped("shipped now", new.get(name, "nothing"))
        mark = " (stricter of both)" if any(_touches(name, (re.sub(r" \w+", "", f),)) for f in entry.stricter) else ""
        if name in set_here:
            lines += _wrapped("ours", ours.get(name, "nothing") + mark)
    if entry.what == "retires":
        lines.append("  ours: retired")
    return lines


def _touches(name: str, fields: tuple[str, ...]) -> bool:
    return any(name == f or name.startswith(f + ".") or f.startswith(name + ".") for f in fields)


def _wrapped(label: str, text: str) -> list[str]:
    return textwrap.wrap(f"{label:<13} {text}", WIDTH, initial_indent="    ", subsequent_indent=" " * 18)


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value) if f.name != "place"}
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    return {k: _plain(v) for k, v in value.items()} if isinstance(value, dict) else value
