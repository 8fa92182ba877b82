"""Strict YAML: text in, plain values with the line of every key and list item out. The only module that uses yaml.

Read here and nowhere else, because YAML guesses: it turns `no` into false, `3:30` into 210 and `012` into 10. Here
`true`, `false`, `null`, plain whole and decimal numbers are values; everything else is text, and whatever another
reader would turn into something else is refused with how to write it instead. Keys are always text, and so is an
unquoted date (no field holds a date, so nothing is lost). Anchors, aliases, tags and second documents are refused.

Works on the parser's events rather than on its node tree: half the time, and no recursion to overflow.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from reasoner.graph.files import MOST_BYTES
from reasoner.problems import Problem, one_line

__all__ = ["READER_CODES", "Document", "FieldPath", "parse", "written"]

FieldPath = tuple[str | int, ...]

MOST_DEPTH = 40
MOST_PROBLEMS = 50  # of one file; more says nothing new

READER_CODES: Mapping[str, str] = {
    "Y-SYNTAX": "The file is not YAML. Most often: text with a colon and a space in it needs quotes, a bracket or "
    "quote is not closed, or lines of one entry are indented differently.",
    "Y-BYTES": "The file is not UTF-8 text, is empty, or is too large. Save it as UTF-8; one concept a file.",
    "Y-TAB": "A tab is used to indent. Indent with spaces, two a level.",
    "Y-CHARACTER": "A character that looks like a space or line end and is not one (often pasted from a PDF or "
    "a word processor). Type an ordinary space.",
    "Y-QUOTES": "Curly quotes are ordinary letters here. Use the straight quotes ' or \".",
    "Y-DUPLICATE": "The same key stands twice in one entry; one of them would be lost. Keep one.",
    "Y-WORD": "An unquoted word that YAML readers turn into true, false or null (yes, no, on, off, True, ~). Write "
    "true, false or null, or put the word in quotes if text is meant.",
    "Y-NUMBER": "An unquoted number that YAML readers disagree about (012, 3:30, 1e3, 1_000, 0x1F, 5., .nan). Write "
    "a plain number such as 12 or 0.35, or put it in quotes if text is meant.",
    "Y-ANCHOR": "Anchors (&name), aliases (*name), merge keys (<<) and tags (!name) are not used here. Write the "
    "entry out.",
    "Y-KEY": "A key is not plain text. Write `key: value`.",
    "Y-DEPTH": "The entry is nested deeper than any real one.",
    "Y-DOCUMENTS": "More than one document in the file (a line `---`). Use one file each, or a list.",
}


@dataclass(frozen=True, slots=True)
class Document:
    """What one file holds. `lines` has the 1-based line of each field path; the empty path is the whole."""

    file: str
    value: Any
    lines: Mapping[FieldPath, int]


def parse(data: bytes, file: str) -> tuple[Document | None, list[Problem]]:
    """Read one file's bytes. None when nothing usable could be read; problems are in the order found."""
    text, problems = _decoded(data, file)
    if text is None:
        return None, problems
    problems += _odd_characters(text, file)
    builder = _Builder(file)
    try:
        builder.run(_parser(text))
    except yaml.MarkedYAMLError as error:
        problem = _syntax(error, text, file)
        known = {(p.code, p.line) for p in problems}
        return None, problems + builder.problems + ([] if (problem.code, problem.line) in known else [problem])
    except yaml.YAMLError as error:
        return None, problems + builder.problems + [Problem("Y-SYNTAX", _first_line(str(error)), file=file)]
    problems += builder.problems
    if builder.stopped:
        return None, problems
    return Document(file, builder.value, builder.lines), problems


def written(value: Any) -> str:
    """A value as YAML that this reader gives back unchanged: text that could be misread stands in quotes."""
    text: str = yaml.safe_dump(value, sort_keys=False, allow_unicode=True, width=110)
    return text


def _parser(text: str) -> Any:
    """The libyaml parser, or the Python one where libyaml is not built in (five times slower, same events)."""
    if getattr(yaml, "__with_libyaml__", False):
        return yaml.CSafeLoader(text)
    return yaml.SafeLoader(text)


