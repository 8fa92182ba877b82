"""Who may read the state folder: its owner alone, or on purpose a group of the system (0660, folders 2770)."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

from reasoner.problems import InputRefused, Problem, nearest
from reasoner.trail.files import (
    FILE_MODE,
    FOLDER_MODE,
    SHARE_RECORD,
    SHARED_FILE_MODE,
    SHARED_FOLDER_MODE,
    make_folder,
    read_regular,
    refusing,
    write_whole,
)

try:
    import grp
except ImportError:  # not on every system
    grp = None  # type: ignore[assignment]

__all__ = ["share", "shared_with", "unshare"]


def shared_with(home: Path) -> str:
    """The group the state folder is shared with; empty: private. InputRefused if the record of it is damaged."""
    path = home / SHARE_RECORD
    if not path.exists():
        return ""
    with refusing(path, "read who the folder is shared with"):
        raw = read_regular(path, 10_000)
    try:
        return str(json.loads(raw)["group"])
    except (ValueError, KeyError, TypeError) as error:
        hint = "write it again: reasoner config share GROUP, or reasoner config private"
        raise InputRefused([Problem("T-CONFIG", "the record of sharing is damaged", hint, str(path))]) from error


def share(home: Path, group: str) -> int:
    """Let the members of `group` read and write everything in `home`, what comes later included; how many paths.

    InputRefused for an unknown group, or where a path is not ours to change; doing it again finishes the work.
    """
    number = _group(group)
    with refusing(home, "share the state folder"):
        make_folder(home)
        write_whole(home / SHARE_RECORD, json.dumps({"group": group}).encode() + b"\n")
        return _set(home, number, SHARED_FILE_MODE, SHARED_FOLDER_MODE)


def unshare(home: Path) -> int:
    """Make everything in `home` private to its owner again; how many paths. InputRefused as in `share`."""
    with refusing(home, "make the state folder private"):
        (home / SHARE_RECORD).unlink(missing_ok=True)
        return _set(home, -1, FILE_MODE, FOLDER_MODE)


def _group(name: str) -> int:
    if grp is None:
        raise InputRefused([Problem("T-CONFIG", "this system has no groups", "share the folder by its own means")])
    try:
        return grp.getgrnam(name).gr_gid
    except (KeyError, ValueError) as error:
        near = nearest(name, [g.gr_name for g in grp.getgrall()])
        hint = f"nearest: {', '.join(near)}" if near else "`id` tells which groups you are in"
        raise InputRefused([Problem("T-CONFIG", f"there is no group {name}", hint)]) from error


def _set(home: Path, group: int, file_mode: int, folder_mode: int) -> int:
    paths = list(_below(home))
    for path, is_folder in paths:
        os.chown(path, -1, group, follow_symlinks=False)  # before the mode: it may take the group's bit away
        path.chmod(folder_mode if is_folder else file_mode)
    return len(paths)


def _below(home: Path) -> Iterator[tuple[Path, bool]]:
    """(path, is a folder) of everything, `home` first; links and what is not a file are left alone."""
    yield home, True
    for folder, folders, files in os.walk(home):
        yield from ((path, True) for name in folders if not (path := Path(folder, name)).is_symlink())
        yield from ((path, False) for name in files if (path := Path(folder, name)).is_file() and not path.is_symlink())
