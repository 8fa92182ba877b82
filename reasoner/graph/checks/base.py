"""A check: a code, and a function over a pack that yields problems."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from inspect import cleandoc

from reasoner.graph.pack import Pack
from reasoner.problems import Problem, one_line

__all__ = ["Check", "Finder", "Spot", "rule"]


@dataclass(frozen=True, slots=True)
class Spot:
    """What a rule yields: a record with a `place`, the field path in it, what was found, and how to mend it."""

    record: object
    path: tuple[str | int, ...]
    message: str
    hint: str = ""
    level: str = "error"


Finder = Callable[[Pack], Iterator[Spot]]


@dataclass(frozen=True, slots=True)
class Check:
    """One rule across records."""

    code: str
    find: Finder

    @property
    def text(self) -> str:
        """Reference text of the rule."""
        return cleandoc(self.find.__doc__ or "")

    def run(self, pack: Pack) -> Iterator[Problem]:
        """Problems found, each with file and line."""
        for spot in self.find(pack):
            place = spot.record.place  # type: ignore[attr-defined]  # every record read from a file has one
            message = one_line(spot.message, 300)  # it may quote what somebody wrote
            file, line = place.blame(*spot.path)
            yield Problem(self.code, message, one_line(spot.hint, 300), file, line, spot.level)


def rule(code: str) -> Callable[[Finder], Check]:
    """Make a check of a function."""
    return lambda find: Check(code, find)
