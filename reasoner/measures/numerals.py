"""Numbers as people write them: minus signs, decimal commas, units stuck to them. What two readers could read
differently is refused with the two ways to write it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reasoner.problems import Problem

__all__ = ["Numeral", "Unreadable", "decide_commas", "numeral", "plain_text"]

_MINUS = str.maketrans(dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\u2014\ufe63\uff0d", "-") | {
    "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u00ba": "\u00b0", "\u2033": '"', "\u201d": '"',
})  # fmt: skip
_OF_TEN = re.compile(r"(?<=[0-9])\s*(?:/|\bout\s+of\b|\bof\b)\s*10(?![0-9.,])")
_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_NUMERAL = re.compile(rf"({_NUMBER}(?:,{_NUMBER})*),*(.*)", re.DOTALL)
_JOINED = re.compile(r"-[0-9.]")


class Unreadable(Exception):
    """Stops reading; carries the one Problem."""

    def __init__(self, code: str, message: str, hint: str = "") -> None:
        self.problem = Problem(code, message, hint)
        super().__init__(message)


@dataclass(frozen=True, slots=True)
class Numeral:
    """One token that starts like a number: its values, and the unit stuck to it. `comma`: `4,5`, not yet decided."""

    typed: str
    values: tuple[str, ...]
    unit: str
    comma: bool


def plain_text(text: str) -> str:
    """Lower case, with one kind of minus, blank and degree sign, and `of 10` pulled to its number.

    >>> plain_text("L \\u22124,5 \\u20135 cm"), plain_text("5 out of 10")
    ('l -4,5 -5 cm', '5/10')
    """
    return _OF_TEN.sub("/10", text.translate(_MINUS).lower())


def numeral(token: str) -> Numeral | None:
    """A token as numbers with the unit stuck to them; None if it is a word. Unreadable for a malformed number.

    >>> numeral("45mm").values, numeral("45mm").unit, numeral("4,5").comma, numeral("4,4.5").values
    (('45',), 'mm', True, ('4', '4.5'))
    """
    if not re.match(r"[+-]?[.,]?[0-9]|[+-]", token):
        return None
    match = _NUMERAL.fullmatch(token)
    if match is None:
        hint = "a minus stands right before its number, and a fraction starts with a digit: -4 or 0.5"
        raise Unreadable("M-NUMBER", f"{token[:20]!a} is not a number", hint)
    parts, unit = match[1].split(","), match[2]
    if _JOINED.match(unit):
        raise Unreadable("M-NUMBER", f"{token[:20]!a} joins two numbers", "write them apart: 4 5, or a minus as 4 -5")
    if "½" in unit or "¼" in unit or "¾" in unit or (re.match(r"/[0-9]", unit) and unit != "/10"):
        raise Unreadable("M-NUMBER", f"{token[:20]!a} is a fraction", "write it with a point: 4.5")
    if unit and (unit[0].isdigit() or unit[0] in ".,"):
        raise Unreadable("M-NUMBER", f"{token[:20]!a} is not a number", "write it with one point: 4.5")
    if len(parts) == 2 and all(part.lstrip("+-").isdigit() for part in parts) and parts[1].isdigit():
        return Numeral(token, (f"{parts[0]}.{parts[1]}",), unit, True)
    return Numeral(token, tuple(parts), unit, False)


def decide_commas(numerals: list[Numeral], pointed: bool) -> None:
    """Unreadable where a comma in `numerals` (those of one side) could be a decimal comma or a separator.

    Numbers set apart by blanks show that a comma inside one is decimal. `pointed`: a point is used on this side too.
    """
    commas = [n for n in numerals if n.comma]
    if not commas:
        return
    one = commas[0].typed
    whole, part = commas[0].values[0].split(".")
    hint = f"write {whole}.{part} for one number, or {whole} {part} for two trials"
    if pointed or any(len(n.values) > 1 for n in numerals):
        raise Unreadable("M-COMMA", f"{one!a}: points and commas are mixed", hint)
    if len(numerals) == 1:
        raise Unreadable("M-COMMA", f"{one!a} can be one number or two trials", hint)
