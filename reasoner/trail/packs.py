"""The state folder as one file to move house with: a gzipped tar, its manifest first; nothing in it leads elsewhere.

In it: trails with everything beside them, anchors, the archive of knowledge, which clinic copy is in use with the
clinic's folder, the letterhead. Not in it: keys, locks, the cache, whom the folder is shared with, absolute paths.
"""

from __future__ import annotations

import errno
import gzip
import hashlib
import io
import json
import re
import tarfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from reasoner.problems import InputRefused, Problem, one_line
from reasoner.trail import clinic
from reasoner.trail.files import read_regular, refusing
from reasoner.trail.lock import locked
from reasoner.trail.paths import ENDED, anchor_file, archive_folder, beside, cases, lock_file
from reasoner.trail.read import read

__all__ = ["Pack", "all_cases", "gather", "read_pack", "write_pack"]

FORMAT = 1
MOST_FILES, MOST_BYTES = 200_000, 1_000_000_000
_MANIFEST = "manifest.json"
_TOPS = ("cases", "anchors", "archive", "clinic", "letterhead")
_CASE_FILE = re.compile(r"[a-z]{2,20}(?:-[a-z]{2,20}){0,3}-[0-9]{1,4}(?![0-9])[^/]*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Pack:
    """What a pack holds: name inside the state folder -> bytes; `at`: when it was made."""

    files: Mapping[str, bytes]
    at: str

    @property
    def cases(self) -> tuple[str, ...]:
        """Cases whose trail or sealed file is in it."""
        ends = (".jsonl", ".sealed")
        names = (PurePosixPath(n) for n in self.files)
        found = {p.stem for p in names if p.parts[0] == "cases" and len(p.parts) == 2 and p.suffix in ends}
        return tuple(sorted(case for case in found if re.fullmatch(r"[a-z-]+-[0-9]+", case)))


# ------------------------------------------------------------------------------------------------ out


def gather(home: Path, only: Sequence[str] = (), *, with_archive: bool = True) -> dict[str, bytes]:
    """Name -> bytes of what is packed: all of it, or the cases `only` with the knowledge they were recorded with.

    Each case is read under its lock. InputRefused if something cannot be read, or a link leads elsewhere.
    """
    chosen = list(only) or all_cases(home)
    files: dict[str, bytes] = {}
    digests: set[str] = set()
    with refusing(home, "read the state folder"), ExitStack() as held:
        for case in chosen:
            _lock(held, home, case)
            found = beside(home, case)
            if found and found[0].name == f"{case}.jsonl":
                digests |= {e.knowledge.rpartition(":")[2] for e in read(found[0])[0]}
            for path in [*found, anchor_file(home, case)]:
                files |= _under(home, path)
        if with_archive:
            folder = archive_folder(home)
            wanted = [folder / d for d in sorted(digests)] if only else [folder]
            for path in wanted:
                files |= _under(home, path)
        if not only:
            files |= _under(home, home / "letterhead") | _clinic(home)
    return files


def _lock(held: ExitStack, home: Path, case: str) -> None:
    """Hold the lock; from a disk that nobody can write, a case is rescued without it."""
    try:
        held.enter_context(locked(lock_file(home, case)))
    except OSError as error:
        if error.errno != errno.EROFS:
            raise


def all_cases(home: Path) -> list[str]:
    """Open ones, sealed ones, and those of which only a tombstone is left."""
    folder = home / "cases"
    other = {p.stem for p in folder.iterdir() if p.suffix in ENDED} if folder.is_dir() else set()
    return sorted(other | set(cases(home)))


def _under(home: Path, path: Path) -> dict[str, bytes]:
    """The file, or every file below the folder; hidden ones of a killed writer are left out."""
    inside = [path] if not path.is_dir() else sorted(p for p in path.rglob("*") if not p.is_dir() or p.is_symlink())
    files: dict[str, bytes] = {}
    for one in inside:
        if one.is_symlink():
            raise InputRefused([Problem("T-PACK", "a symbolic link is not packed", "move it away", str(one))])
        if one.exists() and not one.name.endswith(".tmp"):
            files[one.relative_to(home).as_posix()] = read_regular(one, MOST_BYTES)
    return files


def _clinic(home: Path) -> dict[str, bytes]:
    """The record of the clinic's folder, which stands beside it on arrival, and the folder as it is."""
    now = clinic.in_use(home)
    if now is None:
        return {}
    inside = {f"clinic/{n.partition('/')[2]}": d for n, d in _under(now.folder.parent, now.folder).items()}
    moved = clinic.as_bytes(replace(now, folder=Path("clinic")))
    return {clinic.FILE: moved, **{n: d for n, d in inside.items() if "/.git/" not in n}}


def write_pack(files: Mapping[str, bytes], at: datetime) -> bytes:
    """The bytes of a pack: private modes, no owner, no time but its own."""
    listed = {name: [len(data), hashlib.sha256(data).hexdigest()] for name, data in sorted(files.items())}
    manifest = {"pack": FORMAT, "at": at.isoformat(timespec="seconds"), "files": listed}
    out = io.BytesIO()
    with (
        gzip.GzipFile(fileobj=out, mode="wb", mtime=0, filename="") as packed,
        tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT) as tar,
    ):
        for name, data in [(_MANIFEST, json.dumps(manifest).encode()), *sorted(files.items())]:
            info = tarfile.TarInfo(name)
            info.size, info.mode = len(data), 0o600
            tar.addfile(info, io.BytesIO(data))
    return out.getvalue()


