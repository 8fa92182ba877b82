"""One thin file a command: `add_arguments(parser)` with argparse only, `run(args) -> int` which imports what it needs.

`args.knowledge` is a folder or None for the shipped one; every command has it.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.problems import InputRefused

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge

__all__ = ["load_knowledge"]


def load_knowledge(folder: Path | None = None, region: str = "ankle") -> Knowledge:
    """The knowledge in `folder` (None: the shipped one). Raises InputRefused with every problem if it does not load."""
    from reasoner.graph.load import default_folder, load

    knowledge, problems = load(folder if folder is not None else default_folder(), region)
    if knowledge is None:
        raise InputRefused(p for p in problems if p.level == "error")
    return knowledge
