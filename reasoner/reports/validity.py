"""Until when a home sheet holds: the review the clinician wrote, or the day the next healing window opens."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

from reasoner.reports.dossier import Dossier
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["DAYS", "next_stage", "not_after", "review_day"]

DAYS = 14  # where no review was written: common practice, at most two weeks at a time
_LONGEST = 90
_SPAN = re.compile(r"(?:(\d+)\s*(?:-|to|or|bis)\s*)?(\d+)\s*(day|week|month|tag|woche|monat)", re.IGNORECASE)
_UNIT = {"day": 1, "week": 7, "month": 30, "tag": 1, "woche": 7, "monat": 30}
_DATE = re.compile(r"\b(\d{4})-(\d{2})-(\d{2})\b")


def not_after(d: Dossier, next_visit: str) -> tuple[date, bool]:
    """(last day of use, whether that is because the stage of healing changes): the earlier of review and stage."""
    review = review_day(next_visit, d.as_of.date())
    stage = next_stage(d)
    return (stage, True) if stage is not None and stage < review else (review, False)


def review_day(words: str, start: date) -> date:
    """The later end of "in 7-10 days" or "2 weeks", a date as 2026-03-09; without either two weeks.

    >>> review_day("in 7-10 days", date(2026, 3, 2)), review_day("2 weeks", date(2026, 3, 2))
    (datetime.date(2026, 3, 12), datetime.date(2026, 3, 16))
    """
    written = _DATE.search(words)
    if written is not None:
        try:
            day = date(*(int(part) for part in written.groups()))
        except ValueError:
            day = start
        if start < day <= start + timedelta(days=_LONGEST):
            return day
    spans = [int(m[2]) * _UNIT[m[3].lower()] for m in _SPAN.finditer(words)]
    days = max((s for s in spans if 0 < s <= _LONGEST), default=DAYS)
    return start + timedelta(days=days)


def next_stage(d: Dossier) -> date | None:
    """The next day on which a healing window that applies here opens; None where none lies ahead."""
    days = [n for n in _ahead(d) if n > 0]
    return d.as_of.date() + timedelta(days=min(days)) if days else None


def _ahead(d: Dossier) -> Iterator[int]:
    rules = Screening(d.facts).rules
    for protocol in d.knowledge.protocols.values():
        if not evaluate(protocol.applies_when, rules).verdict.certainly:
            continue
        for window in protocol.windows:
            happened, passed = d.facts.days_since(window.counted_from)
            if happened.certainly and passed is not None:
                yield window.later_weeks * 7 - passed
