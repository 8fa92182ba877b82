"""One document of one kind in one format, as the bytes that leave; and the event that records that they did."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from reasoner.case.events import Exported
from reasoner.consult.recall import recall_lines
from reasoner.problems import InputRefused, Problem
from reasoner.reports.document import Bullets, Document, Section
from reasoner.reports.dossier import Dossier
from reasoner.reports.fhir.bundle import bundle
from reasoner.reports.handover import handover
from reasoner.reports.home import home_sheet
from reasoner.reports.letter import letter
from reasoner.reports.note import note
from reasoner.reports.record import record
from reasoner.reports.templates import PAGE, render
from reasoner.visible import json_text

__all__ = ["FORMATS", "KINDS", "Made", "make"]

Kind = Literal["note", "letter", "handover", "home", "html", "fhir", "json"]
KINDS: tuple[Kind, ...] = ("note", "letter", "handover", "home", "html", "fhir", "json")
FORMATS = ("text", "markdown", "html")
_LEAST, _MOST = 2, 12  # names in a list of a letter


@dataclass(frozen=True, slots=True)
class Made:
    """A finished document: its bytes, the event that records them, and remarks for the clinician who prints it."""

    text: str
    event: Exported
    remarks: tuple[str, ...] = ()


def make(d: Dossier, kind: str, form: str = "text", *, language: str = "en", icf: bool = False) -> Made:
    """The document. `form` is text, markdown or html and counts for the first four kinds only.

    InputRefused for a language without wording, a template that cannot be used, or a bundle that fails its own checks.
    """
    doc: Document | None = None
    if kind == "fhir":
        text = json_text(bundle(d, icf=icf)) + "\n"
    elif kind == "json":
        text = json_text(record(d)) + "\n"
    elif kind in _DOCUMENTS or kind in ("home", "letter", "html"):
        doc, text = _document(d, kind, "html" if kind == "html" else form, language)
    else:
        raise InputRefused([Problem("", f"there is no document {kind!r}", f"one of: {', '.join(KINDS)}")])
    digest = "sha256:" + hashlib.sha256(text.encode("utf-8")).hexdigest()
    options = doc.options if doc is not None else ()
    remarks = (*(doc.remarks if doc is not None else ()), *recall_lines(d.knowledge, d.state, d.advice, d.as_of))
    return Made(text, Exported(kind, digest, d.count, d.head, options), remarks)


_DOCUMENTS: Mapping[str, Callable[[Dossier], Document]] = {"note": note, "handover": handover, "html": note}


def _document(d: Dossier, kind: str, form: str, language: str) -> tuple[Document, str]:
    if kind == "home":
        doc = home_sheet(d, language)
    elif kind == "letter":
        return _one_page(d, form)
    else:
        doc = _DOCUMENTS[kind](d)
    return doc, render(doc, form, d.clinic.templates)


def _one_page(d: Dossier, form: str) -> tuple[Document, str]:
    """The fullest letter that still is one page of text; the rest stays in the note, and the letter says so."""
    for most in range(_MOST, _LEAST - 1, -1):
        doc = letter(d, most)
        if most < _MOST:
            doc = replace(doc, sections=(*doc.sections, Section("", (Bullets((_MORE,)),))))
        if _lines(doc) <= PAGE or most == _LEAST:
            break
    remarks = () if _lines(doc) <= PAGE else ("the letter is longer than one page: shorten your own words in it",)
    return replace(doc, remarks=remarks), render(doc, form, d.clinic.templates)


_MORE = "Shortened to one page; the visit note has the rest."


def _lines(doc: Document) -> int:
    return render(doc, "text").count("\n")
