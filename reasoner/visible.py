"""Foreign text made harmless, in one place: all that reaches a terminal, a page, a drawing or a table passes here.

What anyone typed, and what a file holds, may carry characters that move a cursor, change a colour, turn the direction
of reading, start mark-up, or make a spreadsheet work something out. They are shown as `?` or a blank, or written out.
"""

from __future__ import annotations

import json
import re
from html import escape
from typing import Any, TextIO
from unicodedata import category

__all__ = ["Shown", "behind", "json_text", "markdown", "markup", "visible"]

_KEPT = frozenset("\n\t\f")  # what print may use between texts
_HARMFUL = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))  # control, format, surrogate, private, unassigned


def visible(text: str, instead: str = "?") -> str:
    """One line of text in which every control, direction or unassigned character is `instead`; a line break is a blank.

    >>> visible("a\\x1b[2Jb"), visible("two\\nlines"), visible("\\u202eesrever", "")
    ('a?[2Jb', 'two lines', 'esrever')
    """
    if text.isprintable():
        return text
    return "".join(" " if c == "\n" else instead if category(c) in _HARMFUL else c for c in text)


def markup(text: str) -> str:
    """Text fit to stand in HTML, SVG or XML, between tags or in a quoted attribute.

    >>> markup('<b>&"\\x00')
    '&lt;b&gt;&amp;&quot; '
    """
    return escape(visible(text, " "), quote=True)


_MARKDOWN = re.compile(r"([\\`*_{}\[\]<>#|~])|^(\s*)([-+=](?=\s|$)|\d+\.(?=\s|$)|[=@]|[-+](?![\d.,]+(?:\s|$)))")


def markdown(text: str) -> str:
    """Text fit to stand in Markdown, and in a spreadsheet it is pasted into: mark-up and formulas are written out.

    >>> markdown("*a* <b>"), markdown("=1+2"), markdown("- item"), markdown("-3 cm")
    ('\\\\*a\\\\* &lt;b&gt;', '\\\\=1+2', '\\\\- item', '-3 cm')
    """
    return _MARKDOWN.sub(_written_out, visible(text, " "))


def _written_out(match: re.Match[str]) -> str:
    if match[1]:
        return {"<": "&lt;", ">": "&gt;"}.get(match[1], "\\" + match[1])
    mark = match[3]
    return str(match[2]) + (mark[:-1] + "\\." if mark.endswith(".") else "\\" + mark)


def json_text(value: Any, indent: int | None = 1) -> str:
    """JSON with nothing lost and nothing harmful in it: such characters stand as escapes, letters as they are.

    >>> json_text({"a": "\\u202e\\u00e9"}, None)
    '{"a": "\\\\u202eé"}'
    """
    plain = json.dumps(value, indent=indent, ensure_ascii=False)
    if plain.isascii() and "\x7f" not in plain:
        return plain
    return "".join(c if c == "\n" or category(c) not in _HARMFUL else json.dumps(c)[1:-1] for c in plain)


class Shown:
    """Standard output or error while a command runs: whatever is printed passes `visible`; line breaks stay.

    The renderer, which makes its text visible itself and adds colour, writes to what is `behind`.
    """

    def __init__(self, stream: TextIO) -> None:
        """`stream`: what to write to in the end."""
        self.behind = stream

    def write(self, text: str) -> int:
        """Write text; its length."""
        self.behind.write(text if text.isprintable() else "".join(map(_shown, text)))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.behind, name)


def _shown(letter: str) -> str:
    return letter if letter in _KEPT else visible(letter)


def behind(stream: TextIO) -> TextIO:
    """The stream that takes escape sequences: for colour, a cleared screen, a moving bar."""
    return getattr(stream, "behind", stream)
