"""Remarks and read marks beside a trail: a file of their own, append-only, signed by code, quoting the line's hash.

    <case>.remarks      one JSON line each: number, at, by, role, kind, on, hash of that line, head, text, previous, own

The trail is never touched. A remark whose quoted hash is no longer the trail's says so instead of being shown beside
another line. Only words removed from the case for good are taken out of a remark that quotes them.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Literal

from reasoner.problems import InputRefused, Problem
from reasoner.trail.files import open_private, read_regular, refusing, sync_folder, write_all, write_whole
from reasoner.trail.line import FIRST_PREVIOUS, BadLine, Entry, parse_json, sha256
from reasoner.trail.text import REMOVED

__all__ = ["Remark", "add", "forget", "read_by", "remarks_file", "remarks_of", "unread"]

Kind = Literal["remark", "read", "agreed"]
_LONGEST = 2000
_MOST_BYTES = 20_000_000
_KEYS = ("number", "at", "by", "role", "kind", "on", "hash", "head", "text", "previous")


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark or read mark. `on`: the trail's line, `hash` its hash; `head`: count and hash of the end then."""

    number: int
    at: str
    by: str
    role: str
    kind: Kind
    on: int
    hash: str
    head: str
    text: str = ""
    previous: str = FIRST_PREVIOUS
    own: str = ""


def remarks_file(trail: Path) -> Path:
    """Where the remarks on a trail are kept."""
    return trail.with_suffix(".remarks")


def add(
    trail: Path, entries: Sequence[Entry], *, kind: Kind, on: int, text: str, by: str, role: str, at: datetime
) -> Remark:
    """Append one; on the disk when it returns. InputRefused for a line that is not there, or empty words."""
    line = next((e for e in entries if e.seq == on), None)
    if line is None:
        hint = f"lines 1 to {entries[-1].seq}"
        raise InputRefused([Problem("R-LINE", f"there is no line {on}", hint, str(trail))])
    if kind == "remark" and not any(c.isalpha() for c in text):
        raise InputRefused([Problem("R-TEXT", "a remark needs words")])
    if len(text) > _LONGEST:
        raise InputRefused([Problem("R-TEXT", f"a remark of {len(text)} letters", f"at most {_LONGEST}")])
    before = remarks_of(trail, entries)
    previous = before[-1].own if before else FIRST_PREVIOUS
    head = f"{len(entries)}:{entries[-1].hash}"
    made = Remark(len(before) + 1, at.isoformat(), by, role, kind, on, line.hash, head, text, previous)
    made = replace(made, own=_hash(made))
    path = remarks_file(trail)
    new = not path.exists()
    with refusing(path, "write the remark"):
        handle = open_private(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        try:
            write_all(handle, _line(made))
            os.fsync(handle)
        finally:
            os.close(handle)
        if new:
            sync_folder(path.parent)
    return made


def remarks_of(trail: Path, entries: Sequence[Entry]) -> tuple[Remark, ...]:
    """Every remark, checked. InputRefused with the line where one was changed or quotes what is no longer so."""
    path = remarks_file(trail)
    if not path.exists():
        return ()
    with refusing(path, "read the remarks"):
        lines = read_regular(path, _MOST_BYTES).splitlines()
    hashes = {e.seq: e.hash for e in entries}
    found: list[Remark] = []
    previous = FIRST_PREVIOUS
    for number, raw in enumerate(lines, 1):
        one = _parsed(raw)
        if one is None or one.number != number or one.previous != previous or one.own != _hash(one):
            message = "a remark was changed, removed or cannot be read"
            raise InputRefused([Problem("R-CHAIN", message, "compare with a copy", str(path), number)])
        if hashes.get(one.on) != one.hash:
            message = f"quotes line {one.on} of the trail as it no longer is"
            raise InputRefused([Problem("R-QUOTE", message, "the trail or its copy differs", str(path), number)])
        found.append(one)
        previous = one.own
    return tuple(found)


def forget(trail: Path, entries: Sequence[Entry], words: Iterable[str]) -> int:
    """Take every remark's text that quotes these words out for good; how many. The chain is made anew over what stays.

    InputRefused if the remarks cannot be trusted as they stand.
    """
    sought = [w for w in words if w]
    before = remarks_of(trail, entries)
    quoting = [r.number for r in before if any(w in r.text for w in sought)]
    if quoting:
        previous, lines = FIRST_PREVIOUS, []
        for one in before:
            made = replace(one, text=REMOVED if one.number in quoting else one.text, previous=previous)
            made = replace(made, own=_hash(made))
            lines.append(_line(made))
            previous = made.own
        path = remarks_file(trail)
        with refusing(path, "take the words out of the remarks"):
            write_whole(path, b"".join(lines))
            sync_folder(path.parent)
    return len(quoting)


def read_by(remarks: Sequence[Remark]) -> dict[str, str]:
    """Clinician code -> when they last marked the trail as read."""
    return {r.by: r.at for r in remarks if r.kind == "read"}


def unread(remarks: Sequence[Remark], entries: Sequence[Entry]) -> bool:
    """Has nobody marked it as read at its present end?"""
    head = f"{len(entries)}:{entries[-1].hash}"
    return not any(r.kind == "read" and r.head == head for r in remarks)


def _line(remark: Remark) -> bytes:
    return json.dumps(asdict(remark), ensure_ascii=False).encode() + b"\n"


def _hash(remark: Remark) -> str:
    told = asdict(remark)
    return sha256(json.dumps({k: told[k] for k in _KEYS}, sort_keys=True, ensure_ascii=False).encode())


def _parsed(raw: bytes) -> Remark | None:
    try:
        one = Remark(**parse_json(raw))
    except (BadLine, TypeError):
        return None
    good = isinstance(one.number, int) and isinstance(one.on, int) and one.kind in ("remark", "read", "agreed")
    return one if good and all(isinstance(getattr(one, k), str) for k in ("at", "by", "hash", "text", "own")) else None
