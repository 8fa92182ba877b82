"""The knowledge a trail was recorded with, from the archive: read again, or honestly not there."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

from reasoner.graph.cache import keep, kept
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.graph.overlay.entries import ClinicCopy
from reasoner.problems import InputRefused, Problem
from reasoner.trail.archive import stored

__all__ = ["knowledge_then", "needed_then", "read_again"]

_CLINIC = "clinic/"
_HELD = "clinic/.left_out"


def knowledge_then(home: Path, digest: str, region: str, day: str, now: Knowledge | None = None) -> Knowledge | None:
    """The knowledge with this digest: what is loaded now if it is the same, else the archived copy; None if neither.

    An archived copy that this version of the program reads differently counts as not there: it would explain
    something else. InputRefused if the archive was changed.
    """
    if now is not None and now.digest == digest:
        return now
    knowledge = read_again(home, digest, region, day)
    return knowledge if knowledge is not None and knowledge.digest == digest else None


def read_again(home: Path, digest: str, region: str, day: str) -> Knowledge | None:
    """The archived files as this version of the program reads them; its digest tells whether that is the same.

    None if there are none, or if this version cannot read them. InputRefused if the archive was changed.
    """
    files = stored(home, digest)
    if files is None:
        return None
    cache = home / "cache" / f"then-{digest.rpartition(':')[2][:16]}.json"
    known, _ = kept(cache, digest, files)
    if known is not None:
        return known
    knowledge, problems = _loaded(files, region, day)
    if knowledge is not None and knowledge.digest == digest and not problems and cache.parent.is_dir():
        keep(cache, knowledge)  # the next reading of a trail of that day is quick
    return knowledge


def _loaded(files: Mapping[str, bytes], region: str, day: str) -> tuple[Knowledge | None, list[Problem]]:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name, data in files.items():
            if not name.startswith(_CLINIC):
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (folder / name).write_bytes(data)
        clinic = {n.removeprefix(_CLINIC): d for n, d in files.items() if n.startswith(_CLINIC) and n != _HELD}
        held = frozenset(files[_HELD].decode().splitlines()) if _HELD in files else frozenset()
        copy = ClinicCopy(clinic, day, held) if clinic else None
        return load(folder, region, None, copy)


def needed_then(home: Path, digest: str, region: str, day: str, now: Knowledge | None = None) -> Knowledge:
    """The same; InputRefused where it is not there."""
    knowledge = knowledge_then(home, digest, region, day, now)
    if knowledge is None:
        message = f"the knowledge of that day ({digest[:12]}) is not kept here, or this version reads it differently"
        hint = "why it said so then cannot be told; with today's knowledge: add --knowledge DIR"
        raise InputRefused([Problem("", message, hint)])
    return knowledge
