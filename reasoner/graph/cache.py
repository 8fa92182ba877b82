"""Knowledge that has loaded without a problem, kept as JSON: the next start reads no YAML and validates nothing.

Kept under the digest of every file it came from and of this folder's code, so that a changed file, record class or
check is always read afresh. A kept file that is damaged is told about and read afresh as well: a cache never gives an
answer, it only saves time.

    {everything but the evidence}
    id of one evidence entry <tab> {the entry}              one line each, read when somebody asks for it
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args, get_origin, get_type_hints

from reasoner.graph import records
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Clinic
from reasoner.graph.records import Place
from reasoner.graph.sealed import code_digest, damaged, keep_sealed, sealed
from reasoner.problems import Problem

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["keep", "kept"]

Convert = Callable[[Any], Any]
_SINGLE: Mapping[str, type] = {"region": records.Region, "policy": records.Policy, "scales": records.Scales}
_MANY: Mapping[str, type] = {
    "findings": records.Finding,
    "groups": records.Group,
    "maskings": records.Masking,
    "hypotheses": records.Hypothesis,
    "measures": records.Measure,
    "options": records.OptionRecord,
    "load_classes": records.LoadClass,
    "protocols": records.Protocol,
    "screens": records.Screen,
    "alignment": records.Alignment,
}


def kept(path: Path, digest: str, files: Mapping[str, bytes]) -> tuple[Knowledge | None, list[Problem]]:
    """The knowledge kept at `path`, None if it is not that of `digest`; and a note where the file is damaged."""
    try:
        body = sealed(path, _key(digest))
        return (None if body is None else _read(digest, body, files)), []
    except (OSError, ValueError, KeyError, TypeError):
        return None, [damaged(path)]


def _key(digest: str) -> str:
    """Of the files, and of the reader, the record classes and the checks."""
    return f"{digest} {code_digest(Path(__file__).parent)}"


def _read(digest: str, body: bytes, files: Mapping[str, bytes]) -> Knowledge:
    first, *rest = body.split(b"\n")
    data = json.loads(first)
    places = _Places(files)
    parts: dict[str, Any] = {name: _record(cls, data[name], places) for name, cls in _SINGLE.items()}
    for name, cls in _MANY.items():
        made = [_record(cls, one, places) for one in data[name]]
        parts[name] = {record.id: record for record in made}
    parts["evidence"] = _Evidence(rest, places)
    parts["clinic"] = None if data["clinic"] is None else Clinic(**_converted(Clinic, data["clinic"]))
    return Knowledge(**parts, digest=digest, files=files)


def keep(path: Path, knowledge: Knowledge) -> None:
    """Keep knowledge that loaded without a problem. In silence nothing is kept where nothing can be written."""
    data: dict[str, Any] = {name: _plain(getattr(knowledge, name)) for name in _SINGLE}
    data |= {name: [_plain(r) for r in getattr(knowledge, name).values()] for name in _MANY}
    data["clinic"] = _plain(knowledge.clinic)
    lines = [_json(data), *(f"{ident}\t{_json(_plain(r))}" for ident, r in knowledge.evidence.items())]
    keep_sealed(path, _key(knowledge.digest), "\n".join(lines).encode())


def _json(data: Any) -> str:
    return json.dumps(data, separators=(",", ":"))


# ------------------------------------------------------------------------------------------------ records


def _plain(value: Any) -> Any:
    """A record as JSON data without the fields that say nothing; of its place only file, line and what a clinic set."""
    if isinstance(value, Place):
        over = [[list(path), *where] for path, where in value.overlaid.items()]
        return [value.file, value.line, over]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        found = ((name, getattr(value, name), usual) for name, usual in _fields(type(value)))
        return {name: _plain(one) for name, one, usual in found if not _alike(one, usual)}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value


@cache
def _fields(cls: type) -> tuple[tuple[str, Any], ...]:
    """(field, its value where nothing is said) of a record class."""
    fields = dataclasses.fields(cls)
    return tuple((f.name, f.default_factory() if callable(f.default_factory) else f.default) for f in fields)


def _alike(value: Any, usual: Any) -> bool:
    """The value a field has anyway, to the type: 1 is not 1.0. Nothing nested is compared."""
    nested = isinstance(value, (tuple, dict))
    return type(value) is type(usual) and (not value and not usual if nested else value == usual)


def _record(cls: type, data: dict[str, Any], places: _Places) -> Any:
    place = places.place(*data.pop("place"))
    return cls(**_converted(cls, data), place=place)


def _converted(cls: type, data: dict[str, Any]) -> dict[str, Any]:
    for name, convert in _converters(cls):
        if name in data:
            data[name] = convert(data[name])
    return data


@cache
def _converters(cls: type) -> tuple[tuple[str, Convert], ...]:
    """(field, how to make its value) of every field that is not what JSON gives."""
    hints = get_type_hints(cls)
    found = ((f.name, _converter(hints[f.name])) for f in dataclasses.fields(cls) if f.name != "place")
    return tuple((name, convert) for name, convert in found if convert is not None)


def _converter(hint: Any) -> Convert | None:
    """From JSON data to a value of this type; None where they are the same. Lists stand for tuples."""
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        cls: type = hint
        return lambda data: cls(**_converted(cls, data))
    parts = [p for p in get_args(hint) if p not in (type(None), ...)]
    if get_origin(hint) is tuple:
        inner = _converter(parts[0])
        return tuple if inner is None else lambda data: tuple(map(inner, data))
    if get_origin(hint) is dict:
        of_values = _converter(parts[1])
        return None if of_values is None else lambda data: {key: of_values(v) for key, v in data.items()}
    optional = [c for c in map(_converter, parts) if c is not None] if type(None) in get_args(hint) else []
    return (lambda data: None if data is None else optional[0](data)) if optional else None


class _Evidence(Mapping[str, records.Evidence]):
    """Evidence entries by id, each made when it is first asked for: a start asks for none of them."""

    def __init__(self, lines: list[bytes], places: _Places) -> None:
        split = (line.partition(b"\t") for line in lines)
        self._kept = {ident.decode(): data for ident, _, data in split}
        self._made: dict[str, records.Evidence] = {}
        self._places = places

    def __getitem__(self, ident: str) -> records.Evidence:
        made = self._made.get(ident)
        if made is None:
            made = self._made[ident] = _record(records.Evidence, json.loads(self._kept[ident]), self._places)
        return made

    def __iter__(self) -> Iterator[str]:
        return iter(self._kept)

    def __len__(self) -> int:
        return len(self._kept)


class _Places:
    """Where every field of every record stands. A file is read again only when somebody asks for a line of it."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        self._files = files
        self._read: dict[str, dict[int, dict[FieldPath, int]]] = {}

    def place(self, file: str, line: int, over: list[list[Any]]) -> Place:
        """The place of the record that begins on a line of a file."""
        if file not in self._files:
            raise KeyError(file)
        return Place(file, line, _Lines(self, file, line), {tuple(path): (name, at) for path, name, at in over})

    def lines(self, file: str, line: int) -> Mapping[FieldPath, int]:
        """Line of each field path of that record."""
        if file not in self._read:
            self._read[file] = self._lines_of(file)
        return self._read[file].get(line, {})

    def _lines_of(self, file: str) -> dict[int, dict[FieldPath, int]]:
        from reasoner.graph.source import parse

        document, _ = parse(self._files[file], file)
        if document is None or not isinstance(document.value, list):
            return {document.lines.get((), 1): dict(document.lines)} if document is not None else {}
        found: list[dict[FieldPath, int]] = [{} for _ in document.value]
        for path, at in document.lines.items():
            if path:
                found[path[0]][path[1:]] = at  # type: ignore[index]  # the first step into a list is an index
        return {lines[()]: lines for lines in found}


class _Lines(Mapping["FieldPath", int]):
    """The line of each field path of one record, looked up when it is asked for."""

    def __init__(self, places: _Places, file: str, line: int) -> None:
        self._asked = (places, file, line)

    @property
    def _table(self) -> Mapping[FieldPath, int]:
        places, file, line = self._asked
        return places.lines(file, line)

    def __getitem__(self, path: FieldPath) -> int:
        return self._table[path]

    def __iter__(self) -> Iterator[FieldPath]:
        return iter(self._table)

    def __len__(self) -> int:
        return len(self._table)
