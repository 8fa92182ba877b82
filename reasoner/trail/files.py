"""Files that are there or are not: durable writes, private permissions, and file errors as one clear Problem."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.reading import read_regular, require_regular

__all__ = [
    "SHARE_RECORD", "is_shared", "make_folder", "make_private", "open_private", "read_regular", "refusing",
    "require_regular", "sync_folder", "write_all", "write_new", "write_whole",
]  # fmt: skip

FILE_MODE, SHARED_FILE_MODE = 0o600, 0o660
FOLDER_MODE, SHARED_FOLDER_MODE = 0o700, 0o2770
SHARE_RECORD = "config.json"
"""In the state folder once it was shared on purpose; without it no folder's own bits make anything shared."""

_REASONS = {
    errno.ENOENT: ("it is not there", "check the path, or run `reasoner where`"),
    errno.EACCES: ("no permission", "check who owns the file and its folder"),
    errno.EPERM: ("no permission", "check who owns the file and its folder"),
    errno.EROFS: ("the disk is read-only", "set REASONER_HOME to a folder that can be written"),
    errno.ENOSPC: ("the disk is full", "free some space and do the last step again"),
    errno.EDQUOT: ("the disk quota is used up", "free some space and do the last step again"),
    errno.EFBIG: ("the file may not grow any further", "look at the limits set for this account"),
    errno.ENOTDIR: ("a file stands where a folder is expected", "move that file, or set REASONER_HOME"),
    errno.EISDIR: ("it is a folder, not a file", "give a file"),
    errno.EEXIST: ("it is already there", "choose another name"),
    errno.ELOOP: ("it is a symbolic link", "give the file itself"),
    errno.ENAMETOOLONG: ("the name is too long", "choose a shorter one"),
}


@contextmanager
def refusing(path: Path, doing: str) -> Iterator[None]:
    """Turn an OSError inside the block into `InputRefused` with one Problem that names the file and the way out."""
    try:
        yield
    except OSError as error:
        found, hint = _REASONS.get(error.errno or 0, (error.strerror or "the system refused", ""))
        raise InputRefused([Problem("T-FILE", f"cannot {doing}: {found}", hint, file=str(path))]) from error


def make_folder(path: Path) -> None:
    """Create `path` and its missing parents, private to the owner, so that they survive a power cut.

    A folder that is already there keeps its permissions: sharing is a decision of the people who share. One made
    inside a shared one is shared with it.
    """
    missing = []
    while not path.is_dir():
        missing.append(path)
        if path.parent == path:
            break
        path = path.parent
    for folder in reversed(missing):
        with suppress(FileExistsError):  # another writer may be creating it too
            folder.mkdir(mode=FOLDER_MODE)
        if not folder.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))
        if is_shared(folder.parent):
            with suppress(PermissionError):  # the other writer made it
                folder.chmod(SHARED_FOLDER_MODE)
        sync_folder(folder.parent)


def is_shared(folder: Path) -> bool:
    """Was this folder shared on purpose (`config share`)? It and those above, up to the record of it, say so."""
    while stat.S_IMODE(folder.stat().st_mode) == SHARED_FOLDER_MODE:
        if (folder / SHARE_RECORD).exists():
            return True
        folder = folder.parent
    return False


def open_private(path: Path, how: int) -> int:
    """A handle on a file of the owner alone, or of the group too where its folder was shared. No link is followed."""
    handle = os.open(path, how | os.O_NOFOLLOW | os.O_CLOEXEC, FILE_MODE)
    if how & os.O_CREAT and is_shared(path.parent):
        with suppress(PermissionError):  # another member's file: its mode is right already
            os.fchmod(handle, SHARED_FILE_MODE)
    return handle


def sync_folder(path: Path) -> None:
    """Make a new or renamed name in this folder durable."""
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some file systems have no such thing for folders
            raise
    finally:
        os.close(handle)


def make_private(path: Path) -> None:
    """Give a file that came from elsewhere the mode that the tool writes with."""
    path.chmod(SHARED_FILE_MODE if is_shared(path.parent) else FILE_MODE)


def write_all(handle: int, data: bytes) -> None:
    """Write every byte; the system may take them in pieces."""
    view = memoryview(data)
    while view:
        view = view[os.write(handle, view) :]


def write_whole(path: Path, data: bytes) -> None:
    """Replace `path` by `data` in one step: a reader sees the old bytes or the new ones, never a mixture.

    The temporary name is fixed, so a writer that is killed leaves at most one; callers hold the lock of the case.
    """
    temporary = path.with_name(f".{path.name}.tmp")
    _write(temporary, data, os.O_TRUNC)
    os.replace(temporary, path)


def write_new(path: Path, data: bytes, *, replace: bool = False) -> None:
    """Write a new private file and make its name durable; FileExistsError if it is there and `replace` is not set."""
    _write(path, data, os.O_TRUNC if replace else os.O_EXCL)
    sync_folder(path.parent)


def _write(path: Path, data: bytes, how: int) -> None:
    handle = open_private(path, os.O_WRONLY | os.O_CREAT | how)
    try:
        write_all(handle, data)
        os.fsync(handle)
    finally:
        os.close(handle)
