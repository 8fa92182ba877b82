"""One line of a trail: a JSON object whose last key is the hash of every byte before it, as written.

    {"seq":2,"at":"2026-11-24T09:10:00+01:00","by":"KM","role":"physio","event":"noted","schema":1,
     "knowledge":"...","previous":"sha256:...","payload":{...},"texts":{...},"hash":"sha256:..."}      (one line)

Hashing the bytes avoids every question of canonical form (4 and 4.0, key order, escapes). Reading is strict: a key
given twice, NaN, infinity, a number JSON readers disagree on, NUL, half a surrogate pair, and bad UTF-8 are refused.
`texts` holds names and salted hashes only; the words are kept beside the trail so that they can be removed.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NoReturn

from reasoner.trail.upcast import SCHEMA, upcast

__all__ = ["FIRST_PREVIOUS", "MAX_LINE", "BadLine", "Entry", "decode", "encode", "parse_json", "sha256"]

KEYS = ("seq", "at", "by", "role", "event", "schema", "knowledge", "previous", "payload", "texts", "hash")
FIRST_PREVIOUS = "sha256:" + "0" * 64
MAX_LINE = 1_000_000  # bytes; a visit's longest line is some thousands
MAX_DIGITS = 15  # every integer of up to 15 digits survives a reader that keeps numbers as doubles

_HASH = re.compile(r"sha256:[0-9a-f]{64}", re.ASCII)
_EVENT = re.compile(r"[a-z][a-z0-9_.-]{0,39}", re.ASCII)
_SEAL = re.compile(rb',"hash":"(sha256:[0-9a-f]{64})"\}\Z')
_SEAL_LENGTH = len(',"hash":"sha256:"}') + 64
_SUSPECT = re.compile(rb"\\u(?:0000|[dD][89a-fA-F])")  # escapes that may hide a NUL or half a surrogate pair


class BadLine(ValueError):
    """A line that is not one; the message says what was found."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line as read. `texts` are the words of `text_hashes`, or a marker in brackets where they are not there."""

    seq: int
    at: datetime
    by: str
    role: str
    event: str
    schema: int  # as written; `event` and `payload` are already in today's shape
    knowledge: str
    payload: Mapping[str, Any]
    texts: Mapping[str, str]
    hash: str
    previous: str = FIRST_PREVIOUS
    text_hashes: Mapping[str, str] = field(default_factory=dict)


def sha256(data: bytes) -> str:
    """The hash with its algorithm's name in front, so that it can change one day."""
    return "sha256:" + hashlib.sha256(data).hexdigest()


def encode(
    seq: int,
    previous: str,
    event: str,
    payload: Mapping[str, Any],
    *,
    at: datetime,
    by: str,
    role: str,
    knowledge: str,
    text_hashes: Mapping[str, str],
) -> bytes:
    """The bytes of a line, without newline. BadLine if it could not be read back; ValueError if `at` has no offset."""
    if at.utcoffset() is None:
        raise ValueError("a time without its offset cannot be recorded")
    record = {
        "seq": seq, "at": at.isoformat(), "by": by, "role": role, "event": event, "schema": SCHEMA,
        "knowledge": knowledge, "previous": previous, "payload": dict(payload), "texts": dict(text_hashes),
    }  # fmt: skip
    try:
        body = json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))[:-1].encode()
    except (UnicodeEncodeError, RecursionError) as error:
        raise BadLine(_plain(error)) from error
    except ValueError as error:
        raise BadLine("a number that is not finite") from error
    raw = body + f',"hash":"{sha256(body)}"}}'.encode()
    decode(raw)  # what cannot be read back is not written
    return raw


