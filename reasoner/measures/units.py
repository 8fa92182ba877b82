"""Units as people write them, and readings in a tool's own unit. A unit is converted only within its own dimension."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reasoner.graph.records import Measure, Tool
from reasoner.measures.error import default_tool

__all__ = ["Unit", "in_unit", "native", "tool_named", "unit_named"]


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: `per` of it make one of the dimension's base unit, or `times` base units make one of it."""

    id: str
    dimension: str
    times: float = 1.0
    per: float = 1.0

    def to(self, other: Unit, number: float) -> float:
        """The number in another unit of the same dimension; rounded to a millionth, as no tool reads finer.

        >>> UNITS["mm"].to(UNITS["cm"], 46), UNITS["in"].to(UNITS["cm"], 2), UNITS["cm"].to(UNITS["mm"], 4.6)
        (4.6, 5.08, 46.0)
        """
        return round(number * self.times / self.per * other.per / other.times, 6)


UNITS = {
    unit.id: unit
    for unit in (
        Unit("cm", "length"), Unit("mm", "length", per=10), Unit("in", "length", times=2.54),
        Unit("deg", "angle"), Unit("s", "time"), Unit("min", "time", times=60), Unit("count", "count"),
        Unit("0-10", "rating"),
    )
}  # fmt: skip

_WORDS = {
    "cm": "cm centimetre centimetres centimeter centimeters cms",
    "mm": "mm millimetre millimetres millimeter millimeters mms",
    "in": 'in inch inches "',
    "deg": "deg degs degree degrees °",
    "s": "s sec secs second seconds",
    "min": "min mins minute minutes",
    "count": "count rep reps repetition repetitions times x",
    "0-10": "0-10 /10",
}
_NAMED = {word: UNITS[ident] for ident, words in _WORDS.items() for word in words.split()}


def native(measure: Measure) -> Unit:
    """The measure's own unit; one that is not known here stands alone in a dimension of its own."""
    return UNITS.get(measure.unit) or Unit(measure.unit, measure.unit)


def unit_named(word: str, measure: Measure) -> Unit | None:
    """The unit a (lower-case) word stands for, of whatever dimension; None if it is none."""
    own = measure.unit.lower()
    if word and word in (own, own.split()[0]):
        return native(measure)
    return _NAMED.get(word)


def tool_named(word: str, measure: Measure) -> tuple[Tool, ...]:
    """The measure's tools that go by this (lower-case) word: id, name or alias, or a longer word of these."""
    exact = tuple(tool for tool in measure.tools if _single(word) in _names(tool))
    if exact or len(word) < 3:
        return exact
    return tuple(t for t in measure.tools if any(_single(word) in name.split() for name in _names(t)))


def _names(tool: Tool) -> set[str]:
    names = (tool.id, tool.name, *tool.aliases)
    return {" ".join(map(_single, name.lower().replace("_", " ").split())) for name in names}


def _single(word: str) -> str:
    """Without a plural s: `widths` and `width` are one word."""
    return word[:-1] if len(word) > 3 and word.endswith("s") else word


def in_unit(measure: Measure, tool: str | None, readings: Iterable[float]) -> tuple[float, ...]:
    """Readings of a tool in the measure's unit. KeyError for a tool the measure does not name (None: its first)."""
    wanted = tool or default_tool(measure)
    if not wanted:
        return tuple(readings)
    record = next((t for t in measure.tools if t.id == wanted), None)
    if record is None:
        raise KeyError(wanted)
    if record.per_unit == 1.0:
        return tuple(readings)
    return tuple(round(reading * record.per_unit, 6) for reading in readings)
