"""What a clinic's folder came to, as plain records: which entries, what they touch, who signed, and what to say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reasoner.problems import Problem

__all__ = ["Clinic", "ClinicCopy", "Entry", "SignedOff"]


@dataclass(frozen=True, slots=True)
class SignedOff:
    """Who answers for an entry that is looser than the shipped one, and until when. Dates as text, 2026-11-30."""

    roles: tuple[str, ...]
    date: str
    until: str
    reason: str

    def __str__(self) -> str:
        return f"signed by {' and '.join(self.roles)} until {self.until}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the folder. `fields`: the field paths it sets, such as `windows.thrust.later_weeks`."""

    what: Literal["changes", "retires", "adds"]
    kind: str  # of record: option, screen, ...
    id: str
    file: str
    line: int
    fields: tuple[str, ...] = ()
    base: str = ""  # digest of the shipped entry it was written against; empty: not filled in yet
    base_now: str = ""  # digest of the shipped entry as it is
    signed: SignedOff | None = None
    expired: bool = False  # the signature has run out: the shipped entry holds
    stricter: tuple[str, ...] = ()  # fields where the shipped entry changed since and the stricter of both holds

    @property
    def moved(self) -> bool:
        """The shipped entry has changed since this was written."""
        return bool(self.base) and self.base != self.base_now


@dataclass(frozen=True, slots=True)
class Clinic:
    """The folder as loaded. `digest` covers its files only; `notes` are what the reader should know."""

    id: str
    name: str
    prefix: str
    digest: str
    entries: tuple[Entry, ...] = ()
    notes: tuple[Problem, ...] = ()

    def signed_for(self, kind: str, ident: str = "", within: str = "") -> tuple[Entry, ...]:
        """Entries in force that were signed as looser: of a kind, with this id, setting a field under `within`."""
        return tuple(
            e
            for e in self.entries
            if e.signed is not None
            and not e.expired
            and e.kind == kind
            and (not ident or e.id == ident)
            and (not within or any(within in f.split(".") for f in e.fields))
        )


@dataclass(frozen=True, slots=True)
class ClinicCopy:
    """Files of a clinic's folder (names relative to it) as they are to be laid over; `today` as 2026-11-30."""

    files: dict[str, bytes]
    today: str = ""
    leave_out: frozenset[str] = frozenset()  # `file:line` of entries to leave out, for judging one at a time
