"""Blocks of answers and measures in one line: `NAME - NAME - NAME ?`, `MEASURE L 3 3.5 R 9 9.5 set-up`.

A name is taken only where it is exact. What is left over is never passed over: it is refused or asked about.
"""

from __future__ import annotations

import re

from reasoner.case.state import Side, Value
from reasoner.consult.commands import Answer, Command, Measure
from reasoner.measures.entry import parse_trials
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Refused
from reasoner.prompt.tokens import MARKS, NUMBER, SIDES, is_sureness, words

__all__ = ["item_commands", "measure_commands", "trials"]

_SAY = "write + present, - absent, ? not known, ~.7 not sure"


def item_commands(chunk: str, lexicon: Lexicon, reason: str = "") -> tuple[Command, ...]:
    """Every answer and measure of a chunk, in order. Raises Refused or Unclear; then nothing of it counts."""
    tokens = words(chunk)
    found: list[Command] = []
    at = 0
    while at < len(tokens):
        if found and not any(_is_mark(t) or NUMBER.match(t) for t in tokens[at:]):
            rest = " ".join(tokens[at:])
            hint = f"what is more to say goes behind because: {' '.join(tokens[:at])} because {rest}"
            raise Refused(f"'{rest}' is left over", hint)
        read = _measure_at(tokens, at, lexicon) or _answer_at(tokens, at, lexicon, reason)
        found += read[0]
        at = read[1]
    return tuple(found)


def measure_commands(text: str, lexicon: Lexicon) -> tuple[Measure, ...]:
    """Measures only. Raises Refused where something else stands there."""
    found = []
    tokens, at = words(text), 0
    while at < len(tokens):
        read = _measure_at(tokens, at, lexicon)
        if read is None:
            stop = next((i for i in range(at + 1, len(tokens)) if NUMBER.match(tokens[i])), len(tokens))
            lexicon.find("measure", " ".join(t for t in tokens[at:stop] if t not in SIDES))
            raise Refused(f"'{' '.join(tokens[at:stop])}': no number", "write the measure and its number: NAME L 4 4.5")
        found += read[0]
        at = read[1]
    return tuple(found)


# ------------------------------------------------------------------------------------------------ measures


def _measure_at(tokens: list[str], at: int, lexicon: Lexicon) -> tuple[list[Measure], int] | None:
    """A measure that begins here: (commands, where the next item begins); None if none does."""
    named = _measure_name(tokens, at, lexicon)
    if named is None:
        return None
    ident, start = named
    end = _end_of_measure(tokens, start, lexicon)
    return list(trials(ident, " ".join(tokens[start:end]), lexicon)), end


def _measure_name(tokens: list[str], at: int, lexicon: Lexicon) -> tuple[str, int] | None:
    """(measure, position after its name), if a number for it follows."""
    named = lexicon.longest("measure", tokens[at:])
    if named is None:
        named = _function_words(tokens[at:], lexicon)
    if named is None:
        return None
    ident, count = named
    start = at + count
    following = next((t for t in tokens[start:] if t not in SIDES and not _is_tool(t, ident, lexicon)), "")
    return (ident, start) if NUMBER.match(following.lstrip("lr:=")) else None


def _function_words(tokens: list[str], lexicon: Lexicon) -> tuple[str, int] | None:
    """The function to be retested goes by the patient's own words, or some of them: `stairs 6`."""
    function, said = lexicon.knowledge.region.function_sign, lexicon.state.function_words
    own = {w for w in re.findall(r"[^\W\d_]+", said.lower()) if len(w) > 2}
    count = next((i for i, t in enumerate(tokens) if t not in own), len(tokens))
    return (function, count) if function and own and count else None


def _is_tool(token: str, measure: str, lexicon: Lexicon) -> bool:
    tools = lexicon.knowledge.measures[measure].tools
    return any(token in (t.id, *t.id.split("_"), *(a.lower() for a in t.aliases)) for t in tools)


def _end_of_measure(tokens: list[str], start: int, lexicon: Lexicon) -> int:
    """Where this measure's numbers, units and set-up words end and the next item begins."""
    seen_number = False
    for i in range(start, len(tokens)):
        if NUMBER.match(tokens[i].lstrip("lr:=")):
            seen_number = True
        elif seen_number and tokens[i] not in SIDES and _item_begins(tokens, i, lexicon):
            return i
    return len(tokens)


def _item_begins(tokens: list[str], at: int, lexicon: Lexicon) -> bool:
    if _measure_name(tokens, at, lexicon) is not None:
        return True
    mark = next((i for i in range(at, len(tokens)) if _is_mark(tokens[i])), None)
    if mark is None or mark == at:
        return False
    name, _ = _name_and_side(tokens[at:mark])
    return lexicon.exact("finding", name) is not None


