"""What a knowledge holds, as plain rows: ids, names, other names, and how to ask or test."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.graph.pack import FIELDS

__all__ = ["counts", "rows"]

# kind as listed -> fields shown beside id, name and aliases
_SHOWN: Mapping[str, tuple[str, ...]] = {
    "findings": (
        "kind", "ask", "present_when", "position", "sided", "danger", "minutes", "holds_for", "load_classes",
        "general_for",
    ),
    "groups": ("reference",),
    "hypotheses": ("establish", "next_step", "about", "screens"),
    "options": ("lane", "how", "load_classes", "acts_on", "position", "minutes", "retest"),
    "screens": ("send", "hands", "say_met", "next_step", "hypotheses"),
    "measures": ("unit", "how", "possible", "better", "sided", "position", "trials", "load_classes"),
    "settings": ("about", "accounts_for"),
    "tools": ("measures", "per_unit", "note"),
    "procedures": (),
    "positions": ("change_minutes",),
    "evidence": ("kind", "says", "citation", "quality", "not_used", "checked"),
    "load_classes": ("about", "needs_hands", "needs_screening", "hands_on"),
    "protocols": ("about", "question_to_surgeon"),
    "alignment": ("axis", "dome", "socket", "cautions", "basis"),
}  # fmt: skip


def counts(knowledge: Knowledge | None) -> dict[str, int]:
    """How many records of each kind; empty when nothing loaded."""
    if knowledge is None:
        return {}
    return {name: len(getattr(knowledge, name)) for name in FIELDS.values()}


def rows(knowledge: Knowledge, kind: str) -> list[dict[str, Any]]:
    """Rows of one kind (a key of the table above), in file order. Raises KeyError for another kind."""
    shown = _SHOWN[kind]
    return [_row(record, shown) for record in _records(knowledge, kind)]


def _records(knowledge: Knowledge, kind: str) -> Iterable[Any]:
    if kind == "tools":
        return _tools(knowledge)
    if kind in ("settings", "procedures", "positions"):
        listed: Iterable[Any] = getattr(knowledge.region, kind)
        return listed
    mapping: Mapping[str, Any] = getattr(knowledge, kind)
    return mapping.values()


def _tools(knowledge: Knowledge) -> list[dict[str, Any]]:
    """Tools by id with the measures they serve; a tool of several measures is listed once."""
    table: dict[str, dict[str, Any]] = {}
    for measure in knowledge.measures.values():
        for tool in measure.tools:
            row = table.setdefault(tool.id, {"id": tool.id, "name": tool.name, "aliases": [], "measures": []})
            row["aliases"] += [a for a in tool.aliases if a not in row["aliases"]]
            row["measures"].append(measure.id)
            row.update({"per_unit": tool.per_unit, "note": tool.note})
    return list(table.values())


def _row(record: Any, shown: tuple[str, ...]) -> dict[str, Any]:
    if isinstance(record, dict):
        return record
    row: dict[str, Any] = {"id": record.id, "name": _name(record), "aliases": list(getattr(record, "aliases", ()))}
    for field in shown:
        value = getattr(record, field)
        if field == "citation":
            value = ", ".join(str(part) for part in (value.authors, value.year, value.journal) if part)
        row[field] = list(value) if isinstance(value, tuple) else value
    if hasattr(record, "list"):
        row["list"] = LIST_NAMES[record.list]
    return row


def _name(record: Any) -> str:
    if hasattr(record, "name"):
        return str(record.name)
    return str(record.citation.title or record.citation.authors or record.id)  # evidence has no name of its own
