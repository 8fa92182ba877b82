"""Lines that begin with a word of command: treat, retest, resolve, consent, judge, signs, note, why, ..."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Literal

from reasoner.case.state import Side, Value
from reasoner.consult import commands as c
from reasoner.consult.noting import HEADINGS
from reasoner.consult.resolving import PARTS
from reasoner.consult.treating import COVER_KEYS, COVERED
from reasoner.graph.knowledge import plain
from reasoner.prompt import course_verbs as course
from reasoner.prompt.items import measure_commands
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Line, Refused, View, ViewName
from reasoner.prompt.tokens import SIDES, split_reason

__all__ = ["VERBS", "covered_by", "irritability", "judgement", "split_verb", "verb_line"]

_CONFIDENCE = (
    "very sure", "fairly sure", "quite sure", "not very sure", "not sure", "unsure", "sure", "guess", "a guess",
)
_SIDE_OF: Mapping[str, Side] = {"left": "left", "right": "right", "both": "both"}
_UNWANTED = {
    "new symptom": "new_symptom", "new symptoms": "new_symptom", "new swelling": "swelling",
    "more swelling": "swelling", "swelling": "swelling",
    "worse gait": "gait", "gait worse": "gait",
}  # fmt: skip
_BUNDLE_ANSWERS: Mapping[str, Value] = {
    "no": "absent", "n": "absent", "-": "absent", "yes": "present", "y": "present", "?": "unknown",
}  # fmt: skip
_RESOLVE_PARTS = {p.replace("_", " "): p for p in PARTS}
_EFFORT: Mapping[str, Literal["little", "some", "much"]] = {
    "little": "little", "a little": "little", "some": "some", "moderate": "some",
    "much": "much", "a lot": "much", "lot": "much",
}  # fmt: skip


_AGREED: Mapping[str, Literal["given", "refused", "withdrawn"]] = {
    "yes": "given", "y": "given", "given": "given", "agreed": "given", "no": "refused", "n": "refused",
    "refused": "refused", "withdrawn": "withdrawn", "withdraw": "withdrawn",
}  # fmt: skip


def verb_line(text: str, lexicon: Lexicon) -> Line | None:
    """The line of a command word; None if the text does not begin with one. Raises Refused or Unclear."""
    found = split_verb(text)
    return VERBS[found[0]](found[1], lexicon) if found is not None else None


def split_verb(text: str) -> tuple[str, str] | None:
    """(word of command, what follows it); None if the text does not begin with one."""
    for verb in _LONGEST_FIRST:
        match = re.match(rf"{verb}(?=$|[\s:,])[:,]?\s*", text, re.IGNORECASE)
        if match is None or (verb in _WITH_COLON and ":" not in match[0]):
            continue
        rest = text[match.end() :].strip()
        marked = rest[:1] in ("+", "-", "?", "~")  # `flare -` answers a finding of that name
        if not (verb in _ALONE and rest) and not (verb in _ALSO_NAMES and marked):
            return verb, rest
    return None


def irritability(text: str) -> c.StateIrritability:
    """`ten stairs, some, 5/10, 5 min` in any order. What is not there stays unknown, and unknown counts as high."""
    effort: Literal["little", "some", "much", "unknown"] = "unknown"
    intensity: float | None = None
    minutes: float | None = None
    activity = []
    for part in (p.strip() for p in re.split(r",(?!\d)|;", text)):
        bare = re.sub(r"^(settles|calms|eases|gone|takes|of it)?\s*(in|after|for)?\s*", "", part.lower())
        rated = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:/\s*10|(?:out )?of 10)", part.lower())
        timed = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(s|sec|seconds?|min|mins|minutes?|h|hours?|days?)\.?", bare)
        if part.lower() in _EFFORT:
            effort = _EFFORT[part.lower()]
        elif rated is not None:
            intensity = float(rated[1])
        elif timed is not None:
            minutes = float(timed[1]) * {"s": 1 / 60, "m": 1.0, "h": 60.0, "d": 1440.0}[timed[2][0]]
        elif part:
            activity.append(part)
    if effort == "unknown" and intensity is None and minutes is None:
        raise Refused("nothing of it could be read", "for example: ten stairs, some, 5/10, 5 min")
    return c.StateIrritability(", ".join(activity), effort, intensity, minutes)


def judgement(text: str, lexicon: Lexicon) -> c.Judge:
    """`first > second; fairly sure; would change if ...`; or `same`: as committed last."""
    before = lexicon.state.judgements
    if before and plain(text) in ("same", "same as before", "unchanged"):
        last = before[-1]
        return c.Judge(last.ranked, last.confidence, last.words)
    if plain(text) in _CONFIDENCE:
        return c.Judge((), plain(text), text)
    if not text:
        raise Refused("judge: no text", "for example: judge FIRST > SECOND; fairly sure; would change if ...")
    ranked_text, *rest = [p.strip() for p in re.split(r"[;,]", text)]
    ranked = tuple(lexicon.find("hypothesis", name.strip()) for name in ranked_text.split(">"))
    confidence = next((plain(p) for p in rest if plain(p) in _CONFIDENCE), "")
    return c.Judge(ranked, confidence, text)


# ------------------------------------------------------------------------------------------------ acts


def _treat(text: str, lexicon: Lexicon, late: bool = False) -> Line:
    said, reason = split_reason(text)
    if not said:
        raise Refused("treat what?", "treat NAME dose; options lists what there is")
    agreed = re.search(r",?\s*\bagreed\b", said, re.IGNORECASE)
    if agreed is not None:
        said = said[: agreed.start()] + said[agreed.end() :]
    ident, rest = _option(said, lexicon)
    side: Side | None = None
    if rest and rest[0].lower() in SIDES:
        side, rest = _SIDE_OF[SIDES[rest[0].lower()]], rest[1:]
    treat = c.Treat(ident, " ".join(rest).strip(" ,"), side, reason, late)
    return Line((c.Consent(ident, "given", COVERED), treat) if agreed is not None else (treat,))


def _option(said: str, lexicon: Lexicon) -> tuple[str, list[str]]:
    """(option, what follows its name). Where no name is exact, the words before a number or side are proposed on."""
    tokens = said.replace(",", " ").split()
    named = lexicon.longest("option", tokens)
    if named is not None:
        return named[0], tokens[named[1] :]
    stop = next((i for i, t in enumerate(tokens) if re.match(r"\d|grade$", t) or t.lower() in SIDES), len(tokens))
    return lexicon.find("option", " ".join(tokens[:stop])), tokens[stop:]


def _later(text: str, lexicon: Lexicon) -> Line:
    match = re.match(r"treat\b[:,]?\s*", text, re.IGNORECASE)
    return _treat(text[match.end() :] if match else text, lexicon, late=True)


def _consent(text: str, lexicon: Lexicon) -> Line:
    tokens = text.lower().split()
    covered: tuple[str, ...] = COVERED
    if len(tokens) > 2 and set(tokens[-2]) <= set(COVER_KEYS) and lexicon.exact("option", " ".join(tokens[:-2])):
        covered, tokens = covered_by(tokens[-2]), [*tokens[:-2], tokens[-1]]  # `consent NAME waq yes`
    if len(tokens) < 2 or tokens[-1] not in _AGREED:
        raise Refused("consent: to what, and the answer?", "write: consent NAME yes, no or withdrawn")
    ident, rest = _option(" ".join(tokens[:-1]), lexicon)
    if rest:
        raise Refused(f"consent: '{' '.join(rest)}' is not understood", "write: consent NAME yes, no or withdrawn")
    answer = _AGREED[tokens[-1]]
    return Line((c.Consent(ident, answer, covered if answer == "given" else ()),))


def covered_by(letters: str) -> tuple[str, ...]:
    """What was said before agreeing, by its letters."""
    return tuple(COVER_KEYS[key] for key in COVER_KEYS if key in letters)


def _retest(text: str, lexicon: Lexicon) -> Line:
    unwanted: list[str] = []
    parts = []
    checked = re.search(r"[;,]?\s*\bset-?\s?up (?:was )?checked\b(?: again)?", text, re.IGNORECASE)
    if checked is not None:
        text = text[: checked.start()] + text[checked.end() :]
    for part in re.split(r"[;]|,(?!\d)|(?<!\d),", text):
        said = " ".join(w for w in part.lower().split() if w != "+")
        for phrase, name in _UNWANTED.items():
            if re.search(rf"(?:^|\s){phrase}$", said):
                unwanted.append(name)
                said = said[: len(said) - len(phrase)].strip()
                break
        parts.append(said)
    measures = measure_commands(" ".join(p for p in parts if p), lexicon)
    if not measures and not unwanted:
        raise Refused("retest: nothing given", "write the same signs again: retest NAME 6, NAME L 4.5 4.5")
    return Line((c.Retest(measures, tuple(dict.fromkeys(unwanted)), checked is not None),))


def _excuse(text: str, lexicon: Lexicon) -> Line:
    said, reason = split_reason(text)
    return Line((c.ExcuseRetest(reason or said),))


def _resolve(text: str, lexicon: Lexicon) -> Line:
    name, parts = text, ""
    if ":" in text:
        name, _, parts = text.partition(":")
    else:
        named = lexicon.longest("screen", text.split())
        if named is not None:
            name, parts = " ".join(text.split()[: named[1]]), " ".join(text.split()[named[1] :])
    if not name.strip():
        raise Refused("resolve which screen?", "screens lists those that are met or open")
    found: dict[str, str] = {}
    for part in (p.strip() for p in parts.split(";") if p.strip()):
        key = next((k for k in _RESOLVE_PARTS if re.match(rf"{k}\b", part, re.IGNORECASE)), None)
        if key is None:
            raise Refused(f"resolve: '{part}' begins with none of its parts", f"parts: {', '.join(_RESOLVE_PARTS)}")
        found[_RESOLVE_PARTS[key]] = part[len(key) :].strip(" :")
    return Line((c.Resolve(lexicon.find("screen", name), **found),))


def _undo(text: str, lexicon: Lexicon) -> Line:
    said, reason = split_reason(text)
    return Line((c.Undo(reason or said),))


def _withdraw(text: str, lexicon: Lexicon) -> Line:
    said, reason = split_reason(text)
    tokens = said.lower().split()
    sides = [SIDES[t] for t in tokens if t in SIDES]
    ident = lexicon.find("finding", " ".join(t for t in tokens if t not in SIDES))
    return Line((c.Withdraw(ident, _SIDE_OF[sides[0]] if sides else None, reason),))


# ------------------------------------------------------------------------------------------------ words


def _signs(text: str, lexicon: Lexicon) -> Line:
    named, _, function = text.partition(":")
    names = [n.strip() for n in named.split(",") if n.strip()]
    if not names:
        raise Refused("signs: which?", "write one to three measures: signs function, pain, NAME : their words")
    return Line((c.ChooseSigns(tuple(lexicon.find("measure", n) for n in names), function.strip()),))


def _aim(text: str, lexicon: Lexicon) -> Line:
    """`aim NAME L 9: their words`: a number the patient wants of one measure."""
    said, _, own_words = text.partition(":")
    given = measure_commands(said, lexicon) if said.strip() else ()
    if len(given) != 1 or len(given[0].values) != 1:
        raise Refused("aim: one measure and one number", "for example: aim NAME 9: back to the ladder at work")
    one = given[0]
    return Line((c.SetGoal(one.measure, one.values[0], one.side, own_words.strip()),))


def _judge(text: str, lexicon: Lexicon) -> Line:
    return Line((judgement(text, lexicon),))


def _irritability(text: str, lexicon: Lexicon) -> Line:
    return Line((irritability(text),))


def _stop_now(text: str, lexicon: Lexicon) -> Line:
    """`stop-now injury limb no`: always-ask questions by name, one answer for those named."""
    *names, answer = text.lower().split() or [""]
    value = _BUNDLE_ANSWERS.get(answer)
    bundles = [b.id for b in lexicon.knowledge.region.always_ask]
    if value is None or not names:
        raise Refused("a stop-now answer names its questions", f"stop-now NAME no; names: {', '.join(bundles)}")
    for name in names:
        if name not in bundles:
            raise Refused(f"no stop-now question is called '{name}'", f"they are: {', '.join(bundles)}")
    return Line(tuple(c.AnswerBundle(name, value) for name in names))


def _competence(text: str, lexicon: Lexicon) -> Line:
    return Line((c.StateCompetence(lexicon.find("load class", text)),))


def _writing(heading: str) -> Callable[[str, Lexicon], Line]:
    return lambda text, lexicon: Line((c.Write(heading, text),))


def _simple(make: Callable[[], c.Command], then: ViewName | None = None) -> Callable[[str, Lexicon], Line]:
    def read(text: str, lexicon: Lexicon) -> Line:
        if text:
            raise Refused(f"'{text}' is not understood here", "this word stands alone")
        return Line((make(),), View(then) if then is not None else None)

    return read


def _options(text: str, lexicon: Lexicon) -> Line:
    if text not in ("", "all"):
        raise Refused(f"'{text}' is not understood here", "this word stands alone, or: options all")
    return Line((c.TakeAdvice(),), View("options", text))


def _shows(name: ViewName) -> Callable[[str, Lexicon], Line]:
    return lambda text, lexicon: Line(view=View(name, text))


def _hold(text: str, lexicon: Lexicon) -> Line:
    course.hold_seconds(text)
    return Line(view=View("hold", text))


VERBS: Mapping[str, Callable[[str, Lexicon], Line]] = {
    "treat": _treat, "give": _treat, "later": _later, "consent": _consent, "retest": _retest, "excuse": _excuse,
    "resolve": _resolve, "stop-now": _stop_now, "undo": _undo, "withdraw": _withdraw,
    "signs": _signs, "aim": _aim, "judge": _judge, "irritability": _irritability, "competence": _competence,
    "options": _options, "new visit": _simple(c.OpenVisit),
    "new assessment": lambda text, lexicon: Line((c.NewAssessment(split_reason(text)[1] or text),)),
    "pause": _simple(c.Pause, "leave"), "close": _simple(c.Close, "leave"),
    "help": _shows("help"), "why": _shows("why"), "screens": _shows("screens"), "list": _shows("list"),
    "summary": _shows("summary"), "next": _shows("next"), "skip": _shows("skip"), "open": _shows("open"),
    "answers": _shows("answers"), "timeline": _shows("timeline"), "quit": _shows("leave"), "exit": _shows("leave"),
    **{heading.replace("_", " "): _writing(heading) for heading in HEADINGS},
    "exam": course.exam, "flare": lambda text, lexicon: Line((course.flare(text),)),
    "stalled": lambda text, lexicon: Line((course.stalled(text),)), "order": course.order,
    "handover": lambda text, lexicon: Line((course.hand_over(text),)),
    "finish": lambda text, lexicon: Line((course.end_case(text),)),
    "phone": _shows("phone"), "surgeon": _shows("surgeon"), "activity": _shows("activity"),
    "cover": _shows("cover"), "hold": _hold,
}  # fmt: skip
_LONGEST_FIRST = sorted(VERBS, key=len, reverse=True)
_ALSO_NAMES = ("flare", "finish")
# also the beginning of names: `open skin -`
_ALONE = ("open", "next", "close", "cover", "phone", "surgeon", "activity")
# these are also ordinary words: as headings they need their colon
_WITH_COLON = {h.replace("_", " ") for h in HEADINGS} - {"note", "plan", "conclusion", "handover"}