# ------------------------------------------------------------------------------------------------ characters

_ODD = {
    "\u00a0": "a non-breaking space", "\u202f": "a narrow non-breaking space", "\u2007": "a figure space",
    "\u200b": "a zero-width space", "\ufeff": "a byte order mark", "\u2028": "a line separator",
    "\u2029": "a paragraph separator", "\u0085": "a next-line character", "\u200e": "a direction mark",
    "\u200f": "a direction mark",
}  # fmt: skip
_ODD_PATTERN = re.compile("[" + "".join(_ODD) + "]")
_TAB_INDENT = re.compile(r"^ *\t[ \t]*(?=\S)", re.MULTILINE)


def _decoded(data: bytes, file: str) -> tuple[str | None, list[Problem]]:
    if len(data) > MOST_BYTES:
        size = f"{len(data) / 1e6:.1f} MB"
        return None, [Problem("Y-BYTES", f"found {size}; the most is {MOST_BYTES / 1e6:.0f} MB", file=file)]
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return None, [Problem("Y-BYTES", "found UTF-16 text", "save the file as UTF-8", file, 1)]
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]  # some editors put a mark in front of UTF-8; it means nothing
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"found a byte that is not UTF-8 (0x{data[error.start]:02x})"
        return None, [Problem("Y-BYTES", found, "save the file as UTF-8", file, line)]


def _odd_characters(text: str, file: str) -> list[Problem]:
    """Look-alike spaces outside comments, and tabs used to indent. One problem a line."""
    problems: dict[int, Problem] = {}
    if not text.isascii():
        for match in _ODD_PATTERN.finditer(text):
            start = text.rfind("\n", 0, match.start()) + 1
            line = text.count("\n", 0, start) + 1
            if not text[start : match.start()].lstrip().startswith("#"):
                found = f"found {_ODD[match.group()]}"
                problems.setdefault(line, Problem("Y-CHARACTER", found, "type an ordinary space", file, line))
    if "\t" in text:
        for match in _TAB_INDENT.finditer(text):
            if text[match.end()] != "#":
                line = text.count("\n", 0, match.start()) + 1
                problems.setdefault(
                    line, Problem("Y-TAB", "found a tab before the text", "indent with spaces", file, line)
                )
    return list(problems.values())[:MOST_PROBLEMS]


# ------------------------------------------------------------------------------------------------ scalars

_WORDS: dict[str, Any] = {"true": True, "false": False, "null": None, "": None}
_REFUSED_WORDS = {
    form: meant
    for meant, words in {"true": "yes on", "false": "no off"}.items()
    for word in words.split()
    for form in (word, word.capitalize(), word.upper())
} | {"True": "true", "TRUE": "true", "False": "false", "FALSE": "false", "Null": "null", "NULL": "null", "~": "null"}
_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,14})\Z")
_FLOAT = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,14})?\.[0-9]{1,20}\Z")
_NUMBER_TRAP = re.compile(
    r"""[-+]?(?:
      [0-9][0-9_]*(?::[0-5]?[0-9])+(?:\.[0-9]*)?    # 3:30 read as minutes and seconds
    | 0[0-9_]+(?:\.[0-9]*)?                         # 012 read as octal
    | [0-9][0-9_]*\.?[0-9_]*[eE][-+]?[0-9]+         # 1e3
    | [0-9]+_[0-9_.]*                               # 1_000
    | 0x[0-9a-fA-F_]+ | 0b[01_]+ | 0o[0-7_]+
    | [0-9]+\.                                      # 5.
    | [0-9]{16,}(?:\.[0-9]*)? | [0-9]*\.[0-9]{21,}  # more digits than a number can hold
    | \.(?:inf|Inf|INF|nan|NaN|NAN) | (?:inf|nan|NaN|Inf|Infinity)
    )\Z""",
    re.VERBOSE,
)
_NUMBER_START = frozenset("0123456789+-.iInN")
_CURLY = frozenset("“”„‟‘’‚«»")


