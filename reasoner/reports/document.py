"""A document as data: sections of blocks, the same for text, Markdown and HTML. No clinical wording, no layout."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Block", "Bullets", "Document", "Fields", "Figure", "Para", "Section", "Steps", "Table"]


@dataclass(frozen=True, slots=True)
class Para:
    """One paragraph. `strong`: stands out; `box`: in HTML in a frame, before all else."""

    text: str
    strong: bool = False
    box: bool = False
    kind: str = "para"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; what begins with two blanks belongs to the item before."""

    items: tuple[str, ...]
    kind: str = "bullets"


@dataclass(frozen=True, slots=True)
class Steps:
    """A numbered list: order matters."""

    items: tuple[str, ...]
    kind: str = "steps"


@dataclass(frozen=True, slots=True)
class Fields:
    """Names with values; an empty value is a blank to be filled in by hand. `row`: short ones beside each other."""

    pairs: tuple[tuple[str, str], ...]
    row: bool = False
    kind: str = "fields"


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a head; an empty cell is to be filled in by hand."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    kind: str = "table"

    @property
    def to_fill(self) -> bool:
        """Does a row wait to be filled in?"""
        return any(not any(row) for row in self.rows)


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing for HTML: `svg` is our own mark-up, never foreign text. Text formats show `alt`."""

    svg: str
    alt: str
    kind: str = "figure"


Block = Para | Bullets | Steps | Fields | Table | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its blocks, in reading order."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Document:
    """One document. `first`: the very first line (urgency), above the title. `invented`: marked on every page."""

    kind: str
    title: str
    sections: tuple[Section, ...]
    first: str = ""
    subtitle: tuple[str, ...] = ()
    footer: tuple[str, ...] = ()
    invented: bool = False
    language: str = "en"
    paper: str = "A4"
    options: tuple[str, ...] = field(default=())  # ids of the options it tells the patient to do
    remarks: tuple[str, ...] = field(default=())  # for the clinician who prints it; not part of the document
