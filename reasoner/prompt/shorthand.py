"""A typed line -> commands or something to look at. The same line means the same in a terminal and in a script,
except that a script has no current question: there every answer names what it is about."""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches

from reasoner.case.state import CaseState, Value
from reasoner.consult import commands as c
from reasoner.consult.agenda import Ask
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import nearest
from reasoner.prompt import course_verbs as course
from reasoner.prompt.context_words import age_and_sex, context_commands, duration, who_shortly
from reasoner.prompt.items import item_commands, trials
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Line, Refused, Unclear, View
from reasoner.prompt.tokens import MARKS, NUMBER, SIDES, chunks, clean, is_sureness, split_reason, words
from reasoner.prompt.verbs import VERBS, irritability, judgement, split_verb, verb_line

__all__ = ["accepted", "parse"]

_BARE: Mapping[str, Value] = {
    **MARKS,
    "none of those": "absent", "none of these": "absent", "no none": "absent", "don't know": "unknown",
    "dont know": "unknown", "not known": "unknown",
}  # fmt: skip
_BLANKET = re.compile(
    r"(?:(?:no|nil|none|-|n|negative)\s+)?(?:(?:to|for)\s+)?"
    r"(?:all|everything|red flags?|flags?|danger signs?|(?:all|any) of (?:them|those|these)|nad|nil"
    r"|all (?:no|clear|negative))"
)  # however it is said: never one answer to several questions that were not shown
_AGO = re.compile(r"\b(ago|since|yesterday)\b|/(7|52|12)\b")
_NAMED_FACT = re.compile(r"(age|sex|side|setting|orders)\s+\S+$", re.IGNORECASE)  # never meant as a story


def parse(
    line: str,
    knowledge: Knowledge,
    state: CaseState,
    ask: Ask | None = None,
    chosen: Mapping[tuple[str, str], str] | None = None,
) -> Line:
    """Read one line. `ask` is the current question, None in a script. Empty means nothing, always.

    Raises Refused (nothing of the line counts) or Unclear (a near name: one of its candidates may be chosen).
    """
    text = clean(line)
    if not text:
        return Line()
    lexicon = Lexicon(knowledge, state, chosen or {})
    if ask is not None:
        answered = _answer_to(ask, text, lexicon)
        if answered is not None:
            return answered
    if ask is not None and ask.kind == "text" and _is_story(text, lexicon):
        return _own_words(ask, text, lexicon)
    found = verb_line(text, lexicon)
    if found is not None:
        return found
    if ask is not None and ask.kind == "text" and not _NAMED_FACT.match(text):
        return _own_words(ask, text, lexicon)
    if ask is not None and ask.kind == "judgement" and not _is_block(text):
        return Line((judgement(text, lexicon),))
    if ask is not None and ask.kind == "irritability" and re.search(r"\d|little|some|much|lot", text):
        return Line((irritability(text),))
    if " ".join(text.lower().split()) in _BARE or is_sureness(text) is not None:
        if ask is not None and ask.hint:
            raise Refused(f"'{text}' is no answer to this", ask.hint)
        raise Refused(f"'{text}' answers no question here", "name what it is about: NAME + or NAME -")
    return _block(text, lexicon, ask)


_SOFT = (
    "give", "list", "open", "next", "skip", "why", "undo", "answers", "summary", "screens", "help", "close", "pause",
    "options", "exit", "quit", "new visit", "phone", "surgeon", "activity", "cover", "hold", "finish", "order", "later",
    "timeline", "withdraw", "flare", "exam", "stalled", "excuse", "signs", "aim", "note", "plan",
)  # fmt: skip


_LEAST_STORY = 4  # words behind a word of command from which on a line without a comma may be a story