class _Refused(Exception):
    """A scalar that must be written differently."""

    def __init__(self, code: str, found: str, hint: str) -> None:
        self.code, self.found, self.hint = code, found, hint


def _plain(text: str) -> Any:
    """The value of an unquoted scalar. Raises _Refused(code, found, hint) for what readers disagree about."""
    if text in _WORDS:
        return _WORDS[text]
    if text in _REFUSED_WORDS:
        raise _Refused("Y-WORD", f"found {text}", f'write {_REFUSED_WORDS[text]}, or "{text}" if text is meant')
    first = text[0]
    if first in _NUMBER_START:
        if _INT.match(text):
            return int(text)
        if _FLOAT.match(text):
            return float(text)
        if _NUMBER_TRAP.match(text):
            shown = one_line(text)
            raise _Refused("Y-NUMBER", f"found {shown}", f'write a plain number, or "{shown}" if text is meant')
    elif first in _CURLY:
        raise _Refused("Y-QUOTES", f"found {one_line(text)}", "use straight quotes: \" or '")
    return text


# ------------------------------------------------------------------------------------------------ events

_STRING_TAG = "tag:yaml.org,2002:str"


@dataclass(slots=True)
class _Frame:
    """A mapping or list being filled."""

    holder: Any
    path: FieldPath
    key: str | None = None  # of a mapping: the key waiting for its value
    key_lines: dict[str, int] = field(default_factory=dict)


