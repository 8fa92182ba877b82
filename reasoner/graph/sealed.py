"""Files that only save time: kept under a key, with their own hash, whole or not at all, private.

What is kept under another key is old, which is usual; what does not fit its hash is damaged, which is told. Either way
the work is done again: nothing here ever gives an answer that was not worked out from the same bytes by the same code.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from reasoner.problems import Problem

__all__ = ["SEALED_CODES", "code_digest", "damaged", "keep_sealed", "remembered", "sealed"]

SEALED_CODES: Mapping[str, str] = {
    "F-KEPT": "What was kept of the knowledge from an earlier start is damaged. It is passed over, the knowledge is "
    "read from its own files, and kept again. A note.",
}


def sealed(path: Path, key: str) -> bytes | None:
    """What is kept at `path` under this key; None where there is nothing, or something older.

    ValueError or OSError if it is damaged or cannot be read.
    """
    try:
        head, _, body = path.read_bytes().partition(b"\n")
    except FileNotFoundError:
        return None
    found, _, mark = head.decode("ascii").partition(" ")
    if mark and found != _hash(key.encode()):
        return None
    if mark != _hash(body):
        raise ValueError("damaged")
    return body


def keep_sealed(path: Path, key: str, body: bytes) -> None:
    """Keep it. In silence nothing is kept where nothing can be written."""
    with suppress(OSError):
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".keeping-")  # private, as mkstemp makes it
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(f"{_hash(key.encode())} {_hash(body)}\n".encode() + body)
            os.replace(name, path)
        except OSError:
            os.unlink(name)
            raise


def remembered(path: Path | None, key: str, work: Callable[[], Any]) -> tuple[Any, list[Problem]]:
    """JSON data kept under the key, else worked out and kept; with a note where what was kept is damaged."""
    notes = []
    try:
        body = sealed(path, key) if path is not None else None
        if body is not None:
            return json.loads(body), []
    except (OSError, ValueError):
        assert path is not None
        notes = [damaged(path)]
    found = work()
    if path is not None:
        keep_sealed(path, key, json.dumps(found).encode())
    return found, notes


def damaged(path: Path) -> Problem:
    """The note about it."""
    message = "what was kept of the knowledge is damaged"
    return Problem("F-KEPT", message, "it is passed over and read afresh", str(path), level="info")


@cache
def code_digest(folder: Path) -> str:
    """SHA-256 (hex) over the Python files of a folder: what other code worked out is not trusted."""
    total = hashlib.sha256()
    for path in sorted(folder.rglob("*.py")):
        total.update(path.read_bytes())
    return total.hexdigest()


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