def _is_story(text: str, lexicon: Lexicon) -> bool:
    """The whole line is their words although it begins with a word of command: `next to the bone, on stairs`."""
    found = split_verb(text)
    if found is None or found[0] not in _SOFT or not found[1] or text[len(found[0]) : len(found[0]) + 1] == ":":
        return False
    verb, rest = found
    if "," not in rest and len(rest.split()) < _LEAST_STORY:
        return False
    if verb in ("note", "plan", "aim", "signs", "exam", "stalled", "order", "excuse", "finish", "hold", "flare"):
        return False  # what these write is seen at once, and undo takes it back
    if verb in ("give", "later", "withdraw"):
        try:
            verb_line(text, lexicon)
        except Refused:
            return True
        except Unclear:
            return False
        return False
    return not _exact_rest(verb, rest, lexicon)


def _exact_rest(verb: str, rest: str, lexicon: Lexicon) -> bool:
    """What follows a soft word of command makes it one: `why NAME`, `options all`, `undo because`."""
    if verb == "why":
        return any(lexicon.exact(kind, rest) for kind in ("hypothesis", "option", "screen", "finding"))
    if verb == "undo":
        return rest.lower().startswith("because")
    return verb in ("help", "list", "options") and len(rest.split()) <= 2


def _block(text: str, lexicon: Lexicon, ask: Ask | None) -> Line:
    """Chunks between commas, each a fact about the case, an answer or a measure."""
    if _BLANKET.fullmatch(" ".join(text.lower().split())):
        hint = "n answers the question asked, or the bundle where several danger signs are shown together"
        raise Refused(f"'{text}': one answer for everything is not taken", hint)
    said, reason = split_reason(text)
    found: list[c.Command] = []
    for chunk in chunks(said):
        marked = any(token in ("+", "-", "?") or token.startswith("~") for token in words(chunk))
        context = None if marked else context_commands(chunk, lexicon)
        if context is None and not marked:
            context = who_shortly(chunk, found, lexicon)
        if context is None and ask is not None and not marked:
            context = _short_context(ask, chunk)
        found += context if context is not None else _items(chunk, lexicon, reason, ask)
    return Line(tuple(found))


def _items(chunk: str, lexicon: Lexicon, reason: str, ask: Ask | None) -> tuple[c.Command, ...]:
    first = words(chunk)[0]
    if len(chunk.split()) == 1 and first not in lexicon.tables["finding"]:
        if first in VERBS:
            raise Refused(f"'{first}' takes nothing of that kind behind it", f"type {first} by itself")
        near = nearest(first, VERBS, 1)
        if near:
            raise Refused(f"'{chunk}' is not understood", f"did you mean: {near[0]}?")
    try:
        return item_commands(chunk, lexicon, reason)
    except Refused:
        if _AGO.search(chunk.lower()) and duration(chunk.lower()) is not None:
            hint = "write: injury 5 weeks ago (or: surgery, symptoms, cast off); how it went is asked in the story"
            raise Refused(f"'{chunk}': what is the time counted from?", hint) from None
        raise


def _short_context(ask: Ask, chunk: str) -> tuple[c.Command, ...] | None:
    """A bare time where the current question is when something was: 6 weeks."""
    if ask.kind == "context" and ask.name.startswith("days_since."):
        timed = duration(chunk.lower())
        if timed is not None and not timed[1]:
            return (c.SetAnchor(ask.name.partition(".")[2], timed[0]),)
    return None


def _is_block(text: str) -> bool:
    tokens = words(text)
    return bool(tokens) and (tokens[-1] in ("+", "-", "?") or tokens[-1].startswith("~"))


def _is_answer(text: str) -> bool:
    """`fever +` while something else is asked: it says what it is about, so it is no part of the other's words."""
    return _is_block(text) and len(words(text)) > 1


# ------------------------------------------------------------------------------------------------ the question


