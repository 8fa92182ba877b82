"""One writer at a time: the system's lock on a file, or a file that stands for the lock where there is none.

The system lets go of its lock when the writer ends, however it ends. A stand-in file is left behind by a writer that
is killed; the next one on the same machine sees that its process is gone and takes over.
"""

from __future__ import annotations

import errno
import json
import os
import platform
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.trail.files import open_private

try:
    import fcntl
except ImportError:  # not on every system
    fcntl = None  # type: ignore[assignment]

__all__ = ["alive", "locked", "try_system_lock"]

_NO_LOCKS = {errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL}
_PAUSE = 0.002  # seconds between two tries: an append takes about one millisecond
_SIGNED_WITHIN = 1.0  # seconds; signing takes microseconds


@contextmanager
def locked(path: Path, wait: float = 10.0) -> Iterator[None]:
    """Hold the lock named by the file `path`. InputRefused if another holds it for longer than `wait` seconds."""
    handle = open_private(path, os.O_RDWR | os.O_CREAT)
    try:
        if _system_lock(handle, path, wait):
            _sign(handle)
            yield
        else:
            with _stand_in(path.with_name(path.name + ".held"), wait):
                yield
    finally:
        os.close(handle)


def _system_lock(handle: int, path: Path, wait: float) -> bool:
    """True once held; False where the file system has no locks."""
    until = time.monotonic() + wait
    while not (got := try_system_lock(handle)):
        if got is None:
            return False
        if time.monotonic() > until:
            raise _busy(path)
        time.sleep(_PAUSE)
    return True


def try_system_lock(handle: int) -> bool | None:
    """True: held from now on. False: another holds it. None: there are no such locks here."""
    if fcntl is None:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in _NO_LOCKS:
            return None
        if error.errno not in (errno.EWOULDBLOCK, errno.EACCES, errno.EINTR):
            raise
        return False
    return True


def _me() -> bytes:
    return json.dumps({"process": os.getpid(), "machine": platform.node()}).encode()


def _sign(handle: int) -> None:
    """Leave word of who holds the lock, for the message of whoever waits."""
    os.pwrite(handle, _me().ljust(200), 0)
    os.ftruncate(handle, 200)


def _holder(path: Path) -> tuple[int, str, str]:
    """(process, machine, since) as far as the file tells; process 0 and empty text where it does not."""
    try:
        told = json.loads(path.read_bytes()[:400])
        since = datetime.fromtimestamp(path.stat().st_mtime).astimezone().strftime("%H:%M:%S")
        return int(told["process"]), str(told["machine"])[:60], since
    except (OSError, ValueError, TypeError, KeyError):
        return 0, "", ""


def _busy(path: Path) -> InputRefused:
    process, machine, since = _holder(path)
    who = f"process {process} on {machine!a} since {since}" if process else "another program"
    hint = "close the other window on this case, then do the last step again"
    return InputRefused([Problem("T-LOCK", f"this case is being written by {who}", hint, file=str(path))])


@contextmanager
def _stand_in(path: Path, wait: float) -> Iterator[None]:
    until = time.monotonic() + wait
    nameless: dict[int, float] = {}  # stand-ins that do not say who holds them, and when each was first seen
    while True:
        try:
            handle = open_private(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
            break
        except FileExistsError:
            if _take_over(path, nameless):
                continue
        if time.monotonic() > until:
            raise _busy(path)
        time.sleep(_PAUSE)
    try:
        os.write(handle, _me())
        yield
    finally:
        os.close(handle)
        with suppress(FileNotFoundError):
            path.unlink()


def _take_over(path: Path, nameless: dict[int, float]) -> bool:
    """Remove a stand-in whose process on this machine is gone. True if it was removed (by anyone).

    One that still does not say who holds it after a second was left by a kill between making and signing it.
    """
    try:
        number = path.stat().st_ino
    except FileNotFoundError:
        return True
    process, machine, _ = _holder(path)
    if not process:
        if time.monotonic() - nameless.setdefault(number, time.monotonic()) < _SIGNED_WITHIN:
            return False
    elif machine != platform.node() or alive(process):
        return False
    aside = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        os.rename(path, aside)  # of two that try, one succeeds
        if aside.stat().st_ino != number:  # another took over first and this is its new stand-in: give it back
            os.rename(aside, path)
            return False
        aside.unlink()
    except FileNotFoundError:
        pass
    return True


def alive(process: int) -> bool:
    """Is this process of this machine running?"""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
