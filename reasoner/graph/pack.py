"""What the checks look at: the knowledge as far as it could be read, with what a mapping by id would hide."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, get_args, get_type_hints

from reasoner.graph.knowledge import Knowledge

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["FIELDS", "Pack", "based"]

# kind of record -> name of its mapping in Knowledge
FIELDS: Mapping[str, str] = {
    "finding": "findings",
    "group": "groups",
    "masking": "maskings",
    "hypothesis": "hypotheses",
    "measure": "measures",
    "option": "options",
    "load_class": "load_classes",
    "protocol": "protocols",
    "screen": "screens",
    "evidence": "evidence",
    "alignment": "alignment",
}


@dataclass(frozen=True)
class Pack:
    """Knowledge under check. `records` has every record read, also a second one with the same id; `broken` the ids
    of records whose shape is wrong, so that a reference to one is not reported as unknown as well."""

    knowledge: Knowledge
    records: Mapping[str, tuple[Any, ...]]
    broken: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, knowledge: Knowledge) -> Pack:
        """A pack of knowledge that has loaded: nothing broken, no id twice."""
        return cls(knowledge, {kind: tuple(getattr(knowledge, name).values()) for kind, name in FIELDS.items()}, {})

    def ids(self, kind: str) -> frozenset[str]:
        """Ids of one kind, those of broken records included."""
        return self._ids[kind]

    @cached_property
    def _ids(self) -> Mapping[str, frozenset[str]]:
        nothing: frozenset[str] = frozenset()
        return {k: frozenset(getattr(self.knowledge, f)) | self.broken.get(k, nothing) for k, f in FIELDS.items()}

    def every(self) -> Iterator[tuple[str, Any]]:
        """(kind, record) of every record, the region last."""
        for kind in FIELDS:
            for record in self.records.get(kind, ()):
                yield kind, record
        yield "region", self.knowledge.region


    @cached_property
    def parts(self) -> tuple[tuple[Any, FieldPath, Any], ...]:
        """(record, field path, part) of everything that states a basis, the records themselves included."""
        return tuple((record, path, part) for _, record in self.every() for path, part in based(record))


def based(record: Any, path: FieldPath = ()) -> Iterator[tuple[FieldPath, Any]]:
    """(field path, part) of every part of a record that states a basis and evidence, the record itself included."""
    cls: type = type(record)
    has_basis, inner = _layout(cls)
    if has_basis:
        yield path, record
    for name in inner:
        value = getattr(record, name)
        if isinstance(value, tuple):
            for n, item in enumerate(value):
                if dataclasses.is_dataclass(item):
                    yield from based(item, (*path, name, n))
        elif isinstance(value, dict):
            for key, item in value.items():
                if dataclasses.is_dataclass(item):
                    yield from based(item, (*path, name, key))
        elif dataclasses.is_dataclass(value):
            yield from based(value, (*path, name))


@cache
def _layout(cls: type) -> tuple[bool, tuple[str, ...]]:
    """Whether a record class states a basis, and its fields that may hold further records."""
    names = [f.name for f in dataclasses.fields(cls)]
    hints = get_type_hints(cls)
    inner = tuple(n for n in names if n != "place" and _holds_records(hints[n]))
    return "basis" in names and "evidence" in names, inner


def _holds_records(hint: Any) -> bool:
    return dataclasses.is_dataclass(hint) or any(_holds_records(part) for part in get_args(hint))
