"""A pack arriving in a state folder: laid out aside, verified there, then put in place file by file.

A file that is here already with the same bytes is left; one that differs stops the whole before anything is in place.
So a move that was cut short is finished by doing it again.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.trail import archive
from reasoner.trail.files import make_folder, read_regular, refusing, sync_folder, write_new
from reasoner.trail.packs import MOST_BYTES, Pack
from reasoner.trail.paths import case_file
from reasoner.trail.verify import verify_all

__all__ = ["Arrived", "arrive"]

_MOST_TOLD = 10


@dataclass(frozen=True, slots=True)
class Arrived:
    """`new` and `same`: how many files came, and were here already. `problems`: what was wrong with trails before."""

    new: int
    same: int
    problems: tuple[Problem, ...]


def arrive(home: Path, pack: Pack, name: str) -> Arrived:
    """Put a pack's files into the state folder. InputRefused, and nothing in place, if any cannot be taken.

    A trail that does not verify comes all the same: its bytes are those that were packed, and losing it would be worse.
    """
    there = {n: _here(home / n) for n in pack.files}
    _require_no_conflict(home, pack, there, name)
    aside = home / f".arriving-{os.getpid()}"
    with refusing(home, "unpack"):
        make_folder(home)
        try:
            for n, data in pack.files.items():
                make_folder((aside / n).parent)
                write_new(aside / n, data)
            problems = _verified(aside, pack, name)
            new = [n for n in pack.files if there[n] is None]
            for n in sorted(new, key=_order):
                make_folder((home / n).parent)
                os.rename(aside / n, home / n)
                sync_folder((home / n).parent)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    return Arrived(len(new), len(pack.files) - len(new), problems)


def _here(path: Path) -> bytes | None:
    try:
        with refusing(path, "look what is here already"):
            return read_regular(path, MOST_BYTES) if os.path.lexists(path) else None
    except InputRefused as refused:
        if any("a file stands where a folder" in str(p) for p in refused.problems):
            return None
        raise


def _order(name: str) -> tuple[int, str]:
    """What a trail needs first, then the trail, then its anchor; what points to others last."""
    if "/" not in name:
        return 3, name
    return (2 if name.startswith("anchors/") else 1 if name.endswith(".jsonl") else 0), name


def _require_no_conflict(home: Path, pack: Pack, there: Mapping[str, bytes | None], name: str) -> None:
    problems = [
        Problem("T-PACK", f"{n} is here already and differs", "nothing was unpacked; unpack into an empty state folder "
                "(REASONER_HOME), or see reasoner trail join", name)
        for n, data in pack.files.items() if data != (there[n] if there[n] is not None else data)
    ]  # fmt: skip
    for case in pack.cases:
        if case_file(home, case).with_suffix(".erased").exists():
            message = f"the case {case} was erased here; it does not come back by itself"
            problems.append(Problem("T-PACK", message, "pack the other cases: --case CASE", name))
    for n in pack.files:
        if n.endswith(".erased") and case_file(home, Path(n).stem).exists():
            message = f"the case {Path(n).stem} was erased where the pack was made, and stands here"
            problems.append(Problem("T-PACK", message, f"reasoner trail erase {Path(n).stem}, then again", name))
    if problems:
        raise InputRefused(problems)


def _verified(aside: Path, pack: Pack, name: str) -> tuple[Problem, ...]:
    """Every archived copy is as it was kept; what is wrong with trails is told."""
    for digest in sorted({n.split("/")[1] for n in pack.files if n.startswith("archive/")}):
        if archive.stored(aside, digest) is None:
            raise InputRefused([Problem("T-PACK", f"the archive {digest[:12]} is not whole", "pack it again", name)])
    found = [p for problems in verify_all(aside).values() for p in problems if p.level == "error"]
    return tuple(replace(p, file=p.file.removeprefix(f"{aside}/")) for p in found[:_MOST_TOLD])
