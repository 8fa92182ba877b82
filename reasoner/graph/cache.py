"""Knowledge that has loaded without a problem, kept as JSON: the next start reads no YAML and validates nothing.

Kept under the digest of every file it came from and of this folder's code, so that a changed file, record class or
check is always read afresh. Anything odd about the kept file - missing, torn, changed - means reading afresh as well;
a cache never gives an answer, it only saves time (three quarters of a second of one on the shipped knowledge).
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from functools import cache, cached_property
from pathlib import Path
from typing import Any, get_args, get_origin, get_type_hints

from reasoner.graph import records
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Clinic
from reasoner.graph.records import Place

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
    "evidence": records.Evidence,
    "alignment": records.Alignment,
}


def kept(path: Path, digest: str, files: Mapping[str, bytes]) -> Knowledge | None:
    """The knowledge kept at `path` if it is that of `digest`; None whenever there is any doubt."""
    try:
        head, _, body = path.read_bytes().partition(b"\n")
        if head.decode("ascii") != _head(digest, body):
            return None
        data = json.loads(body)
        parts: dict[str, Any] = {name: _record(cls, data[name], files) for name, cls in _SINGLE.items()}
        for name, cls in _MANY.items():
            made = [_record(cls, one, files) for one in data[name]]
            parts[name] = {record.id: record for record in made}
        parts["clinic"] = None if data["clinic"] is None else Clinic(**_converted(Clinic, data["clinic"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return Knowledge(**parts, digest=digest, files=files)


def keep(path: Path, knowledge: Knowledge) -> None:
    """Keep knowledge that loaded without a problem. In silence nothing is kept where nothing can be written."""
    data: dict[str, Any] = {name: _plain(getattr(knowledge, name)) for name in _SINGLE}
    data |= {name: [_plain(r) for r in getattr(knowledge, name).values()] for name in _MANY}
    data["clinic"] = _plain(knowledge.clinic)
    body = json.dumps(data, separators=(",", ":")).encode()
    whole = _head(knowledge.digest, body).encode() + b"\n" + body
    with suppress(OSError):
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".keeping-")  # private, as mkstemp makes it
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(whole)
            os.replace(name, path)
        except OSError:
            os.unlink(name)
            raise


def _head(digest: str, body: bytes) -> str:
    return f"{digest} {_code_digest()} {hashlib.sha256(body).hexdigest()}"


@cache
def _code_digest() -> str:
    """Of the reader, the record classes and the checks: what was checked by other rules is not trusted."""
    total = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        total.update(path.read_bytes())
    return total.hexdigest()


# ------------------------------------------------------------------------------------------------ records


def _plain(value: Any) -> Any:
    """A record as JSON data; of its place only file and line, and what a clinic's folder set."""
    if isinstance(value, Place):
        over = [[list(path), *where] for path, where in value.overlaid.items()]
        return [value.file, value.line, over]
    if dataclasses.is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value


def _record(cls: type, data: dict[str, Any], files: Mapping[str, bytes]) -> Any:
    file, line, over = data.pop("place")
    overlaid = {tuple(path): (name, at) for path, name, at in over}
    place = Place(file, line, _Lines(files[file], file, line), overlaid)
    return cls(**_converted(cls, data), place=place)


def _converted(cls: type, data: dict[str, Any]) -> dict[str, Any]:
    for name, convert in _converters(cls):
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


class _Lines(Mapping[tuple[str | int, ...], int]):
    """The line of each field path of one record, read from its file only when somebody asks."""

    def __init__(self, data: bytes, file: str, line: int) -> None:
        self._source = (data, file, line)

    @cached_property
    def _table(self) -> Mapping[tuple[str | int, ...], int]:
        from reasoner.graph.source import parse

        data, file, line = self._source
        document, _ = parse(data, file)
        if document is None or not isinstance(document.value, list):
            return document.lines if document is not None else {}
        number = next((n for n in range(len(document.value)) if document.lines[n,] == line), -1)
        return {path[1:]: at for path, at in document.lines.items() if path and path[0] == number}

    def __getitem__(self, path: tuple[str | int, ...]) -> int:
        return self._table[path]

    def __iter__(self) -> Iterator[tuple[str | int, ...]]:
        return iter(self._table)

    def __len__(self) -> int:
        return len(self._table)
