"""What a typed line turned out to be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reasoner.consult.commands import Command
from reasoner.problems import Problem

__all__ = ["Candidate", "Line", "Refused", "Unclear", "View", "ViewName"]

ViewName = Literal[
    "help", "why", "options", "screens", "list", "summary", "next", "skip", "open", "leave", "answers", "timeline",
    "phone", "surgeon", "activity", "cover", "hold",
]


@dataclass(frozen=True, slots=True)
class View:
    """Something to look at, or to move to; records nothing."""

    name: ViewName
    about: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """Commands of one line, to be recorded together, and what to show after them."""

    commands: tuple[Command, ...] = ()
    view: View | None = None


@dataclass(frozen=True, slots=True)
class Candidate:
    """A name that may have been meant."""

    id: str
    name: str


class Refused(Exception):
    """A line that cannot be used; carries the one problem."""

    def __init__(self, message: str, hint: str = "", code: str = "") -> None:
        self.problem = Problem(code, message, hint)
        super().__init__(message)


class Unclear(Exception):
    """A name that is near to some but is none of them. It proposes; nothing is recorded before one is chosen."""

    def __init__(self, kind: str, word: str, candidates: tuple[Candidate, ...]) -> None:
        self.kind, self.word, self.candidates = kind, word, candidates
        names = ", ".join(c.name for c in candidates)
        self.problem = Problem("", f"no {kind} is called '{word}'", f"nearest: {names}")
        super().__init__(word)
