"""Knowledge as it was used: every file as loaded, kept once a digest, so that an old answer can be explained later.

<digest>/files.tar holds the files, <digest>/files.json what each must read as. One tar and not a file each: a disk made
to keep a thousand small files for certain, one by one, takes seconds.
"""

from __future__ import annotations

import errno
import hashlib
import io
import json
import os
import re
import shutil
import tarfile
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path, PurePosixPath

from reasoner.problems import InputRefused, Problem
from reasoner.trail.files import make_folder, refusing, sync_folder, write_new
from reasoner.trail.paths import archive_folder

__all__ = ["keep", "stored"]

_DIGEST = re.compile(r"(?:[a-z0-9]+:)?([0-9a-f]{8,128})", re.ASCII)
_LIST = "files.json"  # name -> sha256, written last
_FILES = "files.tar"
_LOOSE = "files"  # earlier versions kept a file each, here


def keep(home: Path, digest: str, files: Mapping[str, bytes]) -> Path:
    """Keep `files` (relative name -> bytes) under `digest`, once; the folder that holds them.

    It appears whole or not at all. InputRefused if it cannot be written; ValueError for a name that leads elsewhere.
    """
    folder = _folder(home, digest)
    for name in files:
        _check_name(name)
    if folder.is_dir():
        return folder
    making = folder.with_name(f".{folder.name}.{os.getpid()}")
    with refusing(folder, "archive the knowledge"):
        shutil.rmtree(making, ignore_errors=True)
        make_folder(making)
        write_new(making / _FILES, _packed(files))
        listed = {name: hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())}
        write_new(making / _LIST, json.dumps(listed, indent=1).encode() + b"\n")
        try:
            os.rename(making, folder)
        except OSError as error:
            if error.errno not in (errno.ENOTEMPTY, errno.EEXIST):
                raise
            shutil.rmtree(making)  # another session kept the same bytes first
        sync_folder(folder.parent)
    return folder


def stored(home: Path, digest: str) -> dict[str, bytes] | None:
    """The files kept under `digest`; None if there are none. InputRefused if they are no longer as kept."""
    folder = _folder(home, digest)
    if not folder.is_dir():
        return None
    found: dict[str, bytes] = {}
    with refusing(folder, "read the archive"):
        try:
            listed = json.loads((folder / _LIST).read_bytes())
            names = {_check_name(name): str(value) for name, value in listed.items()}
        except (ValueError, AttributeError, RecursionError) as error:
            raise InputRefused([Problem("T-ARCHIVE", "the archive's list is damaged", "", str(folder))]) from error
        loose = folder / _LOOSE
        held = _read_loose(loose, names) if loose.is_dir() else _unpacked((folder / _FILES).read_bytes())
    for name, value in names.items():
        data = held.get(name)
        if data is not None and hashlib.sha256(data).hexdigest() == value:
            found[name] = data
    lost = sorted(names.keys() - found.keys())
    if lost:
        message = f"{len(lost)} of its files are missing or were changed"
        raise InputRefused([Problem("T-ARCHIVE", message, f"first: {lost[0]}", str(folder))])
    return found


def _read_loose(folder: Path, names: Iterable[str]) -> dict[str, bytes]:
    """A copy of earlier versions: a file each."""
    found: dict[str, bytes] = {}
    for name in names:
        with suppress(FileNotFoundError):
            found[name] = (folder / name).read_bytes()
    return found


def _packed(files: Mapping[str, bytes]) -> bytes:
    """The same files make the same bytes."""
    raw = io.BytesIO()
    with tarfile.open(fileobj=raw, mode="w", format=tarfile.GNU_FORMAT) as tar:
        for name, data in sorted(files.items()):
            entry = tarfile.TarInfo(name)
            entry.size = len(data)
            tar.addfile(entry, io.BytesIO(data))
    return raw.getvalue()


def _unpacked(raw: bytes) -> dict[str, bytes]:
    """What can be read of it; nothing is written anywhere. What is missing is found by the list."""
    found: dict[str, bytes] = {}
    damage = (tarfile.TarError, EOFError, ValueError, OverflowError)
    with suppress(*damage), tarfile.open(fileobj=io.BytesIO(raw), mode="r:") as tar:
        for entry in tar:
            if entry.type == tarfile.REGTYPE and entry.size <= len(raw):
                data = tar.extractfile(entry)
                if data is not None:
                    found[entry.name] = data.read()
    return found


def _folder(home: Path, digest: str) -> Path:
    match = _DIGEST.fullmatch(digest)
    if match is None:
        raise InputRefused([Problem("T-ARCHIVE", f"{digest[:80]!a} is not a digest of knowledge")])
    return archive_folder(home) / match[1]


def _check_name(name: str) -> str:
    path = PurePosixPath(name)
    if not path.parts or path.is_absolute() or ".." in path.parts or "\\" in name or "\x00" in name:
        raise ValueError(f"{name!r} is not a name inside a folder")
    return name
