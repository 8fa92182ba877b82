"""One thin file a command: `add_arguments(parser)` with argparse only, `run(args) -> int` which imports what it needs.

`args.knowledge` is a folder or None for the shipped one; every command has it.
"""

from __future__ import annotations

import dataclasses
import hashlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.problems import InputRefused, Problem

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge
    from reasoner.graph.overlay.entries import ClinicCopy

__all__ = ["cache_file", "clinic_copy", "load_knowledge"]

WITHOUT_HINT = "publish again: reasoner knowledge publish; or work without it: --without-clinic"


def load_knowledge(
    folder: Path | None = None, region: str = "", *, without_clinic: bool = False
) -> Knowledge:
    """One region (none named: the first) of the knowledge in `folder` (None: the shipped one), with the clinic's
    published copy laid over it where there is one.

    Raises InputRefused with every problem if it does not load, or if the clinic's copy cannot be used as published.
    """
    from reasoner.graph.files import first_region
    from reasoner.graph.load import default_folder, load

    folder = folder if folder is not None else default_folder()
    region = region or first_region(folder)
    clinic = None if without_clinic else clinic_copy()
    knowledge, problems = load(folder, region, cache_file(folder, region), clinic)
    for note in problems:
        if note.code == "F-KEPT":
            print(f"note: {note}", file=sys.stderr)
    if knowledge is None:
        found = [p for p in problems if p.level == "error"]
        if any(p.file.startswith("clinic/") for p in found):
            found.append(Problem("", "the clinic's published copy does not fit this knowledge", WITHOUT_HINT))
        raise InputRefused(found)
    return dataclasses.replace(knowledge, set_aside=True) if without_clinic and _clinic_in_use() else knowledge


def clinic_copy() -> ClinicCopy | None:
    """The clinic's published copy, today; None where there is none. InputRefused if it is not as published."""
    from datetime import date

    from reasoner.trail.clinic import copy_files
    from reasoner.trail.paths import home

    files = copy_files(home(os.environ))
    if files is None:
        return None
    from reasoner.graph.overlay.entries import ClinicCopy

    return ClinicCopy(files, date.today().isoformat())


def _clinic_in_use() -> bool:
    from reasoner.trail.paths import home

    return (home(os.environ) / "clinic.json").exists()


def cache_file(folder: Path, region: str, what: str = "") -> Path | None:
    """Where knowledge from this folder, or `what` of it, is kept between starts; None where nothing can be kept."""
    from reasoner.trail.files import make_folder
    from reasoner.trail.paths import home

    try:
        place = home(os.environ) / "cache"
        make_folder(place)
    except (OSError, InputRefused):  # the command itself says so if it needs the folder
        return None
    of_folder = hashlib.sha256(str(folder.absolute()).encode()).hexdigest()[:12]
    return place / f"{region}-{of_folder}{f'-{what}' if what else ''}.json"
