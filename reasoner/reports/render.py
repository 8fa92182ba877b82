"""A note's sections as plain text, 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from reasoner.reports.note import CAUTION, INVENTED, Section

__all__ = ["WIDTH", "plain_text"]

WIDTH = 80
_PAGE = 50  # lines: an invented patient is marked again at least this often


def plain_text(title: str, sections: Iterable[Section], *, invented: bool) -> str:
    """The note as text; a demo or practice trail is marked at the top, the end and on every page between."""
    lines = list(_lines(title, sections))
    if invented:
        for at in range(len(lines), -1, -_PAGE):
            lines.insert(at, INVENTED)
        lines = [INVENTED, *lines] if lines[0] != INVENTED else lines
    return "\n".join(lines) + "\n"


def _lines(title: str, sections: Iterable[Section]) -> Iterator[str]:
    yield title
    yield "=" * min(len(title), WIDTH)
    yield from textwrap.wrap(CAUTION, WIDTH)
    for section in sections:
        yield ""
        yield section.title
        for line in section.lines:
            indent = "    " if line.startswith("  ") else "  "
            yield from textwrap.wrap(line.strip(), WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")
