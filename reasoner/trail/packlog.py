"""Which packs were made, and when: words removed later may still stand in one.

<home>/packs.jsonl      one line a pack: when, where to, which cases; it is not packed itself
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from reasoner.trail.files import make_folder, open_private, read_regular, refusing

__all__ = ["note", "packs_of"]

_LOG = "packs.jsonl"


def note(home: Path, file: Path, packed: Iterable[str], at: datetime) -> None:
    """Keep in mind that a pack was made: words removed later may still stand in it. InputRefused as for any file."""
    line = {"at": at.isoformat(timespec="seconds"), "file": str(file.absolute()), "cases": sorted(packed)}
    with refusing(home / _LOG, "note that a pack was made"):
        make_folder(home)
        handle = open_private(home / _LOG, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        with os.fdopen(handle, "wb") as log:
            log.write(json.dumps(line).encode() + b"\n")


def packs_of(home: Path, case: str, since: datetime) -> tuple[tuple[str, str], ...]:
    """(file, when) of every pack made with this case in it since then; a line that cannot be read is passed over."""
    path = home / _LOG
    if not path.exists():
        return ()
    with refusing(path, "read which packs were made"):
        lines = read_regular(path, 10_000_000).splitlines()
    found = []
    for raw in lines:
        try:
            told = json.loads(raw)
            if case in told["cases"] and datetime.fromisoformat(told["at"]) >= since.replace(microsecond=0):
                found.append((str(told["file"]), str(told["at"])))
        except (ValueError, KeyError, TypeError):
            continue
    return tuple(found)
