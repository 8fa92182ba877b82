"""A clinic's own repeated measures from a CSV file: one line a person, one column a reading.

    person,anna,bert        columns are raters or occasions
    p1,4.5,5.0
    person,mon.1,mon.2,thu.1,thu.2        occasion.trial: several trials on each of several occasions

Separated by commas, or by semicolons or tabs (then a decimal comma is read). Lines that begin with # are passed over.
Everything wrong is reported with its line; nothing is filled in or left out in silence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from reasoner.graph.records import Measure
from reasoner.measures.entry import check_value
from reasoner.problems import InputRefused, Problem, one_line
from reasoner.reading import read_regular

__all__ = ["CODE", "Readings", "read_readings", "text_of"]

CODE = "M-TABLE"
_MOST_BYTES = 2_000_000
_MOST_PROBLEMS = 100  # more says nothing new
_NESTED = re.compile(r"(.+)\.(\d+)")
_DELIMITERS = (";", "\t", ",")


@dataclass(frozen=True, slots=True)
class Readings:
    """A rectangular table. `occasions`: (name, number of trials) where columns are occasion.trial, else empty."""

    people: tuple[str, ...]
    columns: tuple[str, ...]
    table: tuple[tuple[float, ...], ...]
    occasions: tuple[tuple[str, int], ...] = ()
    notes: tuple[Problem, ...] = ()

    def nested(self) -> tuple[tuple[tuple[float, ...], ...], ...]:
        """people x occasions x trials; only where every occasion has the same number of trials."""
        return tuple(tuple(self._trials(row)) for row in self.table)

    def _trials(self, row: tuple[float, ...]) -> Iterator[tuple[float, ...]]:
        at = 0
        for _, trials in self.occasions:
            yield row[at : at + trials]
            at += trials


def text_of(path: Path, code: str = CODE) -> str:
    """The text of a small file. InputRefused, with the file named, for what cannot be read as text."""
    try:
        data = read_regular(path, _MOST_BYTES)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "cannot be read"
        raise InputRefused([Problem(code, reason, "name a small text file that is there", str(path))]) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputRefused([Problem(code, "not UTF-8 text", "save it as CSV, UTF-8", str(path), line)]) from None
    if "\0" in text:
        raise InputRefused([Problem(code, "not a text file", "save it as CSV, UTF-8", str(path), 1)])
    return text


def read_readings(path: Path, measure: Measure | None = None) -> Readings:
    """The table of a file. With a measure its possible range is held too. InputRefused with every problem at once."""
    numbered = enumerate(text_of(path).splitlines(), 1)
    lines = [(n, line) for n, line in numbered if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise InputRefused([_problem(path, 1, "the file holds nothing", "write person,first,second and a line each")])
    delimiter = next((d for d in _DELIMITERS if d in lines[0][1]), ",")
    header = _cells(lines[0][1], delimiter)
    problems = list(_header_problems(path, lines[0][0], header))
    people: list[str] = []
    seen: set[str] = set()
    table: list[tuple[float, ...]] = []
    notes: list[Problem] = []
    for number, line in lines[1:]:
        if len(problems) >= _MOST_PROBLEMS:
            break
        row = _row(path, number, _cells(line, delimiter), header, delimiter, measure)
        problems += [p for p in row.problems if p.level == "error"]
        notes += [p for p in row.problems if p.level != "error"]
        if row.person in seen:
            problems.append(_problem(path, number, f"{row.person} stands here twice", "one line a person"))
        people.append(row.person)
        seen.add(row.person)
        table.append(row.values)
    if not problems and len(table) < 2:
        problems.append(_problem(path, lines[-1][0], f"{len(table)} of the people needed", "two or more, better 30"))
    if problems:
        raise InputRefused(problems)
    return Readings(tuple(people), header[1:], tuple(table), _occasions(header[1:]), tuple(notes))


@dataclass(frozen=True, slots=True)
class _Row:
    person: str
    values: tuple[float, ...]
    problems: tuple[Problem, ...]


def _problem(path: Path, line: int, message: str, hint: str = "", level: str = "error") -> Problem:
    return Problem(CODE, message, hint, str(path), line, level)


def _cells(line: str, delimiter: str) -> tuple[str, ...]:
    return tuple(cell.strip().strip('"').strip() for cell in line.split(delimiter))


def _header_problems(path: Path, line: int, header: tuple[str, ...]) -> Iterator[Problem]:
    readings = header[1:]
    example = "write person,first,second"
    if len(readings) < 2:
        yield _problem(path, line, f"{len(readings)} columns of readings; two or more are needed", example)
    elif any(not name for name in readings):
        yield _problem(path, line, "a column has no name", example)
    elif len(set(readings)) != len(readings):
        twice = next(name for name in readings if readings.count(name) > 1)
        yield _problem(path, line, f"the first line names the columns; {one_line(twice, 20)} stands twice", example)
    elif all(re.fullmatch(r"-?\d+[.,]\d+", name) for name in readings) and not _occasions(readings):
        yield _problem(path, line, "the first line names the columns; found numbers", example)


def _row(
    path: Path, line: int, cells: tuple[str, ...], header: tuple[str, ...], delimiter: str, measure: Measure | None
) -> _Row:
    person = one_line(cells[0], 20) or f"line {line}"
    if len(cells) != len(header):
        message = f"{person}: {len(cells) - 1} readings, the first line names {len(header) - 1}"
        return _Row(person, (), (_problem(path, line, message, "every person needs every reading"),))
    values, problems = [], []
    for name, cell in zip(header[1:], cells[1:], strict=True):
        where = f"{person}, {one_line(name, 20)}"
        number = _number(cell, delimiter)
        if number is None:
            found = "nothing" if not cell else f"{one_line(cell, 20)!a}"
            problems.append(_problem(path, line, f"{where}: found {found}", "write a number such as 4.5"))
            continue
        wrong = check_value(measure, number) if measure is not None else None
        if wrong is not None:
            problems.append(_problem(path, line, f"{where}: {wrong.message}", wrong.hint, wrong.level))
        values.append(number)
    return _Row(person, tuple(values), tuple(problems))


def _number(cell: str, delimiter: str) -> float | None:
    text = cell.replace("\u2212", "-")
    if delimiter != ",":
        text = text.replace(",", ".")
    if not re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)", text):
        return None
    number = float(text)
    return number if isfinite(number) and abs(number) < 1e9 else None


def _occasions(columns: tuple[str, ...]) -> tuple[tuple[str, int], ...]:
    """(occasion, trials) where every column is occasion.trial, in order, two or more of each; else nothing."""
    found: dict[str, int] = {}
    last = ""
    for column in columns:
        match = _NESTED.fullmatch(column)
        if match is None or (match[1] in found and match[1] != last) or int(match[2]) != found.get(match[1], 0) + 1:
            return ()
        last = match[1]
        found[last] = int(match[2])
    equal = len(set(found.values())) == 1
    return tuple(found.items()) if equal and len(found) > 1 and min(found.values()) > 1 else ()
