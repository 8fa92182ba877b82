"""Landmark points from a small text file, one a line:

    shaft,412,80        two: midpoints of the shaft, upper one first
    dome,380,640        three or more along the round end
    scale,0.25          mm a picture unit
    front,right         side of the picture on which the front is
    click,0.5           optional: error of one click in mm
    end,back,300,700    optional, with end,front,...: the ends of the lower bone

Blank lines and lines that begin with # are passed over. All problems come at once, each with its line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isfinite

from reasoner.geometry.alignment import Landmarks, Point
from reasoner.problems import InputRefused, Problem, nearest, one_line

__all__ = ["CODE", "LANDMARK_CODES", "read_landmarks"]

CODE = "G-POINTS"
LANDMARK_CODES = {
    CODE: """A file of landmark points cannot be used.

One point or number a line: shaft,x,y (two, upper one first), dome,x,y (three or more, not on a straight line),
scale,mm a picture unit, front,left or front,right; click,mm and end,back,x,y with end,front,x,y may be added. The shaft
stands upright in the picture. Every line that is wrong is named."""
}
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)")
_MOST = 200
_MOST_PROBLEMS = 100  # more says nothing new


@dataclass(slots=True)
class _Read:
    shaft: list[Point] = field(default_factory=list)
    dome: list[Point] = field(default_factory=list)
    ends: dict[str, Point] = field(default_factory=dict)
    numbers: dict[str, float] = field(default_factory=dict)
    front: int = 0


def read_landmarks(text: str, file: str) -> tuple[Landmarks, float | None]:
    """(landmarks, error of a click in mm or None). InputRefused with every problem, each with file and line."""
    read, problems, last = _Read(), [], 1
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        last = number
        word, *rest = [part.strip() for part in re.split(r"[,;\t]", line.strip())]
        take = _TAKES.get(word.lower())
        said = take(read, rest) if take is not None else _unknown(word)
        if said:
            problems.append(Problem(CODE, said[0], said[1], file, number))
            if len(problems) >= _MOST_PROBLEMS:
                break
    problems += [Problem(CODE, message, hint, file, last) for message, hint in _missing(read)] if not problems else []
    if problems:
        raise InputRefused(problems)
    ends = (read.ends["back"], read.ends["front"]) if read.ends else None
    shaft = (read.shaft[0], read.shaft[1])
    return Landmarks(shaft, tuple(read.dome), read.numbers["scale"], read.front, ends), read.numbers.get("click")


Said = tuple[str, str] | None


def _unknown(word: str) -> Said:
    near = nearest(word.lower(), _TAKES, 1)
    hint = f"did you mean {near[0]}?" if near else "words: " + ", ".join(_TAKES)
    return f"there is no {one_line(word, 20)} here", hint


def _point(parts: Sequence[str]) -> Point | None:
    if len(parts) != 2 or not all(_NUMBER.fullmatch(p) for p in parts):
        return None
    x, y = float(parts[0]), float(parts[1])
    return (x, y) if isfinite(x) and isfinite(y) and max(abs(x), abs(y)) < 1e7 else None


def _points_into(name: str, most: int) -> Callable[[_Read, Sequence[str]], Said]:
    def take(read: _Read, parts: Sequence[str]) -> Said:
        point, held = _point(parts), getattr(read, name)
        if point is None:
            return f"{name}: found {one_line(','.join(parts), 30) or 'nothing'}", f"write {name},412,80"
        if point in held:
            return f"{name}: this point stands here twice", "click another place"
        if len(held) >= most:
            return f"{name}: more than {most} points", "remove one"
        held.append(point)
        return None

    return take


def _end(read: _Read, parts: Sequence[str]) -> Said:
    point = _point(parts[1:])
    if len(parts) < 1 or parts[0] not in ("back", "front") or point is None or parts[0] in read.ends:
        return f"end: found {one_line(','.join(parts), 30) or 'nothing'}", "write end,back,300,700"
    read.ends[parts[0]] = point
    return None


def _above_zero(name: str) -> Callable[[_Read, Sequence[str]], Said]:
    def take(read: _Read, parts: Sequence[str]) -> Said:
        value = float(parts[0]) if len(parts) == 1 and _NUMBER.fullmatch(parts[0]) else 0.0
        if not 0 < value < 1e4 or name in read.numbers:
            return f"{name}: found {one_line(','.join(parts), 30) or 'nothing'}", f"write {name},0.25 once, above zero"
        read.numbers[name] = value
        return None

    return take


def _front(read: _Read, parts: Sequence[str]) -> Said:
    if len(parts) != 1 or parts[0].lower() not in ("left", "right") or read.front:
        return f"front: found {one_line(','.join(parts), 30) or 'nothing'}", "write front,left or front,right, once"
    read.front = 1 if parts[0].lower() == "right" else -1
    return None


_TAKES: dict[str, Callable[[_Read, Sequence[str]], Said]] = {
    "shaft": _points_into("shaft", 2), "dome": _points_into("dome", _MOST), "end": _end, "front": _front,
    "scale": _above_zero("scale"), "click": _above_zero("click"),
}  # fmt: skip


def _missing(read: _Read) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    if len(read.shaft) < 2:
        found.append((f"{len(read.shaft)} of 2 shaft points", "add shaft,x,y"))
    if len(read.dome) < 3:
        found.append((f"{len(read.dome)} dome points; a circle needs three or more", "add dome,x,y"))
    if "scale" not in read.numbers:
        found.append(("no scale", "add scale,0.25 (mm a picture unit)"))
    if not read.front:
        found.append(("it is not said where the front is", "add front,left or front,right"))
    if len(read.ends) == 1:
        found.append(("one end of two", "add end,back,x,y and end,front,x,y, or neither"))
    return found