class _Builder:
    """Turns parser events into one value. Keeps going after a problem, so that all are told at once."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.value: Any = None
        self.lines: dict[FieldPath, int] = {}
        self.problems: list[Problem] = []
        self.stopped = False
        self._frames: list[_Frame] = []
        self._documents = 0

    def run(self, parser: Any) -> None:
        """Read events until the end of the stream or a problem that leaves nothing to read."""
        while not self.stopped:
            event = parser.get_event()
            kind = type(event)
            if kind is yaml.ScalarEvent:
                self._scalar(event)
            elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
                self._open(event, {} if kind is yaml.MappingStartEvent else [])
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                self._frames.pop()
            elif kind is yaml.AliasEvent:
                self._say("Y-ANCHOR", f"found *{event.anchor}", "write the entry out", event)
                self._add(None, event)
            elif kind is yaml.DocumentStartEvent:
                self._documents += 1
                if self._documents > 1:
                    self._stop("Y-DOCUMENTS", "found a second document", "use one file each, or a list", event)
            elif kind is yaml.StreamEndEvent:
                break

    def _say(self, code: str, found: str, hint: str, event: Any) -> None:
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(code, found, hint, self.file, event.start_mark.line + 1))

    def _stop(self, code: str, found: str, hint: str, event: Any) -> None:
        self._say(code, found, hint, event)
        self.stopped = True

    def _marks(self, event: Any) -> None:
        """Refuse anchors and tags."""
        if event.anchor is not None:
            self._say("Y-ANCHOR", f"found &{event.anchor}", "write the entry out", event)
        if event.tag is not None and event.tag not in (_STRING_TAG, "!"):
            self._say("Y-ANCHOR", f"found the tag {event.tag}", "leave the tag out", event)

    def _scalar(self, event: Any) -> None:
        if event.anchor is not None or event.tag is not None:
            self._marks(event)
        text: str = event.value
        frame = self._frames[-1] if self._frames else None
        if frame is not None and type(frame.holder) is dict and frame.key is None:
            self._key(frame, text, event)
            return
        value: Any = text
        if event.implicit[0] and not event.style:
            try:
                value = _plain(text)
            except _Refused as refused:
                self._say(refused.code, refused.found, refused.hint, event)
        self._add(value, event)

    def _key(self, frame: _Frame, text: str, event: Any) -> None:
        line = event.start_mark.line + 1
        if text in frame.key_lines:
            before = frame.key_lines[text]
            self._say("Y-DUPLICATE", f"found {one_line(text)} twice (also on line {before})", "keep one", event)
        else:
            frame.key_lines[text] = line
            self.lines[(*frame.path, text)] = line
        if text == "<<":
            self._say("Y-ANCHOR", "found <<", "write the entry out", event)
        elif text[:1] in _CURLY:
            self._say("Y-QUOTES", f"found {one_line(text)}", "use straight quotes: \" or '", event)
        elif not text:
            self._say("Y-KEY", "found an empty key", "write key: value", event)
        frame.key = text

    def _open(self, event: Any, holder: Any) -> None:
        if event.anchor is not None or event.tag is not None:
            self._marks(event)
        frame = self._frames[-1] if self._frames else None
        if frame is not None and type(frame.holder) is dict and frame.key is None:
            self._stop("Y-KEY", "found a list or mapping as a key", "write key: value", event)
            return
        if len(self._frames) >= MOST_DEPTH:
            self._stop("Y-DEPTH", f"found more than {MOST_DEPTH} levels", "flatten the entry", event)
            return
        path = self._add(holder, event)
        self._frames.append(_Frame(holder, path))

    def _add(self, value: Any, event: Any) -> FieldPath:
        """Put a value where it belongs; its field path."""
        if not self._frames:
            self.value = value
            self.lines[()] = event.start_mark.line + 1
            return ()
        frame = self._frames[-1]
        if type(frame.holder) is list:
            path = (*frame.path, len(frame.holder))
            self.lines[path] = event.start_mark.line + 1
            frame.holder.append(value)
            return path
        if frame.key is None:  # an alias in a key's place
            frame.key = ""
            return frame.path
        path = (*frame.path, frame.key)
        frame.holder.setdefault(frame.key, value)  # of a key given twice the first stays
        frame.key = None
        return path


# ------------------------------------------------------------------------------------------------ syntax errors

_SYNTAX_HINTS = (
    ("mapping values are not allowed", 'text with ": " in it needs quotes, or a line is indented too far'),
    ("could not find expected ':'", "write key: value; a line of text that goes on must be indented"),
    ("did not find expected key", "lines of one entry start in the same column; text may need quotes"),
    ("did not find expected '-'", "every item of a list starts with - in the same column"),
    ("did not find expected ',' or", "close the bracket, or put a comma between items"),
    ("expected ',' or", "put text with ? or : in it in quotes, or close the bracket"),
    ("found unexpected end of stream", "a quote is opened and not closed"),
    ("unexpected end of document", "a quote is opened and not closed"),
    ("cannot start any token", "put the text in quotes"),
    ("did not find expected alphabetic", "put the text in quotes"),
    ("unknown escape", "use single quotes, or write \\\\ for a backslash"),
    ("expected the node content", "put the text in quotes, or give the value"),
    ("did not find expected node content", "put the text in quotes, or give the value"),
    ("block sequence entries are not allowed", "start the list on a new line under its key"),
    ("undefined tag", "put the text in quotes"),
    ("did not find expected <document start>", "lines of one entry start in the same column"),
)


def _syntax(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    """A parser's complaint in plain words, on the line where it was noticed."""
    what = str(error.problem or error.context or "cannot be read")
    mark = error.problem_mark or error.context_mark
    line = mark.line + 1 if mark is not None else 0
    if "end of stream" in what and error.context_mark is not None:
        line = error.context_mark.line + 1  # where the quote was opened says more than where the file ends
    lines = text.splitlines()
    shown = lines[line - 1] if 0 < line <= len(lines) else ""
    if "\t" in shown[: len(shown) - len(shown.lstrip())]:
        return Problem("Y-TAB", "found a tab before the text", "indent with spaces", file, line)
    hint = next((hint for start, hint in _SYNTAX_HINTS if start in what), "see the lines around it")
    return Problem("Y-SYNTAX", f"cannot be read here: {what}", hint, file, line)


def _first_line(text: str) -> str:
    return text.strip().splitlines()[0] if text.strip() else "cannot be read"
