"""A clinic's letterhead folder: who it is, its telephone numbers, and templates that replace the shipped ones.

    <folder>/letterhead.toml   name, phone, emergency_number, address, paper: all optional
    <folder>/templates/*.j2    a template of the same name stands in for the shipped one

Telephone numbers come from here and from nowhere else: the tool knows none.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from reasoner.problems import InputRefused, Problem, nearest, one_line
from reasoner.trail.files import read_regular, refusing

__all__ = ["Letterhead", "read_letterhead"]

_LARGEST = 20_000  # bytes of letterhead.toml
_LONGEST = 200  # letters of one value


@dataclass(frozen=True, slots=True)
class Letterhead:
    """What a clinic says about itself; empty means a blank to be filled in by hand."""

    name: str = ""
    phone: str = ""
    emergency_number: str = ""
    address: str = ""
    paper: str = "A4"  # A4 or Letter
    templates: Path | None = None


def read_letterhead(folder: Path | None, *, asked: bool) -> Letterhead:
    """The clinic of a folder. `asked`: it was named, so it has to be there. InputRefused if it cannot be used."""
    if folder is None or not (asked or folder.is_dir()):
        return Letterhead()
    if not folder.is_dir():
        raise InputRefused([Problem("R-LETTERHEAD", "there is no such folder", "check the path", str(folder))])
    templates = folder / "templates"
    where = templates if templates.is_dir() else None
    file = folder / "letterhead.toml"
    if not file.exists():
        return Letterhead(templates=where)
    with refusing(file, "read the clinic's details"):
        raw = read_regular(file, _LARGEST)
    try:
        told = tomllib.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError) as error:  # not UTF-8, not TOML, nested too deep, too many digits
        hint, why = 'write: phone = "..."', one_line(str(error), 120)
        raise InputRefused([Problem("R-LETTERHEAD", f"cannot be read: {why}", hint, str(file))]) from error
    return replace(_checked(told, str(file)), templates=where)


def _checked(told: Mapping[str, Any], file: str) -> Letterhead:
    known = [f.name for f in fields(Letterhead) if f.name != "templates"]
    problems = []
    for key, value in told.items():
        if key not in known:
            near = nearest(key, known, 1) or known
            problems.append(Problem("R-LETTERHEAD", f"{key}: no such entry", f"entries: {', '.join(near)}", file))
        elif not isinstance(value, str) or len(value) > _LONGEST or not value.isprintable():
            hint = f'write one line of text in quotes: {key} = "..."'
            problems.append(Problem("R-LETTERHEAD", f"{key}: not a line of text", hint, file))
        elif key == "paper" and value not in ("A4", "Letter"):
            problems.append(Problem("R-LETTERHEAD", f"paper: found {value}", "write A4 or Letter", file))
    if problems:
        raise InputRefused(problems)
    return Letterhead(**told)
