"""Lines from a file or a pipe, as text: bounded, UTF-8, each refused where it stands."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from reasoner.problems import InputRefused, Problem
from reasoner.prompt.tokens import LONGEST
from reasoner.trail.files import read_regular, refusing

__all__ = ["lines_of", "piped_lines"]

_MOST_BYTES = 5_000_000
_MOST_OF_A_LINE = 4 * LONGEST  # bytes; no letter takes more than four


def lines_of(path: Path) -> list[str]:
    """The lines of a script. InputRefused for what is no text file, with the line."""
    with refusing(path, "read the script"):
        data = read_regular(path, _MOST_BYTES)
    try:
        return data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputRefused([Problem("", "not UTF-8 text", "save it as UTF-8", str(path), line)]) from error


def piped_lines(pipe: BinaryIO) -> Iterator[str]:
    """Lines as they arrive, so that each is recorded before the next is waited for. InputRefused names the line."""
    number = 0
    while raw := pipe.readline(_MOST_OF_A_LINE + 1):
        number += 1
        if len(raw) > _MOST_OF_A_LINE:
            raise InputRefused([Problem("", "far too long", f"at most {LONGEST} letters", "line", number)])
        try:
            yield raw.decode("utf-8")
        except UnicodeDecodeError as error:
            raise InputRefused([Problem("", "not UTF-8 text", "send it as UTF-8", "line", number)]) from error
