"""A problem is a value: what was found, where, and how to mend it. Collected, never raised, printed one a line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from reasoner.visible import visible

__all__ = ["InputRefused", "Problem", "nearest", "one_line"]

_MOST = 700  # letters of a message or a hint


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input. `level` is `error` or `info`; `line` is 1-based, 0 when there is none."""

    code: str
    message: str
    hint: str = ""
    file: str = ""
    line: int = 0
    level: str = "error"

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}: " if self.file and self.line else f"{self.file}: " if self.file else ""
        hint = f"{'' if self.message.endswith('?') else ';'} {_cut(self.hint)}" if self.hint else ""
        code = f"{self.code}: " if self.code else ""
        return visible(f"{place}{code}{_cut(self.message)}{hint}")


def _cut(text: str) -> str:
    """Text that quotes foreign words at length, to a bearable one."""
    return text if len(text) <= _MOST else text[: _MOST - 3] + "..."


class InputRefused(Exception):
    """Input that cannot be used. Commands print its problems, one a line, and exit 2."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


def nearest(word: str, known: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """The known names nearest to `word`, best first; empty when none is near."""
    names = list(dict.fromkeys(known))
    close = get_close_matches(word, names, n=count, cutoff=0.6)
    close += [n for n in names if word and word in n and n not in close]
    return tuple(close[:count])


def one_line(text: str, most: int = 60) -> str:
    """Foreign text fit to stand in a message: on one line, printable, not longer than `most` characters."""
    shown = visible(" ".join(text.split()))
    return shown if len(shown) <= most else shown[: most - 3] + "..."
