"""Documents through templates: text, Markdown, HTML. Sandboxed; everything that is filled in is escaped for its format.

A clinic's templates folder may hold a template of its own: `<kind>.<ext>.j2` (letter.txt.j2) comes first, then
`document.<ext>.j2`; a name that is not there falls back to the shipped one. Templates get one variable, `doc`.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reasoner.problems import InputRefused, Problem, one_line
from reasoner.reports.document import Document
from reasoner.visible import markdown, visible

if TYPE_CHECKING:
    from jinja2.sandbox import SandboxedEnvironment

__all__ = ["FORMATS", "WIDTH", "render"]

FORMATS: Mapping[str, str] = {"text": "txt", "markdown": "md", "html": "html"}
WIDTH = 80
PAGE = 58  # lines of a text page on A4 or Letter
_LOOSE = 14  # lines a page may be short of that, to end where a part ends
_HELD = "\u00a0"  # a blank at which no line is broken


def render(doc: Document, form: str, templates: Path | None = None) -> str:
    """The document as `text`, `markdown` or `html`. InputRefused if a clinic's template cannot be used."""
    from jinja2 import TemplateError
    from jinja2.exceptions import SecurityError

    ext = FORMATS[form]
    environment = _environment(ext, templates)
    try:
        template = environment.select_template([f"{doc.kind}.{ext}.j2", f"document.{ext}.j2"])
        made = template.render(doc=doc)
    except (TemplateError, SecurityError, TypeError, ValueError, ArithmeticError, LookupError, AttributeError,
            RecursionError, MemoryError) as error:
        name = getattr(error, "name", None) or f"{doc.kind}.{ext}.j2"
        line = getattr(error, "lineno", None) or 0
        message = f"the template cannot be used: {type(error).__name__}: {one_line(str(error), 120)}"
        hint = "mend it, or take it out of the folder"
        raise InputRefused([Problem("R-TEMPLATE", message, hint, str(name), line)]) from error
    return _paged(_tidy(made), doc) if form == "text" else _tidy(made) if form == "markdown" else made


def _environment(ext: str, templates: Path | None) -> SandboxedEnvironment:
    from jinja2 import ChoiceLoader, FileSystemLoader, PackageLoader, StrictUndefined
    from jinja2.exceptions import SecurityError
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    class Sandbox(ImmutableSandboxedEnvironment):
        """Arithmetic that would fill the memory or never end is refused too."""

        intercepted_binops = frozenset(("*", "**", "%"))

        def call_binop(self, context: Any, operator: str, left: Any, right: Any) -> Any:
            if operator == "**" or not _small(left, right) or (operator == "%" and not isinstance(left, int)):
                raise SecurityError(f"'{operator}' of these is not done in a template")
            return super().call_binop(context, operator, left, right)

    loaders: list[Any] = [FileSystemLoader(templates)] if templates is not None else []
    loaders.append(PackageLoader("reasoner.reports", "templates"))
    finalize: Callable[[Any], Any] = {"txt": _printable, "md": _markdown, "html": _printable}[ext]
    environment = Sandbox(
        loader=ChoiceLoader(loaders),
        autoescape=ext == "html",
        finalize=finalize,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["wrap"] = partial(_wrap)
    environment.filters["drawn"] = _drawn
    environment.filters["in_row"] = _in_row
    return environment


def _small(*parts: Any) -> bool:
    """Numbers of a page, and texts and lists of a line."""
    return all(abs(p) <= 1000 if isinstance(p, (int, float)) else len(p) <= 1000 for p in parts)


class _Made(str):
    """Text that is already in its format."""


def _printable(value: Any) -> Any:
    """Foreign text as one line of text: no control characters, no line breaks of its own."""
    if isinstance(value, _Made) or hasattr(value, "__html__") or not isinstance(value, str):
        return value
    return visible(value, " ")


def _markdown(value: Any) -> Any:
    """Foreign text with every character that Markdown or HTML reads as mark-up written out."""
    if isinstance(value, _Made) or not isinstance(value, str):
        return value
    return markdown(value)


def _wrap(text: str, first: str = "", rest: str = "", width: int = WIDTH) -> _Made:
    """A paragraph in lines of at most `width`, the first begun with `first`, the others with `rest`."""
    lines = textwrap.wrap(str(_printable(text)), width, initial_indent=first, subsequent_indent=rest)
    return _Made("\n".join(lines).replace(_HELD, " "))


def _in_row(pairs: Iterable[tuple[str, str]]) -> str:
    """Fields beside each other, a blank where the value is to be filled in; no line breaks inside one."""
    return "   ".join(f"{name}: {value or '_' * 10}".replace(" ", _HELD) for name, value in pairs)


def _drawn(svg: str) -> Any:
    """A drawing of our own as it is; only `Figure.svg` is given to it."""
    from markupsafe import Markup

    return Markup(svg)


def _tidy(text: str) -> str:
    lines = [line.rstrip() for line in text.splitlines()]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip("\n") + "\n"


def _paged(text: str, doc: Document) -> str:
    """An invented patient is marked on top of every page of a text; line one stays line one."""
    from reasoner.reports.dossier import INVENTED

    lines = text.rstrip("\n").splitlines()
    if not doc.invented:
        return text
    first, rest = (lines[:1], lines[1:]) if doc.first else ([], lines)
    marked = [*first, INVENTED]
    for number, page in enumerate(_pages(rest)):
        marked += ([f"\f{INVENTED}"] if number else []) + page
    return "\n".join([*marked, INVENTED]) + "\n"


def _pages(lines: list[str]) -> Iterable[list[str]]:
    """Cut at the last empty line near the foot, so that a heading stays with what it heads."""
    while len(lines) > PAGE - 2:
        near = range(PAGE - 2, PAGE - 2 - _LOOSE, -1)
        cut = next((n for n in near if not lines[n]), PAGE - 2)
        yield lines[:cut]
        lines = lines[cut:]
        while lines and not lines[0]:
            lines = lines[1:]
    yield lines
