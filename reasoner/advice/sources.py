"""Says who: the basis of a number in words a reader can follow up."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.graph.knowledge import Knowledge

__all__ = ["basis_words", "cite"]

_WORDS = {"published": "published", "practice": "common practice", "recalled": "from memory, to be checked"}


def cite(knowledge: Knowledge, ident: str) -> str:
    """"Bachmann et al. 2003 (bachmann2003-oar-ankle)"; the id alone where the entry is not there."""
    entry = knowledge.evidence.get(ident)
    if entry is None:
        return ident
    authors = (entry.citation.authors or entry.citation.journal or "").split(",")
    first = authors[0].removesuffix(" et al.").strip() + (" et al." if len(authors) > 1 else "")
    year = f" {entry.citation.year}" if entry.citation.year else ""
    return f"{first}{year} ({ident})" if first else f"{ident}{year}"


def basis_words(knowledge: Knowledge, basis: str, evidence: Iterable[str] = ()) -> str:
    """Basis and sources in one phrase. An entry that is itself from memory or a teaching page says so."""
    said = []
    for ident in evidence:
        entry = knowledge.evidence.get(ident)
        weak = entry is not None and entry.quality != "published"
        said.append(cite(knowledge, ident) + (f" [{_WORDS[entry.quality]}]" if weak and entry is not None else ""))
    words = _WORDS.get(basis, basis)
    return f"{words}: {'; '.join(said)}" if said else words
