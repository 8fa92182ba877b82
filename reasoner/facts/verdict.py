"""A three-valued verdict as (certainly, possibly): true (T, T), false (F, F), unknown (F, T)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["FALSE", "TRUE", "UNKNOWN", "Verdict", "all_of", "any_of"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """`certainly` implies `possibly`; unknown is possibly but not certainly."""

    certainly: bool
    possibly: bool

    @property
    def unknown(self) -> bool:
        """Neither certain nor impossible."""
        return self.possibly and not self.certainly

    @property
    def false(self) -> bool:
        """Impossible on these answers."""
        return not self.possibly

    def negated(self) -> Verdict:
        """The verdict of `not`."""
        return Verdict(not self.possibly, not self.certainly)


TRUE = Verdict(True, True)
FALSE = Verdict(False, False)
UNKNOWN = Verdict(False, True)


def any_of(verdicts: Iterable[Verdict]) -> Verdict:
    """True if one is; false only if all are."""
    seen = tuple(verdicts)
    return Verdict(any(v.certainly for v in seen), any(v.possibly for v in seen))


def all_of(verdicts: Iterable[Verdict]) -> Verdict:
    """True only if all are; false if one is."""
    seen = tuple(verdicts)
    return Verdict(all(v.certainly for v in seen), all(v.possibly for v in seen))