def _answer_to(ask: Ask, text: str, lexicon: Lexicon) -> Line | None:
    """A short answer to the current question; None if the line is something else."""
    word = " ".join(text.lower().split())
    if ask.kind == "retest" and (again := _signs_again(text, lexicon)):
        return again
    if ask.kind in ("flare", "stall", "handover") and split_verb(text) is None:
        return None if ask.kind != "flare" and _is_answer(text) else _course_answer(ask, text)
    if word in _BARE:
        return _valued(ask, _BARE[word], text)
    sure = is_sureness(text)
    if sure is not None and ask.kind == "finding":
        return Line((c.Answer(ask.name, "present" if sure >= 0.5 else "absent", None, sure),))
    if ask.kind == "measure":
        return _bare_numbers(ask, text, lexicon)
    if ask.kind == "bundle":
        return _bundle_parts(ask, text, lexicon)
    if ask.kind == "context":
        return _context_word(ask, word, text, lexicon)
    return None


def _signs_again(text: str, lexicon: Lexicon) -> Line | None:
    """The retest signs with their numbers: `retest` in front is understood."""
    if split_verb(text) is not None or _is_block(text):
        return None
    try:
        line = VERBS["retest"](text, lexicon)
    except (Refused, Unclear):
        return None
    measures = {m.measure for one in line.commands if isinstance(one, c.Retest) for m in one.measures}
    return line if measures and measures <= set(lexicon.state.retest_signs) else None


def _course_answer(ask: Ask, text: str) -> Line | None:
    """An answer to a question about the course of the visit, as its word of command would read it."""
    if ask.kind == "flare":
        return Line((course.flare(text),)) if _FLARE.search(text) else None
    if ask.kind == "stall":
        return Line((course.stalled(text),))
    if " ".join(text.lower().split()) in _BARE:
        raise Refused(f"'{text}': this question wants words", "who took it, when, how they travel, what they were told")
    return Line((course.hand_over(text),))


_FLARE = re.compile(r"^(no|n|not worse|none|not known|\d.*|.*swell.*|.*swollen.*)\b|^[-?]$", re.IGNORECASE)


def accepted(ask: Ask) -> Line:
    """The plan that a question proposes, taken up: by y, or by an empty line where the loop allows it."""
    commands = (ask.accepts,) if ask.accepts is not None else ()
    if isinstance(ask.accepts, c.Close):
        return Line(commands, View("leave"))
    return Line(commands, View("options") if isinstance(ask.accepts, c.TakeAdvice) else None)


def _valued(ask: Ask, value: Value, text: str) -> Line | None:
    if ask.kind == "finding":
        return Line((c.Answer(ask.name, value),))
    if ask.kind == "bundle":
        return Line((c.AnswerBundle(ask.name, value),))
    if ask.accepts is not None and value == "present" and text.lower() in ("y", "yes"):
        return accepted(ask)
    if ask.kind == "facts":
        return _facts(ask, value)
    if ask.kind == "judgement":
        raise Refused(f"'{text}': this question wants your list", "FIRST > SECOND; fairly sure; or: not sure")
    if ask.kind == "date":
        raise Refused("then how long is it?", ask.hint.partition("anew: ")[2])
    if ask.kind == "confirm":
        return Line(view=View("skip"))
    if ask.kind == "context":
        return _context_valued(ask, value)
    if ask.kind == "text" and text.lower() not in ("?", "y", "n", "+", "-"):
        return Line((c.Write(ask.name, text),))  # "no", "none": their words
    return None


def _facts(ask: Ask, value: Value) -> Line:
    """One answer for every fact of the question; yes to one of them has to name it."""
    if value == "present":
        raise Refused("which of these?", "name them: NAME +; the others are asked again")
    return Line(tuple(c.Answer(ident, value) for ident in ask.name.split(",")))


def _context_valued(ask: Ask, value: Value) -> Line | None:
    if value == "present":
        return None
    name, none = ask.name, value == "absent"
    if name.startswith("days_since."):
        return Line((c.SetAnchor(name.partition(".")[2], none=none),))
    if name == "immobilised":
        return Line((c.SetImmobilised(none=none, unknown=not none),))
    if name == "surgery":
        return Line((c.SetSurgery(none=none, unknown=not none),))
    if name in ("age", "sex", "setting") and not none:
        return Line((c.SetContext(name, None),))  # type: ignore[arg-type]
    return None


