"""Pages on a console: wrapped here, coloured by rich; readable without colour and with hostile text in them."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator
from io import StringIO
from typing import IO

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows, Tone
from reasoner.visible import behind, visible

__all__ = ["make_console", "plain_lines", "show"]

WIDTH = 80
WIDEST = 100  # longer lines are hard to read
GUTTER = 2
_STYLES: dict[Tone, str] = {"plain": "", "danger": "bold red", "caution": "yellow", "quiet": "dim", "strong": "bold"}


def make_console(file: IO[str] | None = None, width: int | None = None, *, plain: bool = False) -> Console:
    """A console that honours NO_COLOR, TERM=dumb and a redirected output. `plain`: no colour whatever the terminal."""
    console = Console(
        file=file if file is not None else behind(sys.stdout), width=width, markup=False, emoji=False, highlight=False,
        color_system=None if plain else "auto",
    )
    if width is None and not console.is_terminal:
        console.width = WIDTH
    return console


def show(page: Page, console: Console) -> None:
    """Print a page, at once: what says that something was recorded must not wait in a buffer."""
    for line in _lines(page, min(console.width, WIDEST)):
        console.print(line, soft_wrap=True)
    console.file.flush()


def plain_lines(page: Page, width: int = WIDTH) -> list[str]:
    """A page as text lines without colour: for tests and for files."""
    out = StringIO()
    show(page, make_console(out, width, plain=True))
    return out.getvalue().splitlines()


def _lines(page: Page, width: int) -> Iterator[Text]:
    for block in page:
        yield from _block(block, width)


def _block(block: Block, width: int) -> Iterator[Text]:
    if isinstance(block, Gap):
        yield Text("")
    elif isinstance(block, Heading):
        yield from _heading(block, width)
    elif isinstance(block, Para):
        for line in _wrapped(block.text, width - block.indent):
            yield Text(" " * block.indent + line, style=_STYLES[block.tone])
    else:
        yield from _rows(block, width)


def _heading(block: Heading, width: int) -> Iterator[Text]:
    """The aside on the right where there is room, else on a line of its own."""
    *before, last = _wrapped(block.text, width)
    yield from (Text(line, style=_STYLES[block.tone]) for line in before)
    text, aside = Text(last, style=_STYLES[block.tone]), visible(block.aside)
    room = width - cell_len(last) - cell_len(aside)
    if aside and room >= GUTTER:
        text.append(" " * room + aside, style=_STYLES["quiet"])
    yield text
    if aside and room < GUTTER:
        yield from (Text("  " + line, style=_STYLES["quiet"]) for line in _wrapped(block.aside, width - 2))


def _rows(block: Rows, width: int) -> Iterator[Text]:
    columns = max((len(row) for row in block.rows), default=0)
    rows = [[visible(cell) for cell in (*row, *[""] * (columns - len(row)))] for row in block.rows]
    widths = _widths(rows, columns, width - block.indent, block.first)
    for row in rows:
        cells = [_wrapped(cell, wide) for cell, wide in zip(row, widths, strict=True)]
        for number in range(max(map(len, cells), default=0)):
            parts = (cell[number] if number < len(cell) else "" for cell in cells)
            padded = (part + " " * (wide - cell_len(part)) for part, wide in zip(parts, widths, strict=True))
            yield Text((" " * block.indent + (" " * GUTTER).join(padded)).rstrip(), style=_STYLES[block.tone])


def _widths(rows: list[list[str]], columns: int, width: int, first: int) -> list[int]:
    """As wide as needed, the first at most `first`, those between at most a third; the last one takes what is left."""
    wanted = [max((cell_len(row[n]) for row in rows), default=1) for n in range(columns)]
    if columns < 2:
        return [width] * columns
    limits = [first, *[width // 3] * (columns - 2)]
    before = [max(1, min(w, limit)) for w, limit in zip(wanted[:-1], limits, strict=True)]
    return [*before, max(10, width - sum(before) - GUTTER * (columns - 1))]


def _wrapped(text: str, width: int) -> list[str]:
    """Lines of at most `width` letters; a long word is broken. Blanks at a line's beginning are kept."""
    shown = visible(text)
    lead = " " * (len(shown) - len(shown.lstrip(" ")))
    return textwrap.wrap(shown, max(width, 8), subsequent_indent=lead, break_on_hyphens=False) or [""]
