"""What people type for a measure: `L 4 4.5 4.5 R 9 9 9.5`, `left 45mm`, `3 fingers`, `5/10`, `L 4 R 9 heel down`.

Nothing is guessed: what could be meant in two ways is refused with both ways to write it. Which side is which cannot
be known from numbers; that is for whoever echoes them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from reasoner.graph.records import Measure, Tool
from reasoner.measures.error import default_tool
from reasoner.measures.numerals import Numeral, Unreadable, decide_commas, numeral, plain_text
from reasoner.measures.units import Unit, in_unit, native, tool_named, unit_named
from reasoner.problems import Problem, nearest

__all__ = ["MAX_TRIALS", "SideTrials", "check_value", "parse_trials"]

MAX_TRIALS = 20
Leg = Literal["left", "right", "none"]

_SIDES: dict[str, Leg] = {
    "l": "left", "lt": "left", "left": "left", "r": "right", "rt": "right", "right": "right",
}  # fmt: skip
_SIDE_STUCK = re.compile(r"(left|right|lt|rt|l|r)[:=]?(?=[-+.0-9])|(left|right|lt|rt|l|r)[:=](?=$)")
_BOTH = ("both", "bilateral", "b", "bl")
_LINK_WORDS = frozenset(["a", "an", "the", "of", "on", "with", "by", "at", "and"])


@dataclass(frozen=True, slots=True)
class SideTrials:
    """Trials of one side in the measure's unit; side `none` for a measure that has no sides."""

    side: Leg
    values: tuple[float, ...]
    tool: str
    setup: str = ""


@dataclass(slots=True)
class _Number:
    numeral: Numeral
    sign: str = ""
    unit: Unit | Tool | None = None


@dataclass(slots=True)
class _Group:
    side: Leg | None
    numbers: list[_Number] = field(default_factory=list)


@dataclass(slots=True)
class _Line:
    """A line in the making. `spoken_unit`: the word just read was a unit or a tool's own unit."""

    measure: Measure
    groups: list[_Group] = field(default_factory=lambda: [_Group(None)])
    tools: list[Tool] = field(default_factory=list)
    setup: list[str] = field(default_factory=list)
    sign: str = ""
    spoken_unit: str = ""


def parse_trials(
    text: str, measure: Measure, side: Leg | None = None, tool: str | None = None
) -> tuple[tuple[SideTrials, ...], tuple[Problem, ...]]:
    """Read one typed line of trials: (what was read, problems).

    `side` and `tool` stand in where the line names none (tool None: the measure's first). With a problem of level error
    nothing was read; one of level info (an unusual value) comes with what was read.
    """
    try:
        line = _read_words(text, measure)
        groups = _by_side(line, side)
        chosen = _tool(line, groups, tool)
        read = tuple(
            SideTrials(leg, _values(group, measure, chosen), chosen, " ".join(line.setup)) for leg, group in groups
        )
    except Unreadable as refusal:
        return (), (refusal.problem,)
    return read, tuple(_unusual(read, measure))


def check_value(measure: Measure, value: float, bare: bool = True) -> Problem | None:
    """What is wrong with a value already in the measure's unit: impossible (error) or unusual (info); None if nothing.

    `bare`: it was typed without a unit, so a slip of ten may be one of units.
    """
    low, high = measure.possible
    if not low <= value <= high:
        source = f"; {measure.possible_source}" if measure.possible_source else ""
        possible = f"{_show(low)} to {_show(high)}{source}"
        message = f"{_with_unit(value, measure)} is not possible for {measure.name} ({possible})"
        hint = ""
        if bare and measure.unit == "cm" and low <= value / 10 <= high:
            hint = f"if these are millimetres, write {_show(value)}mm"
        return Problem("M-RANGE", message, hint)
    if measure.unit == "count" and value != int(value):
        return Problem("M-RANGE", f"{_show(value)} is not a whole number", "count whole repetitions")
    if measure.usual is not None and not measure.usual[0] <= value <= measure.usual[1]:
        usual = f"{_show(measure.usual[0])} to {_with_unit(measure.usual[1], measure)}"
        message = f"{_with_unit(value, measure)} is unusual for {measure.name} (mostly {usual})"
        return Problem("M-USUAL", message, "check set-up and unit", level="info")
    return None


def _show(number: float) -> str:
    return f"{number:.6g}"


