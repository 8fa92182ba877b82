"""A plot in plain letters: at most 80 columns, no colour needed, the same everywhere.

    o before treatment   + after it   * both there   - goal   . edges of the error band   T treated
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, isfinite, log10

__all__ = ["HEIGHT", "KEY", "MOST_VISITS", "Plotted", "plot", "scale"]

HEIGHT = 15
MOST_VISITS = 36  # two columns each at least; earlier ones are left out and said so
KEY = "o before treatment  + after it  * both  . error band  - goal  T treated"
_LABEL = 8


@dataclass(frozen=True, slots=True)
class Plotted:
    """One visit: its number, value before, value after or None, whether something was given."""

    visit: int
    before: float
    after: float | None = None
    treated: bool = False


def plot(
    points: Sequence[Plotted], band: tuple[float, float] | None = None, goal: float | None = None, width: int = 80
) -> list[str]:
    """Lines of the plot, each at most `width` long. `band`: values that error alone may give, about the first one.

    Visits stand at even distances, whatever the days between them. ValueError without points.
    """
    if not points:
        raise ValueError("nothing to plot")
    shown = list(points[-MOST_VISITS:])
    values = [v for p in shown for v in (p.before, p.after) if v is not None]
    extra = [v for v in (*(band or ()), goal) if v is not None and isfinite(v)]
    low, high, step = scale(min(values + extra), max(values + extra))
    room = width - _LABEL - 2
    columns = [room // 2] if len(shown) == 1 else [round(i * (room - 1) / (len(shown) - 1)) for i in range(len(shown))]
    grid = [[" "] * room for _ in range(HEIGHT)]
    for edge in band or ():
        grid[_row(edge, low, high)][::2] = "." * len(grid[0][::2])
    if goal is not None:
        grid[_row(goal, low, high)] = ["-"] * room
    for p, x in zip(shown, columns, strict=True):
        _mark(grid[_row(p.before, low, high)], x, "o")
        if p.after is not None:
            _mark(grid[_row(p.after, low, high)], x, "+")
    labels = _labels(low, high, step)
    lines = [f"{labels.get(r, ''):>{_LABEL}} |{''.join(grid[r])}".rstrip() for r in range(HEIGHT)]
    lines.append(" " * _LABEL + " +" + "-" * room)
    lines.append(f"{'treated':>{_LABEL}}  " + _at(columns, ["T" if p.treated else " " for p in shown], room))
    lines.append(f"{'visit':>{_LABEL}}  " + _numbers(columns, [p.visit for p in shown], room))
    return [line.rstrip() for line in lines]


def _mark(row: list[str], at: int, letter: str) -> None:
    row[at] = "*" if row[at] in "o+" and row[at] != letter else letter


def scale(low: float, high: float) -> tuple[float, float, float]:
    """Ends and step of the axis: round numbers with the data well inside."""
    span = high - low or max(abs(high), 1.0) * 0.2
    rough = span / 5
    power = 10.0 ** floor(log10(rough))
    step = next(m * power for m in (1, 2, 2.5, 5, 10) if m * power >= rough)
    bottom = floor(low / step + 1e-9) * step
    top = bottom
    while top < high - 1e-9 * max(1.0, abs(high)) or top == bottom:
        top += step
    return bottom, top, step


def _row(value: float, low: float, high: float) -> int:
    return min(HEIGHT - 1, max(0, round((high - value) / (high - low) * (HEIGHT - 1))))


def _labels(low: float, high: float, step: float) -> dict[int, str]:
    found = {}
    digits = max(0, -floor(log10(step) + 1e-9)) + (1 if f"{step:e}".startswith("2.5") else 0)
    for n in range(round((high - low) / step) + 1):
        value = low + n * step
        found[_row(value, low, high)] = f"{value:.{digits}f}".replace("-0.0", "0.0")
    return found


def _at(columns: Sequence[int], letters: Sequence[str], room: int) -> str:
    row = [" "] * room
    for x, letter in zip(columns, letters, strict=True):
        row[x] = letter
    return "".join(row)


def _numbers(columns: Sequence[int], numbers: Sequence[int], room: int) -> str:
    """Visit numbers under their columns: every one, or every second, third, ... that fits; the last one always."""
    marks = list(zip(columns, map(str, numbers), strict=True))
    spots = [(min(max(0, x - len(text) // 2), room - len(text)), text) for x, text in marks]
    for every in range(1, len(spots) + 1):
        chosen = spots[::-1][::every][::-1]
        if all(a + len(text) < b for (a, text), (b, _) in pairwise(chosen)):
            break
    row = [" "] * room
    for start, text in chosen:
        row[start : start + len(text)] = text
    return "".join(row)
