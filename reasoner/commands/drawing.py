"""Writing a drawing to a file: whole or not at all, and never over something that is not a drawing."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from reasoner.problems import InputRefused, Problem

__all__ = ["write_svg"]


def write_svg(path: Path, drawing: str) -> None:
    """Write an SVG. InputRefused for another ending, and where it cannot be written."""
    if path.suffix.lower() != ".svg":
        raise InputRefused([Problem("", "a drawing ends in .svg", "write for example: --svg progress.svg", str(path))])
    name = ""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".drawing-")  # private, as mkstemp makes it
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(drawing)
        os.replace(name, path)
    except OSError as error:
        with suppress(OSError):
            os.unlink(name)
        reason = error.strerror or "cannot be written"
        raise InputRefused([Problem("", reason, "name a folder that is there", str(path))]) from None
