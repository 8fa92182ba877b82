"""Would this case name tell who the patient is? A look at its words and number: common given names, surnames, dates.

`names.txt`: common names of several languages, from memory. No list is complete: a drawn name (`session --new`) is
always the better one.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

__all__ = ["tells"]

_NAMES = frozenset(Path(__file__).with_name("names.txt").read_text(encoding="ascii").split())
_DATES = frozenset((
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december", "jan", "feb", "mar", "apr", "jun", "jul", "aug", "sep", "sept", "oct", "nov", "dec", "januar",
    "februar", "maerz", "juni", "juli", "oktober", "dezember", "monday", "tuesday", "wednesday", "thursday", "friday",
    "saturday", "sunday",
))  # fmt: skip


def tells(case: str) -> str:
    """What the words and the number of a case name look like, in words; empty if like nothing of a person's.

    >>> tells("oak-heron-17"), tells("smith-17"), tells("oak-may-3"), tells("oak-3112")
    ('', 'a name (smith)', 'a date (may)', 'a date (3112)')
    """
    *words, number = case.split("-")
    for word in words:
        if word in _DATES:
            return f"a date ({word})"
        if word in _NAMES:
            return f"a name ({word})"
    first, last = number[:2], number[2:]
    if len(number) == 4 and (first in ("19", "20") or _day(first, last) or _day(last, first)):
        return f"a date ({number})"
    return ""


def _day(day: str, month: str) -> bool:
    try:
        date(2000, int(month), int(day)) # a leap year
    except ValueError:
        return False
    return True
