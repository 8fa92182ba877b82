"""A page as plain data: headings, paragraphs, rows. Every view makes one; only `render` knows how it looks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Block", "Gap", "Heading", "Page", "Para", "Rows", "Tone"]

# a second signal only: the words alone carry everything
Tone = Literal["plain", "danger", "caution", "quiet", "strong"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading, with what belongs to the whole of it on the right."""

    text: str
    aside: str = ""
    tone: Tone = "strong"


@dataclass(frozen=True, slots=True)
class Para:
    """Text that is wrapped; `indent` in columns."""

    text: str
    indent: int = 2
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of cells. The first column is as wide as it needs to be up to `first`; the last one wraps."""

    rows: tuple[tuple[str, ...], ...]
    indent: int = 2
    first: int = 34
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Gap:
    """An empty line."""


Block = Heading | Para | Rows | Gap
Page = tuple[Block, ...]
