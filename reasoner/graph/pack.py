"""What the checks look at: the knowledge as far as it could be read, with what a mapping by id would hide."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from reasoner.graph.knowledge import Knowledge

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
}


@dataclass(frozen=True)
class Pack:
    """Knowledge under check. `records` has every record read, also a second one with the same id; `broken` the ids
    of records whose shape is wrong, so that a reference to one is not reported as unknown as well."""

    knowledge: Knowledge
    records: Mapping[str, tuple[Any, ...]]
    broken: Mapping[str, frozenset[str]]

    def ids(self, kind: str) -> frozenset[str]:
        """Ids of one kind, those of broken records included."""
        return frozenset(getattr(self.knowledge, FIELDS[kind])) | self.broken.get(kind, frozenset())

    def every(self) -> Iterator[tuple[str, Any]]:
        """(kind, record) of every record, the region last."""
        for kind in FIELDS:
            for record in self.records.get(kind, ()):
                yield kind, record
        yield "region", self.knowledge.region


def based(record: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """(field path, part) of every part of a record that states a basis and evidence, the record itself included."""
    if hasattr(record, "basis") and hasattr(record, "evidence"):
        yield path, record
    for spec in dataclasses.fields(record):
        value = getattr(record, spec.name)
        if dataclasses.is_dataclass(value) and spec.name != "place":
            yield from based(value, (*path, spec.name))
        elif isinstance(value, tuple):
            for n, item in enumerate(value):
                if dataclasses.is_dataclass(item):
                    yield from based(item, (*path, spec.name, n))
        elif isinstance(value, dict):
            for key, item in value.items():
                if dataclasses.is_dataclass(item):
                    yield from based(item, (*path, spec.name, key))
