"""What is due: evidence to be read again, signatures that run out, and figures that only memory vouches for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.pack import Pack

__all__ = ["Due", "due"]

_DATE = re.compile(r"(20\d\d)-(\d\d)(?:-(\d\d))?\Z")


@dataclass(frozen=True, slots=True)
class Due:
    """One thing to look at; `when` as 2026-11-30, empty: no date, but it waits."""

    when: str
    what: str
    id: str
    say: str


def due(knowledge: Knowledge, today: date, within: int) -> tuple[Due, ...]:
    """Everything due up to `within` days from today, the oldest first; what has no date last."""
    limit = today + timedelta(days=within)
    found = [
        Due(entry.review_by, "evidence", entry.id, f"read again by then ({entry.says})"[:200])
        for entry in knowledge.evidence.values()
        if (day := _day(entry.review_by)) is not None and day <= limit
    ]
    for one in knowledge.clinic.entries if knowledge.clinic is not None else ():
        if one.signed is not None and (day := _day(one.signed.until)) is not None and day <= limit:
            passed = "has run out: the shipped entry holds" if one.expired else "runs out"
            found.append(Due(one.signed.until, "signature", one.id, f"{passed} ({' and '.join(one.signed.roles)})"))
        if one.moved and not one.expired:
            found.append(Due("", "patch", one.id, f"the shipped entry has changed: reasoner knowledge review {one.id}"))
    recalled: dict[str, int] = {}
    for record, _, part in Pack.of(knowledge).parts:
        if part.basis == "recalled":
            recalled[record.id] = recalled.get(record.id, 0) + 1
    found += [Due("", "from memory", ident, f"{count} to be looked up") for ident, count in recalled.items()]
    return tuple(sorted(found, key=lambda d: (not d.when, d.when, d.what, d.id)))


def _day(text: str) -> date | None:
    """A date; a month counts to its last day. None for anything else."""
    match = _DATE.match(text)
    if match is None:
        return None
    year, month, day = int(match[1]), int(match[2]), match[3]
    try:
        if day is not None:
            return date(year, month, int(day))
        return date(year + month // 12, month % 12 + 1, 1) - timedelta(days=1)
    except ValueError:
        return None
