"""What every document is made from: one case state, the advice on it, where it stands in its trail, and the clinic."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Literal

from reasoner.advice.records import Advice
from reasoner.case.state import CaseState
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.reports.letterhead import Letterhead

__all__ = ["CAUTION", "INVENTED", "Dossier"]

CAUTION = (
    "Local protocol, the surgeon's orders and licensed practice come first. This record supports judgement; "
    "it is not a diagnosis."
)
INVENTED = "INVENTED PATIENT"


@dataclass(frozen=True)
class Dossier:
    """One case as at `as_of` (its last clinical entry), printed at `now` by the clinician code `by`.

    `count` and `head`: the trail's anchor, its number of lines and the hash of the last. `dates`: real dates, or days
    counted from the first visit.
    """

    knowledge: Knowledge
    state: CaseState
    advice: Advice
    as_of: datetime
    now: datetime
    by: str
    role: str
    count: int
    head: str
    engine: str
    clinic: Letterhead = field(default_factory=Letterhead)
    dates: Literal["real", "relative"] = "real"
    recorded_with: str = ""  # knowledge digest of the last line
    visits_by_day: bool = False  # for readers outside, who do not count our visits

    @property
    def invented(self) -> bool:
        """Demo and practice cases are marked on every page."""
        return self.state.kind != "real"

    @cached_property
    def facts(self) -> Facts:
        """Facts of every side at the moment described."""
        return Facts(self.knowledge, self.state, self.as_of)

    @property
    def clinician(self) -> str:
        """Code of whoever held the latest visit."""
        return self.state.visits[-1].clinician if self.state.visits else self.by

    def day(self, at: datetime | date | None) -> str:
        """A day as this document gives it: Mon 2 Mar 2026, or day 8 (the first visit is day 1)."""
        if at is None:
            return "day not known"
        if self.dates == "relative":
            return f"day {(_date(at) - self._first).days + 1}"
        return f"{at:%a} {at.day} {at:%b %Y}"

    def moment(self, at: datetime | None) -> str:
        """A day with its time."""
        return self.day(at) if at is None else f"{self.day(at)} {at:%H:%M}"

    @property
    def _first(self) -> date:
        opened = self.state.visits[0].opened_at if self.state.visits else None
        return _date(opened or self.as_of)

    def since(self, event: str) -> tuple[int | None, date | None]:
        """(whole days since, the day itself) of an injury, operation, ...; None where it is not known."""
        anchor = self.state.context.days_since.get(event)
        if anchor is None or anchor.none or anchor.days is None:
            return None, None
        days = self.facts.days_since(event)[1]
        stated = anchor.stated_at or self.as_of
        return days, _date(stated) - timedelta(days=anchor.days)

    def visit_words(self, visit: int) -> str:
        """Which visit a line is from; for a reader outside the day of it."""
        if self.visits_by_day:
            return self.day(next((v.opened_at for v in self.state.visits if v.number == visit), None))
        return "this visit" if visit == self.state.visit else f"from visit {visit}"

    @property
    def ending(self) -> tuple[str, ...]:
        """Where this stands in the record: anchor, knowledge, moment."""
        lines = [
            f"As at {self.moment(self.as_of)}, printed {self.moment(self.now)} by {self.by}.",
            f"Trail {self.state.case}: {self.count} entries, last {self.head.removeprefix('sha256:')[:16]}. "
            f"Knowledge {self.knowledge.digest[:12]}, reasoner {self.engine}.",
        ]
        if self.knowledge.set_aside:
            lines.append("The clinic's own knowledge was left out, as asked for.")
        elif self.knowledge.clinic is not None:
            lines.append(f"Clinic's knowledge {self.knowledge.clinic.id} {self.knowledge.clinic.digest[:12]}.")
        if self.recorded_with and self.recorded_with != self.knowledge.digest:
            lines.append(f"Recorded with knowledge {self.recorded_with[:12]}.")
        return tuple(lines)


def _date(at: datetime | date) -> date:
    return at.date() if isinstance(at, datetime) else at
