"""Problems with typed numbers and with files of numbers: code -> reference text."""

from __future__ import annotations

__all__ = ["MEASURE_CODES"]

MEASURE_CODES: dict[str, str] = {
    "M-ENTRY": """A typed measure is not understood.

Numbers with their side, then what is said about them: L 4 4.5 4.5 R 9 9 9.5 tape heel down. Trials of one side stand
one after the other, at most twenty. A measure that is worked out from others is not typed: its parts are.""",
    "M-NUMBER": """A number cannot be read.

Digits with at most one point or comma, a sign at most once, and a unit with no blank or one: 4.5, -3, 45mm. Nothing
is guessed from 4..5 or --4.""",
    "M-COMMA": """A comma can mean two things.

4,5 is one number where a comma marks decimals and two trials where it sets numbers apart. Where the line does not tell
which, both ways to write it are shown and nothing is recorded.""",
    "M-UNIT": """A unit does not fit the measure.

Each measure has one unit, named in its file. Units of the same kind are converted (45mm is 4.5 cm); degrees and
centimetres never are. A unit stands with every number of a line or with none.""",
    "M-SIDE": """The side of a number is not said, or said twice.

Which side is which cannot be known from the numbers. Put the side first (L 4 4.5 R 9 9.5), each side once. A measure of
the whole person has no side.""",
    "M-TOOL": """Two tools in one line.

Each tool has its own error, so values of two tools are two lines.""",
    "M-RANGE": """A value is not possible.

The measure's file states the possible range (`possible`) and where it is from (`possible_source`). A slip of ten is
mostly a unit: write 45mm, not 45, where centimetres are expected.""",
    "M-USUAL": """A value is possible but unusual.

It is recorded. The measure's file states what is usual (`usual`); look at set-up, side and unit before it is used.""",
    "M-TABLE": """A file of repeated measures cannot be used.

One line a person, one column a reading, the first line names the columns: person,anna,bert. With several trials on
several occasions the columns are occasion.trial: mon.1,mon.2,thu.1,thu.2. No gaps, no person twice, two people or more,
readings that differ. Every line that is wrong is named; nothing is filled in or left out.""",
}
