"""Taking a person's words out of a case for good, and looking whether they still stand anywhere in the state folder.

The line keeps its salted hash, the words and the salt go; the removal is an event with who, when and why. Copies made
elsewhere (documents handed out, packs) are beyond reach: they are named, so that somebody can deal with them.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.trail.files import read_regular, refusing
from reasoner.trail.line import Entry
from reasoner.trail.text import CHANGED, MISSING, REMOVED

__all__ = ["standing", "still_in", "to_remove"]

_OURS = ("archive", "cache")  # knowledge: no patient's words, and too much to look through
_LARGEST = 100_000_000
_LEAST = 4  # shorter words stand everywhere and tell nobody anything


def standing(entry: Entry) -> dict[str, str]:
    """The words of a line that are there: name -> words, without those removed, missing or changed."""
    return {name: words for name, words in entry.texts.items() if words not in (REMOVED, MISSING, CHANGED)}


def to_remove(entries: Sequence[Entry], seq: int, names: Sequence[str], why: str) -> dict[str, str]:
    """Name -> words of the texts meant: those `names` of line `seq`, or all of it if none is named.

    InputRefused if there are none, no reason is given, or the reason repeats the words.
    """
    entry = entries[seq - 1] if 1 <= seq <= len(entries) else None
    known = entry.text_hashes if entry else {}
    chosen = list(names) or list(known)
    lacking = [name for name in chosen if name not in known]
    if entry is None or lacking or not chosen:
        message = f"number {seq} has no text {', '.join(map(ascii, lacking)) or 'at all'}"
        raise InputRefused([Problem("T-TEXT", message, f"it has: {', '.join(known) or 'none'}")])
    if not any(c.isalpha() for c in why):
        raise InputRefused([Problem("T-TEXT", "a removal needs a reason", "add: --why WORDS")])
    there = standing(entry)
    words = {name: there.get(name, "") for name in chosen}
    if any(len(w) >= _LEAST and w.casefold() in why.casefold() for w in words.values()):
        raise InputRefused([Problem("T-TEXT", "the reason repeats the words that are to go", "say it without them")])
    return words


def still_in(home: Path, words: Iterable[str]) -> list[Path]:
    """Files of the state folder in which any of these words still stand, as bytes or as JSON writes them."""
    sought = {form for w in words if len(w) >= _LEAST for form in _forms(w)}
    found = []
    for folder, folders, files in os.walk(home):
        if Path(folder) == home:
            folders[:] = [name for name in folders if name not in _OURS]
        for name in files:
            path = Path(folder, name)
            with refusing(path, "look for the words"):
                data = read_regular(path, _LARGEST)
            if any(form in data for form in sought):
                found.append(path)
    return sorted(found)


def _forms(words: str) -> tuple[bytes, ...]:
    return words.encode(), json.dumps(words, ensure_ascii=False)[1:-1].encode(), json.dumps(words)[1:-1].encode()