def decode(raw: bytes) -> Entry:
    """Read one line (without its newline) and check its own hash. `texts` is left empty. BadLine if anything is off."""
    if len(raw) > MAX_LINE:
        raise BadLine(f"a line of more than {MAX_LINE} bytes")
    seal = _SEAL.search(raw, max(0, len(raw) - _SEAL_LENGTH))
    if seal is None:
        raise BadLine("no hash at its end")
    if sha256(raw[: seal.start()]) != seal[1].decode():
        raise BadLine("changed since it was written (its hash does not fit)")
    record = parse_json(raw)
    if not isinstance(record, dict) or tuple(record) != KEYS:
        raise BadLine("keys other than a trail's")
    return _entry(record)


def _entry(record: dict[str, Any]) -> Entry:
    seq, schema, payload, texts = record["seq"], record["schema"], record["payload"], record["texts"]
    if type(seq) is not int or seq < 1 or type(schema) is not int or schema < 1:
        raise BadLine("a sequence or schema that is not a counting number")
    if not all(isinstance(record[key], str) for key in ("at", "by", "role", "event", "knowledge", "previous")):
        raise BadLine("a number or list where text is expected")
    if not (isinstance(payload, dict) and isinstance(texts, dict)):
        raise BadLine("no payload")
    if not _EVENT.fullmatch(record["event"]):
        raise BadLine(f"the event name {record['event'][:40]!a}")
    if not all(_EVENT.fullmatch(k) and isinstance(v, str) and _HASH.fullmatch(v) for k, v in texts.items()):
        raise BadLine("a text without its hash")
    if not _HASH.fullmatch(record["previous"]):
        raise BadLine("no hash of the line before")
    try:
        at = datetime.fromisoformat(record["at"])
        event, payload = upcast(record["event"], payload, schema)
    except ValueError as error:
        raise BadLine(_plain(error)) from error
    if at.utcoffset() is None:
        raise BadLine("a time without its offset")
    return Entry(
        seq, at, record["by"], record["role"], event, schema, record["knowledge"], payload, {}, record["hash"],
        record["previous"], texts,
    )  # fmt: skip


def parse_json(raw: bytes) -> Any:
    """Strict JSON: BadLine for all that two readers could understand differently, and for what cannot be shown."""
    if b"\x00" in raw:
        raise BadLine("a NUL byte")
    try:
        value = _DECODER.decode(raw.decode("utf-8"))
    except BadLine:
        raise
    except (ValueError, RecursionError) as error:
        raise BadLine(_plain(error)) from error
    if _SUSPECT.search(raw):
        _require_text(value)
    return value


def _require_text(value: Any) -> None:
    """BadLine if a string inside holds NUL or half a surrogate pair: neither can be printed or stored as UTF-8."""
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, dict):
            waiting += [*item.keys(), *item.values()]
        elif isinstance(item, list):
            waiting += item
        elif isinstance(item, str) and ("\x00" in item or any("\ud800" <= c <= "\udfff" for c in item)):
            raise BadLine("a character that is not text")


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    mapping = dict(pairs)
    if len(mapping) != len(pairs):
        raise BadLine("a key given twice")
    return mapping


def _integer(text: str) -> int:
    if len(text.lstrip("-")) > MAX_DIGITS:
        raise BadLine(f"a number of more than {MAX_DIGITS} digits")
    return int(text)


def _float(text: str) -> float:
    number = float(text)
    if number in (float("inf"), float("-inf")):
        raise BadLine("a number too large to hold")
    return number


def _constant(text: str) -> NoReturn:
    raise BadLine(f"{text}, which is not a number")


_DECODER = json.JSONDecoder(
    object_pairs_hook=_pairs, parse_int=_integer, parse_float=_float, parse_constant=_constant
)


def _plain(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "brackets nested too deeply"
    if isinstance(error, UnicodeDecodeError):
        return f"bytes that are not UTF-8 (at byte {error.start + 1})"
    if isinstance(error, UnicodeEncodeError):
        return "a character that is not text"
    if isinstance(error, json.JSONDecodeError):
        return f"not JSON (at character {error.pos + 1})"
    return str(error)
