"""Reading a file that somebody else made: an ordinary one, no larger than said. A pipe or device could never end."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

__all__ = ["read_regular", "require_regular"]

_PART = 65_536


def read_regular(path: Path | str, limit: int) -> bytes:
    """The bytes of a regular file of at most `limit` bytes. OSError otherwise."""
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)  # opening a pipe would wait for its writer
    try:
        found = os.fstat(handle)
        _require(found.st_mode, path)
        data = part = os.read(handle, min(found.st_size, limit) + 1)  # room for `limit` costs more than reading
        while part and len(data) <= limit:  # what was cut short, or has grown meanwhile
            part = os.read(handle, _PART)
            data += part
    finally:
        os.close(handle)
    if len(data) > limit:
        raise OSError(errno.EFBIG, f"it is larger than {limit} bytes", str(path))
    return data


def require_regular(path: Path) -> None:
    """Raise OSError unless `path` is a regular file."""
    _require(path.stat().st_mode, path)


def _require(mode: int, path: Path | str) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is not an ordinary file", str(path))
