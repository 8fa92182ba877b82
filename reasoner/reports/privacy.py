"""Free text looked through before it leaves: what looks like a name, a telephone number, a mail address, a birth date.

A look, not a guarantee: it finds common forms and misses others. What is found is told by place, never repeated.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache

from reasoner.case.events import free_fields
from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge

__all__ = ["Suspect", "scan_case", "scan_text"]

_MAIL = re.compile(r"[\w.+-]+@[\w-]+\.[\w.-]+")
_PHONE = re.compile(r"(?<![\w.])(?:\+|00)?\(?\d(?:[\s()./-]{0,2}\d){6,14}(?![\w])")
_DATES = (
    re.compile(r"\b(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})\b"),
    re.compile(r"\b(\d{4})-(\d{1,2})-(\d{1,2})\b"),
)
_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_LONG_DATE = re.compile(rf"\b\d{{1,2}}(?:st|nd|rd|th)?\s+(?:{_MONTHS})[a-z]*\s+(?:19|20)\d\d\b", re.IGNORECASE)
_BORN = re.compile(r"\b(?:born|birth\s?(?:day|date)|d\.?o\.?b\.?|date of birth|geboren)\b\W{0,3}\S*\d", re.IGNORECASE)
_TITLE = re.compile(r"\b(?:Mr|Mrs|Ms|Miss|Mx|Dr|Prof|Sr|Herr|Frau|Doctor|Nurse|Sister)\b\.?\s+[A-ZÀ-Þ][\w'’-]+")
_CALLED = re.compile(
    r"\b(?:called|named|name is|name:|wife|husband|partner|son|daughter|mother|father|brother|sister|friend|colleague)"
    r"\s+(?!is\b)([A-ZÀ-Þ][a-zà-ÿ'’-]+)"
)
_CAPITALS = re.compile(r"(?<![.!?:;\"'(] )(?<!^)\b([A-ZÀ-Þ][a-zà-ÿ]+)\s+([A-ZÀ-Þ][a-zà-ÿ]+)\b")
_USUAL = frozenset(
    (
        "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "january", "february", "march",
        "april", "may", "june", "july", "august", "september", "october", "november", "december", "i", "emergency",
        "department", "hospital", "accident", "clinic", "ward",
    )
)  # fmt: skip
_YOUNGEST = 5  # a date nearer than this many years is a visit's or an injury's, not a birth date


@dataclass(frozen=True, slots=True)
class Suspect:
    """Something that looks like it names a person: where, and what it looks like. `sure`: refused without a flag."""

    place: str
    looks_like: str
    sure: bool


def scan_text(text: str, place: str, usual: frozenset[str] = _USUAL, today: date | None = None) -> Iterator[Suspect]:
    """What in a text looks like a name, telephone number, mail address or birth date."""
    if _MAIL.search(text):
        yield Suspect(place, "a mail address", True)
    if any(sum(c.isdigit() for c in m[0]) >= 7 and not _is_date(m[0]) for m in _PHONE.finditer(text)):
        yield Suspect(place, "a telephone or record number", True)
    if _BORN.search(text) or any(_old(m, today) for m in _dates(text)):
        yield Suspect(place, "a birth date", True)
    if _TITLE.search(text) or _CALLED.search(text):
        yield Suspect(place, "a name", True)
    elif any(not {w.lower() for w in m.groups()} <= usual for m in _CAPITALS.finditer(text)):
        yield Suspect(place, "perhaps a name (two words with capitals)", False)


def _is_date(text: str) -> bool:
    return any(p.fullmatch(text.strip()) for p in _DATES)


def _dates(text: str) -> Iterator[str]:
    for pattern in (*_DATES, _LONG_DATE):
        for match in pattern.finditer(text):
            yield match[0]


def _old(text: str, today: date | None) -> bool:
    """A date whose year lies so far back that it is more likely a birth than an injury."""
    years = re.findall(r"\b(?:19|20)\d\d\b", text)
    if not years:
        return False
    return (today or date(2100, 1, 1)).year - int(years[-1]) >= _YOUNGEST


def scan_case(knowledge: Knowledge, state: CaseState, today: date) -> tuple[Suspect, ...]:
    """Every free text of a case, by the entry it stands in; the same place and look only once."""
    usual = _USUAL | _vocabulary(_names(knowledge))
    found = (s for place, text in _texts(state) for s in scan_text(text, place, usual, today))
    return tuple(dict.fromkeys(found))


def _texts(state: CaseState) -> Iterator[tuple[str, str]]:
    for recorded in state.log:
        for name in free_fields(type(recorded.event)):
            text = getattr(recorded.event, name)
            if text:
                heading = getattr(recorded.event, "heading", "") or name
                yield f"entry {recorded.seq} ({str(heading).replace('_', ' ')})", text


def _names(knowledge: Knowledge) -> tuple[str, ...]:
    tables: tuple[Mapping[str, str], ...] = (
        knowledge.finding_names, knowledge.measure_names, knowledge.option_names, knowledge.hypothesis_names,
    )
    return tuple(name for table in tables for name in table)


@cache
def _vocabulary(names: Iterable[str]) -> frozenset[str]:
    """Words of the pack: a trade term with a capital is no name."""
    return frozenset(word for name in names for word in name.split())
