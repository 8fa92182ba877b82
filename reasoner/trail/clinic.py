"""Which clinic folder is in use, and its published copies: kept by digest beside the archive, never changed.

<home>/clinic.json            the folder being edited, the copy in use, and the copies before it
<home>/archive/<digest>/      each published copy, verified whenever it is read
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reasoner.problems import InputRefused, Problem
from reasoner.trail import archive
from reasoner.trail.files import make_folder, read_regular, refusing, write_whole

__all__ = [
    "FILE", "Copy", "InUse", "as_bytes", "copy_digest", "copy_files", "in_use", "publish", "roll_back", "start_using",
]  # fmt: skip

FILE = "clinic.json"
_MOST_BYTES = 1_000_000
_DIGEST = re.compile(r"[0-9a-f]{64}\Z")
_WITHOUT = "mend it, or work without it: --without-clinic"


@dataclass(frozen=True, slots=True)
class Copy:
    """One publishing: the digest of the copy (empty: none, the shipped knowledge alone), when, by whom, and how."""

    digest: str
    at: str
    by: str
    how: str = "published"


@dataclass(frozen=True, slots=True)
class InUse:
    """The folder being edited, and every publishing in order; the last is the copy that sessions use."""

    folder: Path
    copies: tuple[Copy, ...] = ()

    @property
    def copy(self) -> Copy | None:
        """The copy in use; None while nothing has been published."""
        return self.copies[-1] if self.copies and self.copies[-1].digest else None


def in_use(home: Path) -> InUse | None:
    """What is configured; None where no clinic folder is. InputRefused if the record of it cannot be read."""
    path = home / FILE
    if not path.exists():
        return None
    with refusing(path, "read which clinic folder is in use"):
        data = read_regular(path, _MOST_BYTES)
    try:
        told = json.loads(data)
        copies = tuple(Copy(**{k: str(v) for k, v in one.items()}) for one in told["copies"])
        if not all(not c.digest or _DIGEST.match(c.digest) for c in copies):
            raise ValueError("not a digest")
        return InUse(home / str(told["folder"]), copies)  # one that came in a pack stands in the state folder
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        message = "the record of which clinic folder is in use is damaged"
        raise InputRefused([Problem("T-CLINIC", message, _WITHOUT, str(path))]) from error


def start_using(home: Path, folder: Path) -> InUse:
    """Take `folder` as the one being edited; copies published from the same folder are kept in the record."""
    before = in_use(home)
    kept = before.copies if before is not None and before.folder == folder.absolute() else ()
    return _write(home, InUse(folder.absolute(), kept))


def copy_digest(files: Mapping[str, bytes]) -> str:
    """SHA-256 over names and bytes, in the order of names: the same wherever the folder stands."""
    total = hashlib.sha256()
    for name in sorted(files):
        total.update(f"{name}\0{len(files[name])}\0".encode())
        total.update(files[name])
    return total.hexdigest()


def publish(home: Path, files: Mapping[str, bytes], *, at: str, by: str) -> InUse:
    """Keep a copy of the files and use it from now on. The copy appears whole before anything points to it."""
    now = _needed(home)
    digest = copy_digest(files)
    archive.keep(home, digest, files)
    return _write(home, InUse(now.folder, (*now.copies, Copy(digest, at, by))))


def roll_back(home: Path, *, at: str, by: str, to: str = "") -> InUse:
    """Use an earlier copy again: the one used before, or the one whose digest begins with `to`.

    Before the first copy there was none: then the shipped knowledge alone is used.
    """
    now = _needed(home)
    if now.copy is None:
        raise InputRefused([Problem("T-CLINIC", "nothing has been published yet", "reasoner knowledge publish")])
    earlier = [c.digest for c in now.copies if c.digest not in ("", now.copy.digest)]
    found = list(dict.fromkeys(d for d in reversed(earlier) if d.startswith(to)))
    if to and len(found) != 1:
        known = ", ".join(dict.fromkeys(d[:12] for d in earlier)) or "none"
        raise InputRefused([Problem("T-CLINIC", f"no earlier copy {to}", f"earlier copies: {known}")])
    if found:
        _verified(home, found[0])
    found = found or [""]
    return _write(home, InUse(now.folder, (*now.copies, Copy(found[0], at, by, "rolled back"))))


def copy_files(home: Path) -> dict[str, bytes] | None:
    """The files of the copy in use; None where no clinic is configured or nothing is published.

    InputRefused, with the reason, if the configured folder has gone or the copy is not as it was published.
    """
    now = in_use(home)
    if now is None:
        return None
    if not (now.folder / "clinic.yaml").is_file():
        found = "has no clinic.yaml" if now.folder.is_dir() else "is not there"
        message = f"the clinic's knowledge folder {found}"
        raise InputRefused([Problem("T-CLINIC", message, _WITHOUT, str(now.folder))])
    return None if now.copy is None else _verified(home, now.copy.digest)


def _verified(home: Path, digest: str) -> dict[str, bytes]:
    try:
        files = archive.stored(home, digest)
    except InputRefused as refused:
        why = refused.problems[0].message
        message = f"the clinic's published copy {digest[:12]} is not as it was published: {why}"
        raise InputRefused([Problem("T-CLINIC", message, _WITHOUT, refused.problems[0].file)]) from refused
    if files is None or copy_digest(files) != digest:
        found = "is not there" if files is None else "is not as it was published"
        message = f"the clinic's published copy {digest[:12]} {found}"
        raise InputRefused([Problem("T-CLINIC", message, _WITHOUT)])
    return files


def _needed(home: Path) -> InUse:
    now = in_use(home)
    if now is None:
        raise InputRefused([Problem("T-CLINIC", "no clinic folder is in use", "reasoner knowledge start DIR")])
    return now


def as_bytes(now: InUse) -> bytes:
    """The record as written."""
    told: dict[str, Any] = {
        "folder": str(now.folder),
        "copies": [{"digest": c.digest, "at": c.at, "by": c.by, "how": c.how} for c in now.copies],
    }
    return json.dumps(told, indent=1).encode() + b"\n"


def _write(home: Path, now: InUse) -> InUse:
    with refusing(home / FILE, "write which clinic folder is in use"):
        make_folder(home)
        write_whole(home / FILE, as_bytes(now))
    return now
