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


def render(doc: Document, form: str, templates: Path | None = None) -> str:
    """The document as `text`, `markdown` or `html`. InputRefused if a clinic's template cannot be used."""
    from jinja2 import TemplateError
    from jinja2.exceptions import SecurityError

    ext = FORMATS[form]
    environment = _environment(ext, templates)
    try:
        template = environment.select_template([f"{doc.kind}.{ext}.j2", f"document.{ext}.j2"])
        made = template.render(doc=doc)
    except (TemplateError, SecurityError, TypeError, ArithmeticError, LookupError, AttributeError) as error:
        name = getattr(error, "name", None) or f"{doc.kind}.{ext}.j2"
        line = getattr(error, "lineno", None) or 0
        message = f"the template cannot be used: {type(error).__name__}: {one_line(str(error), 120)}"
        hint = "mend it, or take it out of the folder"
        raise InputRefused([Problem("R-TEMPLATE", message, hint, str(name), line)]) from error
    return _paged(_tidy(made), doc) if form == "text" else _tidy(made) if form == "markdown" else made


def _environment(ext: str, templates: Path | None) -> SandboxedEnvironment:
    from jinja2 import ChoiceLoader, FileSystemLoader, PackageLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    loaders: list[Any] = [FileSystemLoader(templates)] if templates is not None else []
    loaders.append(PackageLoader("reasoner.reports", "templates"))
    finalize: Callable[[Any], Any] = {"txt": _printable, "md": _markdown, "html": _printable}[ext]
    environment = ImmutableSandboxedEnvironment(
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
    return _Made("\n".join(textwrap.wrap(str(_printable(text)), width, initial_indent=first, subsequent_indent=rest)))


def _in_row(pairs: Iterable[tuple[str, str]]) -> str:
    """Fields beside each other, a blank where the value is to be filled in."""
    return "   ".join(f"{name}: {value or '_' * 10}" for name, value in pairs)


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
    pages = [rest[n : n + PAGE - 2] for n in range(0, len(rest), PAGE - 2)] or [[]]
    marked = [*first, INVENTED]
    for number, page in enumerate(pages):
        marked += ([f"\f{INVENTED}"] if number else []) + page
    return "\n".join([*marked, INVENTED]) + "\n"
