"""One thin file a command: `add_arguments(parser)` with argparse only, `run(args) -> int` which imports what it needs.

`args.knowledge` is a folder or None for the shipped one; every command has it.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.problems import InputRefused

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge

__all__ = ["load_knowledge"]


def load_knowledge(folder: Path | None = None, region: str = "ankle") -> Knowledge:
    """The knowledge in `folder` (None: the shipped one). Raises InputRefused with every problem if it does not load."""
    from reasoner.graph.load import default_folder, load

    folder = folder if folder is not None else default_folder()
    knowledge, problems = load(folder, region, _cache_file(folder, region))
    if knowledge is None:
        raise InputRefused(p for p in problems if p.level == "error")
    return knowledge


def _cache_file(folder: Path, region: str) -> Path | None:
    """Where knowledge from this folder is kept between starts; None where nothing can be kept."""
    from reasoner.trail.files import make_folder
    from reasoner.trail.paths import home

    try:
        place = home(os.environ) / "cache"
        make_folder(place)
    except (OSError, InputRefused):  # the command itself says so if it needs the folder
        return None
    of_folder = hashlib.sha256(str(folder.absolute()).encode()).hexdigest()[:12]
    return place / f"{region}-{of_folder}.json"