def _context_word(ask: Ask, word: str, text: str, lexicon: Lexicon) -> Line | None:
    if ask.name == "side" and word in SIDES:
        return Line((c.SetContext("side", SIDES[word]),))
    if ask.name == "age":
        years = re.fullmatch(r"(\d{1,3})\s*(?:y|yo|yrs?|years?)?(?: old)?", word)
        if years is not None:
            return Line((c.SetContext("age", float(years[1])),))
    if ask.name == "sex" and word in ("f", "m"):
        return Line((c.SetContext("sex", {"f": "female", "m": "male"}[word]),))
    if ask.name == "setting" and lexicon.exact("setting", text) is None and len(chunks(text)) == 1:
        near = lexicon.near("setting", text)
        if near and context_commands(text, lexicon) is None and not _is_block(text):
            raise Unclear("setting", word, near)
    return None


def _bare_numbers(ask: Ask, text: str, lexicon: Lexicon) -> Line | None:
    """`4`, `L 3 3.5 R 9`: the measure that was asked for needs no name."""
    first = text.split()[0].lower()
    after_side = first.lstrip("lr:=")
    if not (NUMBER.match(first) or first in SIDES or (after_side != first and NUMBER.match(after_side))):
        return None
    return Line(trials(ask.name, text, lexicon))


_AGE_AND_MARK = re.compile(r"^(\d{1,3})\s+(\S.*)$")


def _bundle_parts(ask: Ask, text: str, lexicon: Lexicon) -> Line | None:
    """`34, no`, `34 f, no`: an age, a sex and one answer for the findings of the question."""
    bundle = next(b for b in lexicon.knowledge.region.always_ask if b.id == ask.name)
    if "age" not in bundle.context:
        return None
    found: list[c.Command] = []
    for part in (p for chunk in chunks(text) for p in _AGE_AND_MARK.sub(r"\1,\2", chunk).split(",")):
        if (who := age_and_sex(part)):
            found += who
        elif part.lower() in _BARE:
            found.append(c.AnswerBundle(ask.name, _BARE[part.lower()]))
        else:
            return None
    if len({one.value for one in found if isinstance(one, c.AnswerBundle)}) > 1:
        raise Refused(f"'{text}': both yes and no", "one answer: n none of these, y one of them, ? not known")
    return Line(tuple(found))


# ------------------------------------------------------------------------------------------------ their words


_A_SLIP = 0.75  # likeness to a word of command; at less it is their words: "fine" is no slip for finish


def _own_words(ask: Ask, text: str, lexicon: Lexicon) -> Line:
    """Free text for the current question; but answers that are exact stay answers, and a slip is asked about."""
    if text in ("y", "n") or not any(c.isalpha() for c in text):
        raise Refused(f"'{text}': this question wants words", "type them, or: skip")
    marked = _is_block(text)
    if marked or NUMBER.search(text):
        try:
            return Line(tuple(cmd for chunk in chunks(text) for cmd in item_commands(chunk, lexicon)))
        except (Refused, Unclear):
            if marked and not text.endswith("?"):  # a near name with its mark is an answer, not their words
                raise
    if len(text.split()) == 1:
        near = get_close_matches(text.lower(), VERBS, 1, _A_SLIP)
        if near:
            heading = ask.name.replace("_", " ")
            raise Refused(f"'{text}': a slip for {near[0]}?", f"if these are their words: {heading}: {text}")
    parts = [p.strip() for p in text.split(";")]
    if ask.also and all(parts) and 1 < len(parts) <= len(ask.also) + 1:
        return Line(tuple(c.Write(heading, p) for heading, p in zip((ask.name, *ask.also), parts, strict=False)))
    return Line((c.Write(ask.name, text),))