def _with_unit(number: float, measure: Measure) -> str:
    named = measure.unit[:1].isalpha() or measure.unit[:1] == "%"  # a scale such as 0-10 is not a unit to name
    return f"{_show(number)} {measure.unit}" if named else _show(number)


# ------------------------------------------------------------------------------------------------ words


def _read_words(text: str, measure: Measure) -> _Line:
    if measure.derived:
        raise Unreadable("M-ENTRY", f"{measure.name} is worked out ({measure.derived})", "measure its parts")
    line = _Line(measure)
    for token in _tokens(text):
        _take(token, line)
    if line.sign:
        raise Unreadable("M-NUMBER", "a minus without its number", "write -4")
    return line


def _tokens(text: str) -> Iterable[str]:
    for token in re.split(r"[\s;]+", plain_text(text)):
        stuck = _SIDE_STUCK.match(token)
        if stuck:
            yield (stuck[1] or stuck[2])
            token = token[stuck.end() :]
        if token.strip(","):
            yield token


def _take(token: str, line: _Line) -> None:
    """Read one token into the line, in the order side, number, unit, tool, set-up."""
    word = token.strip(",")
    if word in _SIDES:
        line.groups.append(_Group(_SIDES[word]))
        line.spoken_unit = ""
    elif (number := numeral(token)) is not None:
        _take_number(number, line)
    elif word in ("minus", "plus"):
        line.sign = "-" if word == "minus" else "+"
    elif not _take_unit(word, line):
        _take_word(word, line)


def _take_number(number: Numeral, line: _Line) -> None:
    unit = _unit(number.unit, line) if number.unit else None
    if line.sign and number.values[0][0] in "+-":
        raise Unreadable("M-NUMBER", f"{number.typed[:20]!a} has its sign twice", "write -4 or minus 4")
    line.groups[-1].numbers.append(_Number(number, line.sign, unit))
    line.sign = ""
    line.spoken_unit = ""


def _unit(word: str, line: _Line) -> Unit | Tool:
    """The unit stuck to a number, or the tool whose own unit it is."""
    measure = line.measure
    unit = unit_named(word, measure)
    if unit is not None:
        if unit.dimension != native(measure).dimension:
            message = f"{measure.name} is measured in {measure.unit}; found {word[:20]!a}"
            raise Unreadable("M-UNIT", message, "units of different kinds are never converted")
        return unit
    own = [tool for tool in tool_named(word, measure) if tool.per_unit != 1.0]
    if len(own) == 1:
        return own[0]
    raise Unreadable("M-UNIT", f"{word[:20]!a} is not a unit of {measure.name}", f"it is measured in {measure.unit}")


def _take_unit(word: str, line: _Line) -> bool:
    """A unit on its own: it belongs to the numbers before it on this side that have none. False if it is no unit.

    Once words about the set-up have begun, a word that could be a tool's own unit is one of them.
    """
    waiting = [n for n in line.groups[-1].numbers if n.unit is None]
    tool = next((t for t in tool_named(word, line.measure) if t.per_unit != 1.0), None)
    if unit_named(word, line.measure) is None:
        if tool is None or line.setup:
            return False
        if not waiting or line.spoken_unit:
            return _take_tool(tool, line)
    elif not waiting:
        return False
    unit = _unit(word, line)
    for number in waiting:
        number.unit = unit
    line.spoken_unit = word
    return True


def _take_tool(tool: Tool, line: _Line) -> bool:
    """A tool with a unit of its own is named before all numbers, or again after its unit (`3 finger widths`)."""
    after_unit = any(n.unit == tool for group in line.groups for n in group.numbers)
    if after_unit or not any(group.numbers for group in line.groups):
        line.tools.append(tool)
        return True
    return False


def _take_word(word: str, line: _Line) -> None:
    """A tool's name or words about the set-up; anything else is refused, never passed over."""
    measure = line.measure
    if word in _BOTH:
        raise Unreadable("M-SIDE", f"{word!a}: each side needs its own numbers", "write L 4 4.5 R 9 9.5")
    tools = tool_named(word, measure)
    if len(tools) == 1 and not line.setup:
        line.tools.append(tools[0])
        return
    known = {w for phrase in measure.setup for w in re.findall(r"[a-z]+", phrase.lower())}
    if line.spoken_unit and line.spoken_unit in known and unit_named(line.spoken_unit, measure) is None:
        message = f"{line.spoken_unit!a} can be the unit or the set-up"
        raise Unreadable("M-ENTRY", message, "give the numbers alone, and the set-up as a note")
    if word in known or word in _LINK_WORDS:
        line.setup.append(word)
        return
    names = [*_SIDES, *(alias for tool in measure.tools for alias in (tool.id, *tool.aliases)), *known]
    near = nearest(word, names)
    hint = f"nearest: {', '.join(near)}" if near else "write numbers with their side, like L 4 4.5 R 9 9.5"
    raise Unreadable("M-ENTRY", f"{word[:20]!a} is not understood here", hint)


