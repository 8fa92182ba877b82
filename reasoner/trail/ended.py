"""Cases that are not open for work any more: erased ones, of which a tombstone is left, and sealed (encrypted) ones."""

from __future__ import annotations

import json
import shutil
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from reasoner.problems import InputRefused, Problem, one_line
from reasoner.trail.age import decrypted, encrypted, is_encrypted
from reasoner.trail.files import read_regular, refusing, sync_folder, write_new
from reasoner.trail.lock import locked
from reasoner.trail.moving import Arrived, arrive
from reasoner.trail.packs import MOST_BYTES, gather, read_pack, write_pack
from reasoner.trail.paths import anchor_file, beside, case_file, lock_file
from reasoner.trail.read import read

__all__ = ["erase", "seal", "unseal"]


def erase(home: Path, case: str, *, by: str, at: datetime) -> int:
    """Remove a case and everything beside it; how many lines it had. The tombstone comes first and stays.

    Doing it again finishes one that was cut short. Copies made elsewhere (packs, documents) are out of reach.
    """
    path = case_file(home, case)
    stone = path.with_suffix(".erased")
    with refusing(path, "erase the case"), locked(lock_file(home, case)):
        entries = read(path)[0] if path.exists() else []
        if not stone.exists():
            told = {
                "case": case, "at": at.isoformat(timespec="seconds"), "by": by, "lines": len(entries),
                "head": entries[-1].hash if entries else "",
            }  # fmt: skip
            write_new(stone, json.dumps(told).encode() + b"\n")
        _remove(home, case, (stone,))
        anchor_file(home, case).unlink(missing_ok=True)
        sync_folder(anchor_file(home, case).parent)
    with suppress(OSError):
        lock_file(home, case).unlink()
    return len(entries)


def seal(home: Path, case: str, recipients: list[str]) -> Path:
    """Encrypt a case for these age recipients and remove what can be read; the sealed file. Its anchor stays.

    InputRefused, and everything as it was, if a recipient is none or the disk will not hold it.
    """
    sealed = case_file(home, case).with_suffix(".sealed")
    files = {n: d for n, d in gather(home, [case], with_archive=False).items() if not n.endswith(".sealed")}
    data = encrypted(write_pack(files, datetime.now().astimezone()), recipients)
    with refusing(sealed, "seal the case"), locked(lock_file(home, case)):
        if any(read_regular(home / n, MOST_BYTES) != d for n, d in files.items()):
            raise InputRefused([Problem("T-MOVED", "the case went on while it was sealed", "do it again", str(sealed))])
        write_new(sealed, data, replace=True)
        _remove(home, case, (sealed,))
    return sealed


def unseal(home: Path, case: str, identity: str) -> Arrived:
    """Bring a sealed case back. InputRefused for another key, a changed byte, a missing end, or another case inside."""
    sealed = case_file(home, case).with_suffix(".sealed")
    with refusing(sealed, "read the sealed case"):
        raw = read_regular(sealed, MOST_BYTES)
    if not is_encrypted(raw):
        raise InputRefused([Problem("T-AGE", "this is not what was sealed", "bring it back from a copy", str(sealed))])
    pack = read_pack(decrypted(raw, identity, str(sealed)), str(sealed))
    if pack.cases != (case,):
        raise InputRefused([Problem("T-CASE", f"it holds {one_line(', '.join(pack.cases))}", "", str(sealed))])
    arrived = arrive(home, pack, str(sealed))
    with refusing(sealed, "finish unsealing"):
        sealed.unlink()
        sync_folder(sealed.parent)
    return arrived


def _remove(home: Path, case: str, keep: tuple[Path, ...]) -> None:
    """Everything beside the case but `keep`; its trail last, so that one cut short still shows."""
    for path in reversed(beside(home, case)):
        if path not in keep:
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            else:
                path.unlink()
    sync_folder(case_file(home, case).parent)
