"""A source must be one that can be looked up."""

from __future__ import annotations

import re
from collections.abc import Iterator

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack

__all__ = ["CHECKS"]

_DOI = re.compile(r"10\.\d{4,9}/\S+")
_JOURNAL = re.compile(r"10\.1016/[Ss]\d{4}-\d{3}[\dXx]")  # cut off before the bracket: names a journal, not a paper


@rule("K-DOI")
def doi_form(pack: Pack) -> Iterator[Spot]:
    """A DOI is cut short or is not one.

    It starts with 10. and a number, goes on after a slash without spaces, and has as many opening as closing brackets.
    One that ends where a bracket should open names a journal. Copy it again from the paper.
    """
    for entry in pack.records["evidence"]:
        doi = entry.citation.doi
        if doi is not None and not _whole(doi):
            yield Spot(entry, ("citation", "doi"), f"doi: found {doi}", "copy it whole, as in 10.1136/bmj.b2680")


def _whole(doi: str) -> bool:
    balanced = doi.count("(") == doi.count(")")
    return bool(_DOI.fullmatch(doi)) and balanced and not _JOURNAL.fullmatch(doi)


CHECKS: tuple[Check, ...] = (doi_form,)
