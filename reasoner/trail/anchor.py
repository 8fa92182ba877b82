"""The anchor of a trail: how many lines it has and the hash of the last, kept apart from it.

A chain of hashes shows every change except a missing end; the anchor shows that one. It is written after the line, so
an anchor *behind* the trail is what a killed program leaves; one *ahead* or with another hash is a problem.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reasoner.problems import Problem
from reasoner.trail.files import make_folder, read_regular, write_whole
from reasoner.trail.line import BadLine, Entry, parse_json

__all__ = ["Anchor", "compare", "read_anchor", "write_anchor"]

_HASH = re.compile(r"sha256:[0-9a-f]{64}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Anchor:
    """`count` lines, the last with `hash`. `since`: the line with which it was begun (above 1: it had been lost)."""

    count: int
    hash: str
    since: int = 1

    def bytes(self) -> bytes:
        """As written: one line of JSON."""
        record = {"count": self.count, "hash": self.hash, "since": self.since}
        return json.dumps(record, separators=(",", ":")).encode() + b"\n"


def read_anchor(path: Path) -> Anchor | None:
    """The anchor, or None if there is none. BadLine if it is not an anchor's exact bytes. OSError as it comes."""
    try:
        raw = read_regular(path, 1000)
    except FileNotFoundError:
        return None
    record = parse_json(raw)
    if not isinstance(record, dict) or tuple(record) != ("count", "hash", "since"):
        raise BadLine("keys other than an anchor's")
    count, digest, since = record.values()
    whole = type(count) is int and type(since) is int and 1 <= since <= count
    if not (whole and isinstance(digest, str) and _HASH.fullmatch(digest)):
        raise BadLine("values other than an anchor's")
    anchor = Anchor(count, digest, since)
    if anchor.bytes() != raw:
        raise BadLine("bytes other than an anchor's")
    return anchor


def write_anchor(path: Path, anchor: Anchor) -> None:
    """Replace the anchor in one step. Its folder is not synced: after a power cut an older anchor is normal."""
    make_folder(path.parent)
    write_whole(path, anchor.bytes())


def compare(path: Path, anchor: Anchor | None, entries: Sequence[Entry]) -> list[Problem]:
    """What the anchor says against the lines of the trail `path` (all that can be read, from the first)."""
    count = entries[-1].seq if entries else 0
    if anchor is None:
        if count <= 1:  # killed between the first line and its anchor
            return []
        return [Problem("T-ANCHOR", "its anchor is missing: a missing end would not be seen", file=str(path))]
    if anchor.count > count:
        message = f"the end is missing: {anchor.count} lines were recorded, {count} can be read"
        hint = "bring the file back from a copy; do not write on"
        return [Problem("T-END", message, hint, file=str(path), line=count + 1)]
    held = next((entry for entry in reversed(entries) if entry.seq == anchor.count), None)
    if held is None or held.hash != anchor.hash:
        message = "this is not the line that was recorded here (the anchor holds another hash)"
        return [Problem("T-END", message, "compare with a copy", file=str(path), line=anchor.count)]
    if anchor.since > 1:
        message = f"its anchor was lost once and begun anew at line {anchor.since}"
        hint = "an end that went missing before that could not be seen"
        return [Problem("T-ANCHOR", message, hint, file=str(path), line=anchor.since, level="info")]
    return []
