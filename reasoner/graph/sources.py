"""Every clinical number of a knowledge with where it comes from: what `reasoner knowledge sources` lists.

A number stands with the nearest basis above it: its own, its record's if it has none. A word of scales.yaml counts as
the number it stands for. Doses, minutes and layout are not clinical numbers; numbers inside rules (days, weeks, ages,
points, cuts) are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reasoner.graph.checks.figures import numbers_of, words_of
from reasoner.graph.checks.trace import numbers_in
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.pack import FIELDS, Pack, based
from reasoner.graph.rules import rules_of

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["BASES", "KINDS", "Source", "not_used", "shares", "sources", "totals"]

BASES = ("published", "practice", "recalled")
# what a number is of; the first two are what the published share is asked of
KINDS = ("accuracy", "effect", "base rate", "ratio", "leak", "error", "window", "rule", "other figure")
_KIND_OF: Mapping[str, str] = {
    "Link": "accuracy", "GroupMember": "accuracy", "Effect": "effect", "Modifier": "ratio", "Shift": "ratio",
    "ErrorFigure": "error", "Window": "window",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Source:
    """One clinical number or word. `value` as written; `evidence` ids; `derived` the arithmetic, where there is any."""

    kind: str
    record: str
    field: str
    value: float | str
    basis: str
    evidence: tuple[str, ...]
    derived: str
    file: str
    line: int


def sources(knowledge: Knowledge) -> tuple[Source, ...]:
    """Every number and word, by file and line."""
    found = [*_stated(knowledge), *_in_rules(knowledge)]
    return tuple(sorted(found, key=lambda s: (s.file, s.line, s.field)))


def totals(listed: tuple[Source, ...]) -> dict[str, dict[str, int]]:
    """Kind -> basis -> how many."""
    count = Counter((s.kind, s.basis) for s in listed)
    return {kind: {basis: count[kind, basis] for basis in BASES} for kind in KINDS}


def shares(listed: tuple[Source, ...]) -> dict[str, float | None]:
    """Share that is published: of accuracy, of effect, of all. None where there is no number."""
    groups = {kind: [s for s in listed if s.kind == kind] for kind in ("accuracy", "effect")} | {"all": list(listed)}
    return {name: sum(s.basis == "published" for s in g) / len(g) if g else None for name, g in groups.items()}


def not_used(knowledge: Knowledge) -> dict[str, str]:
    """Evidence id -> why nothing of the pack rests on it. Every other entry is named by what it bears on."""
    return {entry.id: entry.not_used for entry in knowledge.evidence.values() if entry.not_used}


def _stated(knowledge: Knowledge) -> Iterator[Source]:
    """Numbers and words of the parts that state a basis. Evidence entries are where numbers come from: left out."""
    for record, path, part in Pack.of(knowledge).parts:
        if record.id in knowledge.evidence and knowledge.evidence[record.id] is record:
            continue
        values: list[tuple[str, float | str]] = [*numbers_of(part), *words_of(part)]
        for name, value in values:
            yield _source(record, path, part, _kind(path, part), name, value)


def _in_rules(knowledge: Knowledge) -> Iterator[Source]:
    for kind, record in Pack.of(knowledge).every():
        if kind not in FIELDS:
            continue
        parts = dict(based(record))
        for path, rule in rules_of(kind, record):
            owner = _owner(path, parts)
            for value in numbers_in(_without_texts(rule)):
                yield _source(record, path, parts.get(owner, record), "rule", "", value)


def _without_texts(rule: Any) -> Any:
    """A rule with its names taken out, so that a digit in an id is not read as a number."""
    if isinstance(rule, dict):
        return {key: _without_texts(value) for key, value in rule.items()}
    if isinstance(rule, list):
        return [_without_texts(part) for part in rule]
    return None if isinstance(rule, str) else rule


def _owner(path: FieldPath, parts: Mapping[FieldPath, Any]) -> FieldPath:
    """Field path of the nearest part that states a basis."""
    while path and path not in parts:
        path = path[:-1]
    return path


def _kind(path: FieldPath, part: Any) -> str:
    named = _KIND_OF.get(type(part).__name__)
    if named is not None:
        return named
    first = path[0] if path else ""
    return {"base_rate": "base rate", "leak": "leak"}.get(str(first), "other figure")


def _source(record: Any, path: FieldPath, part: Any, kind: str, name: str, value: float | str) -> Source:
    where = (*path, name) if name else path
    file, line = record.place.whereabouts(*where)
    field = ".".join(str(p) for p in where)
    evidence: tuple[str, ...] = tuple(getattr(part, "evidence", ()))
    basis, derived = getattr(part, "basis", "practice"), getattr(part, "derived", "")
    return Source(kind, record.id, field, value, basis, evidence, derived, file, line)
