"""A typed line in pieces: control characters out, chunks at commas and semicolons, words, marks."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from reasoner.case.state import Value
from reasoner.prompt.parsed import Refused

__all__ = ["MARKS", "NUMBER", "SIDES", "chunks", "clean", "is_sureness", "split_reason", "words"]

LONGEST = 5000
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\uff0d\ufe63", "-") | {
    "\u00a0": " ", "\u202f": " ", "\u2018": "'", "\u2019": "'", "\u201c": '"', "\u201d": '"', "\uff0b": "+",
})  # fmt: skip
MARKS: Mapping[str, Value] = {
    "+": "present", "yes": "present", "present": "present", "positive": "present", "y": "present",
    "-": "absent", "no": "absent", "absent": "absent", "negative": "absent", "n": "absent", "none": "absent",
    "?": "unknown", "unknown": "unknown",
}  # fmt: skip
SIDES = {"l": "left", "left": "left", "r": "right", "right": "right", "both": "both"}
NUMBER = re.compile(r"[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")
_SURE = re.compile(r"~(\d*\.?\d+)")
_CHUNK = re.compile(r";|,(?!\d)|(?<!\d),")  # not the comma inside 4,5: the measures decide about that one
_STUCK = re.compile(r"([a-z)].*?)([+?]|-)")


def clean(line: str) -> str:
    """Without control and direction characters, with one kind of dash, blank and quote. Refused if far too long."""
    if len(line) > LONGEST:
        raise Refused(f"a line of {len(line)} letters", f"at most {LONGEST}; split it")
    kept = (" " if c in "\t\r\n" else c for c in line if c in "\t\r\n" or unicodedata.category(c) not in _UNSEEN)
    return "".join(kept).translate(_DASHES).strip()


_UNSEEN = ("Cc", "Cf", "Cs", "Co", "Cn")


def chunks(line: str) -> list[str]:
    """Parts between commas and semicolons, empty ones left out."""
    return [part.strip() for part in _CHUNK.split(line) if part.strip()]


def words(chunk: str) -> list[str]:
    """Words and marks in lower case; a mark stuck to the end of a word is taken off (`swelling+`, `pinch?`)."""
    found: list[str] = []
    for word in chunk.lower().split():
        stuck = _STUCK.fullmatch(word)
        found += [stuck[1], stuck[2]] if stuck else [word]
    return found


def is_sureness(word: str) -> float | None:
    """`~.7` as a number; None if it is none. Refused outside 0 to 1."""
    match = _SURE.fullmatch(word)
    if match is None:
        return None
    value = float(match[1])
    if not 0 < value < 1:
        raise Refused(f"{word}: a sureness lies between 0 and 1", "write ~.7, or + or -")
    return value


def split_reason(text: str) -> tuple[str, str]:
    """(what stands before `because`, the reason after it)."""
    match = re.search(r"\bbecause\b[:,]?", text, re.IGNORECASE)
    if match is None:
        return text.strip(), ""
    return text[: match.start()].strip(" ,;"), text[match.end() :].strip()