# ------------------------------------------------------------------------------------------------ sides and values


def _by_side(line: _Line, side: Leg | None) -> list[tuple[Leg, _Group]]:
    first, *named = line.groups
    if not any(group.numbers for group in line.groups):
        raise Unreadable("M-ENTRY", "no number found", "write numbers with their side, like L 4 4.5 R 9 9.5")
    if not line.measure.sided:
        if named:
            raise Unreadable("M-SIDE", f"{line.measure.name} has no sides", "give the number alone")
        return [("none", first)]
    if first.numbers and len(named) == 1 and not named[0].numbers:  # `4 4.5 left`
        first, named = _Group(None), [_Group(named[0].side, first.numbers)]
    if first.numbers and named:
        raise Unreadable("M-SIDE", "some numbers stand before any side", "put the side first: L 4 4.5 R 9 9.5")
    if first.numbers:
        if side not in ("left", "right"):
            raise Unreadable("M-SIDE", "which side is not said", "put it first: L 4 4.5")
        return [(side, first)]
    found: dict[Leg, _Group] = {}
    for group in named:
        leg = group.side or "none"
        if not group.numbers:
            raise Unreadable("M-SIDE", f"no number for {leg}", "write numbers with their side, like L 4 4.5 R 9 9.5")
        if leg in found:
            raise Unreadable("M-SIDE", f"{leg} is given twice", "write each side once, with all its trials")
        found[leg] = group
    return list(found.items())


def _tool(line: _Line, groups: list[tuple[Leg, _Group]], default: str | None) -> str:
    """The tool's id. Units must be said with each number or with none, and agree with the tool."""
    numbers = [number for _, group in groups for number in group.numbers]
    own = {n.unit.id for n in numbers if isinstance(n.unit, Tool)}
    named = own | {tool.id for tool in line.tools}
    if len(named) > 1:
        raise Unreadable("M-TOOL", f"two tools in one line: {', '.join(sorted(named))}", "write a line for each")
    chosen = next(iter(named)) if named else default or default_tool(line.measure)
    said = {n.unit.id if n.unit is not None else line.measure.unit for n in numbers}
    if len(said) > 1:
        raise Unreadable("M-UNIT", "some numbers have another unit than the rest", "write the unit with each number")
    if not own and _per_unit(line.measure, chosen) != 1.0 and any(n.unit is not None for n in numbers):
        raise Unreadable("M-UNIT", f"{chosen} does not read in {line.measure.unit}", "give its reading without a unit")
    return chosen


def _per_unit(measure: Measure, tool: str) -> float:
    return next((t.per_unit for t in measure.tools if t.id == tool), 1.0)


def _values(group: _Group, measure: Measure, tool: str) -> tuple[float, ...]:
    pointed = any("." in n.numeral.typed for n in group.numbers)
    decide_commas([n.numeral for n in group.numbers], pointed)
    values: list[float] = []
    for number in group.numbers:
        for text in number.numeral.values:
            typed = float(number.sign + text)
            if isinstance(number.unit, Unit):
                values.append(number.unit.to(native(measure), typed))
            else:
                values += in_unit(measure, tool, [typed])
    if len(values) > MAX_TRIALS:
        raise Unreadable("M-ENTRY", f"{len(values)} trials on one side", f"give at most {MAX_TRIALS}")
    bare = all(number.unit is None for number in group.numbers)
    for value in values:
        problem = check_value(measure, value, bare)
        if problem is not None and problem.level == "error":
            raise Unreadable(problem.code, problem.message, problem.hint)
    return tuple(values)


def _unusual(read: Iterable[SideTrials], measure: Measure) -> Iterable[Problem]:
    for trials in read:
        for value in trials.values:
            problem = check_value(measure, value)
            if problem is not None:
                yield problem
                break  # once a side is enough