def trials(ident: str, text: str, lexicon: Lexicon) -> tuple[Measure, ...]:
    """Numbers typed for one measure. Ratings without a side are the case side's; the tool stays what it was."""
    record = lexicon.knowledge.measures[ident]
    side = lexicon.state.context.side if record.kind in ("pain", "function") else None
    before = [m.tool for m in lexicon.state.measurements if m.measure == ident and m.visit == lexicon.state.visit]
    given, problems = parse_trials(
        text, record, side if side in ("left", "right") else None, before[-1] if before else None
    )
    errors = [p for p in problems if p.level == "error"]
    if errors:
        said = errors[0].message
        said = said if record.name in said else f"{record.name}: {said}"
        raise Refused(said, errors[0].hint, errors[0].code)
    return tuple(Measure(ident, t.values, t.side, t.tool, t.setup) for t in given)


# ------------------------------------------------------------------------------------------------ answers


def _is_mark(token: str) -> bool:
    return token in MARKS or token.startswith("~")


def _answer_at(tokens: list[str], at: int, lexicon: Lexicon, reason: str) -> tuple[list[Command], int]:
    """A finding and its mark, or `no NAME`."""
    mark = next((i for i in range(at, len(tokens)) if _is_mark(tokens[i])), None)
    if mark == at:
        return _no_finding(tokens, at, lexicon, reason)
    if mark is None:
        raise _unmarked(tokens[at:], lexicon)
    name, side = _name_and_side(tokens[at:mark])
    if not name:
        raise Refused(f"'{' '.join(tokens[at : mark + 1])}': of what?", _SAY)
    if lexicon.exact("finding", name) is None and any(NUMBER.match(t) for t in tokens[at:mark]):
        raise _unmarked(tokens[at:mark], lexicon)
    ident = lexicon.find("finding", name)
    end = mark + 1
    if side is None and end < len(tokens) and tokens[end] in SIDES and _side_ends_here(tokens, end):
        side, end = SIDES[tokens[end]], end + 1
    return [_marked(ident, tokens[mark], side, reason)], end


def _side_ends_here(tokens: list[str], at: int) -> bool:
    """`pinch + left`: a side after the mark belongs to it only where nothing follows."""
    return at + 1 == len(tokens)


def _marked(ident: str, token: str, side: str | None, reason: str) -> Answer:
    sure = is_sureness(token) if token.startswith("~") else None
    if token.startswith("~") and sure is None:
        raise Refused(f"'{token}' is not a sureness", "write for example ~.7")
    value: Value = "present" if sure is not None and sure >= 0.5 else "absent"
    if sure is None:
        value = MARKS[token]
    return Answer(ident, value, _SIDE_NAMES[side] if side else None, sure, reason)


_SIDE_NAMES: dict[str, Side] = {"left": "left", "right": "right", "both": "both"}


def _no_finding(tokens: list[str], at: int, lexicon: Lexicon, reason: str) -> tuple[list[Command], int]:
    """`no swelling`; any other mark in front of its name is refused."""
    if tokens[at] != "no":
        raise Refused(f"'{tokens[at]}' stands before any name", "write the name first: swelling +")
    stop = next((i for i in range(at + 1, len(tokens)) if _is_mark(tokens[i])), len(tokens))
    name, side = _name_and_side(tokens[at + 1 : stop])
    if stop < len(tokens) and tokens[stop] != "no":
        raise Refused(f"'{' '.join(tokens[at : stop + 1])}' can be read in two ways", "write: swelling -")
    answer = Answer(lexicon.find("finding", name), "absent", _SIDE_NAMES[side] if side else None, None, reason)
    return [answer], stop


def _name_and_side(tokens: list[str]) -> tuple[str, str | None]:
    sides = [SIDES[t] for t in tokens if t in SIDES]
    if len(set(sides)) > 1:
        raise Refused(f"'{' '.join(tokens)}': two sides", "write one answer for each side")
    return " ".join(t for t in tokens if t not in SIDES), sides[0] if sides else None


def _unmarked(tokens: list[str], lexicon: Lexicon) -> Exception:
    """Words with no mark: what to write, or that they are not known."""
    said = " ".join(tokens)
    number = next((i for i, t in enumerate(tokens) if NUMBER.match(t)), None)
    if number is not None:
        name, _ = _name_and_side(tokens[:number])
        if lexicon.exact("finding", name):
            return Refused(f"'{said}': {name} is not a measure", _SAY)
        try:
            lexicon.find("measure", name) if name else None
        except Exception as unclear:  # Unclear with proposals, or Refused
            return unclear
        return Refused(f"'{said}': which measure?", "write its name before the number: NAME L 4 4.5")
    name, _ = _name_and_side(tokens)
    if lexicon.exact("finding", name):
        return Refused(f"{name}: present or absent?", _SAY)
    if lexicon.exact("measure", name):
        return Refused(f"{name}: no number", "write it with its side: NAME L 4 4.5 R 9 9.5")
    near = [c.name for kind in ("finding", "measure") for c in lexicon.near(kind, name)][:3]
    hint = f"nearest: {', '.join(near)}" if near else "help shows what can be typed"
    return Refused(f"'{said}' is not understood", hint)


