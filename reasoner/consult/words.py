"""How recorded things are said back: short, plain, and never more reassuring than they are."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from reasoner.case.state import Side
from reasoner.graph.records import Finding

__all__ = [
    "VALUES", "answered", "brief", "covered_words", "listed", "number", "of_side", "signed", "sureness", "together",
]  # fmt: skip

VALUES = {"absent": "absent", "unknown": "unknown (asked; does not count as absent)"}
_TOGETHER = 3


def number(value: float) -> str:
    """At most one decimal, none where it is zero: 4, 3.3, -2.5.

    >>> number(4.0), number(3.333), number(-2.5)
    ('4', '3.3', '-2.5')
    """
    rounded = round(value, 1)
    return f"{rounded:.0f}" if rounded == int(rounded) else f"{rounded:.1f}"


def signed(value: float) -> str:
    """`number` with its sign: a change.

    >>> signed(1.25), signed(-0.5), signed(0.0)
    ('+1.2', '-0.5', '0')
    """
    text = number(value)
    return f"+{text}" if value > 0 and text != "0" else text.replace("-0", "0") if text == "-0" else text


def covered_words(parts: Iterable[str]) -> list[str]:
    """What belongs to an agreement, in words.

    >>> covered_words(["what_why", "may_stop"])
    ['what and why', 'may stop']
    """
    return ["what and why" if part == "what_why" else part.replace("_", " ") for part in parts]


def sureness(value: float) -> str:
    """A chance without its leading zero: .7

    >>> sureness(0.7), sureness(0.05), sureness(1.0)
    ('.7', '.05', '1')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return text[1:] if text.startswith("0.") else text


def listed(parts: Iterable[str], most: int = 6) -> str:
    """a, b, c and 4 more; between semicolons where a part has a comma of its own.

    >>> listed(["a", "b", "c"], 2), listed(["red, hot", "stiff"])
    ('a, b and 1 more', 'red, hot; stiff')
    """
    seen = list(parts)
    said = ("; " if any("," in part for part in seen[:most]) else ", ").join(seen[:most])
    return said if len(seen) <= most else f"{said} and {len(seen) - most} more"


def of_side(side: Side) -> str:
    """" left", or nothing where there is no side."""
    return f" {side}" if side in ("left", "right") else ""


def answered(finding: Finding, side: Side, value: str, sure: float | None) -> str:
    """What was recorded, said so that a slip is noticed."""
    name = finding.name + of_side(side)
    if sure is not None:
        return f"{name}: {sureness(sure)} sure it is there (unknown to the danger rules)"
    if value == "present":
        said = (finding.says or finding.name) + of_side(side)
        return f"{said}: danger sign recorded" if finding.danger else f"{said}: present"
    return f"{name}: {VALUES[value]}"


def brief(finding: Finding, side: Side, value: str) -> tuple[str, str]:
    """(value, name), for `together`."""
    return value, finding.name + of_side(side)


def together(said: Iterable[tuple[tuple[str, ...], tuple[str, str] | None]]) -> tuple[str, ...]:
    """What decisions of one line say; three or more answers alike that follow each other become one line.

    >>> together([((f"{n}: absent",), ("absent", n)) for n in "abc"] + [(("d: absent",), None)])
    ('absent: a, b, c', 'd: absent')
    """
    lines: list[str] = []
    for value, group in groupby(said, key=lambda one: one[1] and one[1][0]):
        run = list(group)
        if value and len(run) >= _TOGETHER:
            lines.append(f"{VALUES[value]}: {listed((b[1] for _, b in run if b is not None), len(run))}")
        else:
            lines += [line for says, _ in run for line in says]
    return tuple(lines)


