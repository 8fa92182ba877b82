"""What a line still lacks before it can be recorded: which name, consent, a reason, the parts of a resolution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from reasoner.consult.commands import Command, Consent, Retest, Treat
from reasoner.consult.treating import COVERED
from reasoner.prompt.parsed import Unclear, View

__all__ = [
    "Choice", "NeedsConsent", "NeedsRecheck", "NeedsText", "Pending", "as_rechecked", "with_consent",
    "with_part",
]


@dataclass(frozen=True, slots=True)
class Choice:
    """Several names are near: a number picks one, anything else is a new line."""

    line: str
    unclear: Unclear
    chosen: dict[tuple[str, str], str]


@dataclass(frozen=True, slots=True)
class NeedsConsent:
    """The commands wait for the patient's answer about one option: y or n, never an empty line."""

    commands: tuple[Command, ...]
    option: str
    view: View | None = None


@dataclass(frozen=True, slots=True)
class NeedsText:
    """The commands wait for words: `part` of them is asked with `ask`. An empty line gives up."""

    commands: tuple[Command, ...]
    part: str
    ask: str
    view: View | None = None


@dataclass(frozen=True, slots=True)
class NeedsRecheck:
    """A retest jumped: y once the set-up was checked and it is the same again, or the retest typed anew."""

    commands: tuple[Command, ...]
    view: View | None = None


Pending = Choice | NeedsConsent | NeedsRecheck | NeedsText


def with_consent(
    commands: Sequence[Command], option: str, covered: tuple[str, ...] = COVERED
) -> tuple[Command, ...]:
    """The same commands with the consent, and what was said for it, written before the treatment it is for."""
    found: list[Command] = []
    for command in commands:
        if isinstance(command, Treat) and command.option == option:
            found.append(Consent(option, "given", covered))
        found.append(command)
    return tuple(found)


def as_rechecked(commands: Sequence[Command]) -> tuple[Command, ...]:
    """The same commands, a retest marked as taken after the set-up was checked."""
    return tuple(replace(x, rechecked=True) if isinstance(x, Retest) else x for x in commands)


def with_part(commands: Sequence[Command], part: str, text: str) -> tuple[Command, ...]:
    """The same commands with an empty `part` filled in wherever a command has one."""
    return tuple(_filled(command, part, text) for command in commands)


def _filled(command: Command, part: str, text: str) -> Command:
    has = any(f.name == part for f in fields(command))
    changes: dict[str, Any] = {part: text}
    return replace(command, **changes) if has and not getattr(command, part) else command