# ------------------------------------------------------------------------------------------------ in


def read_pack(raw: bytes, name: str) -> Pack:
    """A pack's files, each as its manifest says. InputRefused for anything else: links, other places, changed bytes."""
    try:
        with tarfile.open(fileobj=io.BytesIO(_unzipped(raw)), mode="r:") as tar:
            members = list(_members(tar))
    except (tarfile.TarError, zlib.error, EOFError, OSError, ValueError, OverflowError) as error:
        raise _refused(f"not a whole pack ({one_line(str(error))})", name) from error
    if not members or members[0][0] != _MANIFEST:
        raise _refused("its manifest is missing", name)
    files = dict(members[1:])
    if len(files) != len(members) - 1:
        raise _refused("it holds a name twice", name)
    at, listed = _manifest(members[0][1], name)
    found = {n: [len(d), hashlib.sha256(d).hexdigest()] for n, d in files.items()}
    odd = sorted(n for n in found.keys() | listed.keys() if found.get(n) != listed.get(n))
    if odd:
        raise _refused(f"{len(odd)} of its files are not as they were packed; first: {one_line(odd[0])}", name)
    return Pack(files, at)


def _unzipped(raw: bytes) -> bytes:
    with gzip.GzipFile(fileobj=io.BytesIO(raw)) as packed:
        data = packed.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ValueError(f"more than {MOST_BYTES} bytes")
    return data


def _members(tar: tarfile.TarFile) -> Iterator[tuple[str, bytes]]:
    for number, member in enumerate(tar):
        if number > MOST_FILES:
            raise ValueError(f"more than {MOST_FILES} files")
        if not member.isreg():
            raise ValueError(f"no ordinary file: {member.name}")
        if member.name != _MANIFEST and not _belongs(member.name):
            raise ValueError(f"leads elsewhere: {member.name}")
        content = tar.extractfile(member)
        yield member.name, content.read() if content is not None else b""


def _belongs(name: str) -> bool:
    """Is this the name of something a pack may hold?"""
    parts = PurePosixPath(name).parts
    plain = name == "/".join(parts) and not name.startswith("/") and name.isprintable() and "\\" not in name
    if not plain or ".." in parts or len(name) > 1000 or max(map(len, parts)) > 255:
        return False
    if parts[0] in ("cases", "anchors"):
        return len(parts) >= 2 and _CASE_FILE.fullmatch(parts[1]) is not None
    return (parts[0] in _TOPS and len(parts) >= 2) or name == clinic.FILE


def _manifest(raw: bytes, name: str) -> tuple[str, dict[str, Any]]:
    try:
        told = json.loads(raw)
        number, at, listed = int(told["pack"]), str(told["at"]), dict(told["files"])
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise _refused("its manifest cannot be read", name) from error
    if number > FORMAT:
        raise _refused(f"format {number} is newer than this version reads ({FORMAT}); update the tool", name)
    return at, listed


def _refused(message: str, name: str) -> InputRefused:
    return InputRefused([Problem("T-PACK", message, "nothing was unpacked", name)])
