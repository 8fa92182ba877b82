"""Pages on a console: fixed-width, readable without colour, on a dumb terminal, and with hostile text in them."""

from __future__ import annotations

import unicodedata
from io import StringIO
from typing import IO

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows, Tone

__all__ = ["make_console", "plain_lines", "show", "visible"]

WIDTH = 80
_STYLES: dict[Tone, str] = {"plain": "", "danger": "bold red", "caution": "yellow", "quiet": "dim", "strong": "bold"}


def make_console(file: IO[str] | None = None, width: int | None = None, *, plain: bool = False) -> Console:
    """A console that honours NO_COLOR, TERM=dumb and a redirected output. `plain`: no colour whatever the terminal."""
    console = Console(
        file=file, width=width, markup=False, emoji=False, highlight=False, soft_wrap=False,
        no_color=True if plain else None, color_system=None if plain else "auto",
    )  # fmt: skip
    if width is None and (not console.is_terminal or console.width > 100):
        console = Console(
            file=file, width=min(console.width, 100) if console.is_terminal else WIDTH, markup=False, emoji=False,
            highlight=False, no_color=True if plain else None, color_system=None if plain else "auto",
        )
    return console


def show(page: Page, console: Console) -> None:
    """Print a page."""
    for block in page:
        console.print(_rendered(block, console.width))


def plain_lines(page: Page, width: int = WIDTH) -> list[str]:
    """A page as text lines without colour and without blanks at their ends: for tests and for files."""
    out = StringIO()
    show(page, make_console(out, width, plain=True))
    return [line.rstrip() for line in out.getvalue().splitlines()]


def visible(text: str) -> str:
    """Text that cannot move a cursor or change a colour or direction: control and format characters are taken out."""
    return "".join(c if c == "\n" or unicodedata.category(c) not in ("Cc", "Cf", "Cs") else "?" for c in text)


def _rendered(block: Block, width: int) -> Padding | Text | Table:
    if isinstance(block, Gap):
        return Text("")
    if isinstance(block, Heading):
        return _heading(block, width)
    if isinstance(block, Para):
        return Padding(Text(visible(block.text), style=_STYLES[block.tone]), (0, 0, 0, block.indent))
    return Padding(_rows(block), (0, 0, 0, block.indent))


def _heading(block: Heading, width: int) -> Text:
    text = Text(visible(block.text), style=_STYLES[block.tone])
    if block.aside:
        room = width - len(block.text) - len(block.aside)
        text.append(" " * room if room >= 2 else "  ")
        text.append(visible(block.aside), style=_STYLES["quiet"])
    return text


def _rows(block: Rows) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0), collapse_padding=True)
    columns = max((len(row) for row in block.rows), default=0)
    for number in range(columns):
        table.add_column(max_width=block.first if number == 0 and columns > 1 else None, overflow="fold")
    for row in block.rows:
        cells = (*row, *[""] * (columns - len(row)))
        table.add_row(*(Text(visible(cell), style=_STYLES[block.tone]) for cell in cells))
    return table
