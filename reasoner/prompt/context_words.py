"""Who, when and what was done, as it is said: `left`, `age 34`, `injury 6 weeks ago`, `boot 3 weeks`, `no surgery`."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from reasoner.consult.commands import Command, SetAnchor, SetContext, SetImmobilised, SetSurgery
from reasoner.graph.knowledge import plain
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Refused
from reasoner.prompt.tokens import SIDES

__all__ = ["age_and_sex", "context_commands", "duration", "who_shortly"]

_UNIT_DAYS = {"day": 1, "week": 7, "month": 30, "year": 365, "d": 1, "w": 7, "wk": 7, "m": 30, "y": 365, "yr": 365}
_COUNTS = {"a": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
           "nine": 9, "ten": 10, "twelve": 12}  # fmt: skip
_TRADE = {"7": 1, "52": 7, "12": 30}  # 3/7 days, 6/52 weeks, 2/12 months
_DURATION = re.compile(
    r"\b(?:(?P<n>\d+(?:\.\d+)?|" + "|".join(_COUNTS) + r")\s*"
    r"(?P<unit>days?|weeks?|months?|years?|wks?|yrs?|d|w|m)|(?P<part>\d+)/(?P<of>7|52|12))\b"
)
_SOON = {"today": 0, "just now": 0, "yesterday": 1}
_ANCHORS = {
    "injury": ("injury", "injured", "accident", "hurt it", "turned it", "twisted it", "rolled it", "fell"),
    "surgery": ("surgery", "operation", "operated", "op", "post op"),
    "cast_off": ("cast off", "boot off", "out of cast", "out of boot", "out of plaster", "plaster off"),
    "union_on_film": ("union on film", "union", "healed on film"),
    "symptoms": ("symptoms", "symptoms began", "began", "started", "onset", "pain began", "pain started"),
}
_BOOTS = ("boot", "cast", "plaster", "splint", "immobilised", "immobilized")
_SURGERY = ("surgery", "operation", "operated")
_NONE = ("none", "no", "never", "not")
_UNKNOWN = ("unknown", "not known", "?")
_SEXES = {"f": "female", "female": "female", "woman": "female", "m": "male", "male": "male", "man": "male",
          "other": "other"}  # fmt: skip


def context_commands(chunk: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    """Commands of one chunk; None if it says nothing of the kind. Refused where it begins so and cannot be read."""
    text = chunk.lower().strip().rstrip(".")
    for reader in _READERS:
        found = reader(text, lexicon)
        if found is not None:
            return found
    return None


def duration(text: str) -> tuple[int, str] | None:
    """(whole days, the text without it) of the one duration in a text: 6 weeks, two months, 6/52, yesterday."""
    for word, days in _SOON.items():
        if re.search(rf"\b{word}\b", text):
            return days, _without(text, re.search(rf"\b{word}\b", text))
    match = _DURATION.search(text)
    if match is None:
        return None
    if match["part"]:
        days = int(match["part"]) * _TRADE[match["of"]]
    else:
        count = _COUNTS.get(match["n"]) or float(match["n"])
        unit = match["unit"] if match["unit"] in _UNIT_DAYS else match["unit"].rstrip("s")
        days = round(count * _UNIT_DAYS[unit])
    return days, _without(text, match)


def who_shortly(chunk: str, before: Sequence[Command], lexicon: Lexicon) -> tuple[Command, ...] | None:
    """`R, 47, m`, `R, 47m` or `R 47 m`: a letter for the side of a case that has none yet, and behind it age and sex.

    A bare number is read so only straight behind side or sex: anywhere else it may be a reading.
    """
    text = chunk.lower().strip().rstrip(".")
    if lexicon.state.context.side is None:
        if text in SIDES:
            return (SetContext("side", SIDES[text]),)
        side, _, rest = text.partition(" ")
        who = age_and_sex(rest.strip()) if side in SIDES else None
        if who is not None and len(who) == 2:  # age alone may be a reading
            return (SetContext("side", SIDES[side]), *who)
    last = before[-1] if before else None
    if not (isinstance(last, SetContext) and last.name in ("side", "age", "sex")):
        return None
    return age_and_sex(text)


def age_and_sex(text: str) -> tuple[Command, ...] | None:
    """`47`, `47m`, `47 y f`, `f`."""
    match = re.fullmatch(r"(\d{1,3})?\s*(?:y|yo|yrs?)?\s*(f|m)?", text.lower())
    if match is None or not (match[1] or match[2]):
        return None
    age = (SetContext("age", float(match[1])),) if match[1] else ()
    sex = (SetContext("sex", _SEXES[match[2]]),) if match[2] else ()
    return (*age, *sex)


def _without(text: str, match: re.Match[str] | None) -> str:
    assert match is not None  # both callers have found it
    rest = text[: match.start()] + " " + text[match.end() :]
    return " ".join(re.sub(r"\b(ago|since|for|after|old|last)\b", " ", rest).split())


def _side(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    word = re.sub(r"\bsides?\b", "", text).strip()
    return (SetContext("side", SIDES[word]),) if word in SIDES and (len(word) > 1 or "side" in text) else None


def _age(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    match = re.fullmatch(r"age[d:]?\s*(\S+)(?:\s*years?)?|(\d+)\s*(?:years? old|y/?o|yrs? old)", text)
    if match is None:
        return None
    word = match[1] or match[2]
    if word in _UNKNOWN:
        return (SetContext("age", None),)
    if not re.fullmatch(r"\d+(\.\d+)?", word):
        raise Refused(f"age '{word}' is not a number", "write for example: age 34")
    return (SetContext("age", float(word)),)


def _sex(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    match = re.fullmatch(r"sex[:\s]+(\S+)|(female|male|woman|man)", text)
    if match is None:
        return None
    word = match[1] or match[2]
    if word in _UNKNOWN:
        return (SetContext("sex", None),)
    if word not in _SEXES:
        raise Refused(f"sex '{word}'", "write: sex f, sex m or sex other")
    return (SetContext("sex", _SEXES[word]),)


def _setting(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    match = re.fullmatch(r"setting[:\s]+(.+)", text)
    if match is not None:
        return (SetContext("setting", None if match[1] in _UNKNOWN else lexicon.find("setting", match[1])),)
    found = lexicon.exact("setting", text)
    return (SetContext("setting", found),) if found is not None else None


def _setting_since(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    """`sprain 6 weeks ago`: the setting says what the time is counted from."""
    timed = duration(text)
    found = lexicon.exact("setting", timed[1]) if timed is not None else None
    if timed is None or found is None or _anchor_named(timed[1]) is not None:
        return None
    found = _early(found, timed[0], lexicon)
    anchor = lexicon.knowledge.settings[found].counts_from
    if anchor is None:
        raise Refused(f"'{timed[1]}': counted from what?", "write also: injury 6 weeks ago, or symptoms 6 weeks")
    return (SetContext("setting", found), SetAnchor(anchor, timed[0]))


def _early(setting: str, days: int, lexicon: Lexicon) -> str:
    """`twisted it 3 days ago` is not yet the setting that the same words mean six weeks later."""
    record = lexicon.knowledge.settings[setting]
    return record.early if record.early and record.early_days is not None and days < record.early_days else setting


def _anchor_named(words: str) -> str | None:
    return next((a for a, names in _ANCHORS.items() if words in names), None)


def _anchor(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    timed = duration(text)
    if timed is not None:
        anchor = _anchor_named(timed[1])
        if anchor is None:
            return None
        found: list[Command] = [SetAnchor(anchor, timed[0])]
        if anchor == "surgery" and lexicon.state.context.surgery is None:
            found.insert(0, SetSurgery())
        setting = lexicon.exact("setting", timed[1])
        if setting is not None and anchor == "injury":
            found.insert(0, SetContext("setting", _early(setting, timed[0], lexicon)))
        return tuple(found)
    return _anchor_without_time(text)


def _anchor_without_time(text: str) -> tuple[Command, ...] | None:
    for anchor, names in _ANCHORS.items():
        if anchor == "surgery":
            continue  # "no surgery" is about the operation, not its date
        for name in names:
            if text in (f"no {name}", f"{name} none", f"{name} no"):
                return (SetAnchor(anchor, none=True),)
            if text in (f"{name} {u}" for u in _UNKNOWN):
                return (SetAnchor(anchor),)
    return None


def _immobilised(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    tokens = text.split()
    kind = next((b for b in _BOOTS if b in tokens), None)
    if kind is None:
        return None
    timed = duration(text)
    rest = [t for t in (timed[1] if timed else text).split() if t not in (kind, "in", "a", "the", "with", "was", "for")]
    if timed is None and rest and rest[0] in _NONE:
        return (SetImmobilised(none=True),)
    if timed is None and " ".join(rest) in _UNKNOWN:
        return (SetImmobilised(unknown=True),)
    weeks = round(timed[0] / 7, 1) if timed is not None else None
    return (SetImmobilised(weeks=weeks, position=_position(" ".join(rest), lexicon)),)


def _position(words: str, lexicon: Lexicon) -> str | None:
    if not words:
        return None
    if not lexicon.tables["position"]:
        return plain(words).replace(" ", "_")
    return lexicon.find("position", words)


def _surgery(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    if text == "not operated" or text in {w for s in _SURGERY for w in (f"no {s}", f"{s} none", f"{s} no")}:
        return (SetSurgery(none=True),)
    if text in {f"{s} {u}" for s in _SURGERY for u in _UNKNOWN}:
        return (SetSurgery(unknown=True),)
    timed = duration(text)
    rest = timed[1] if timed is not None else text
    named = re.sub(rf"^({'|'.join(_SURGERY)})[:\s]+", "", rest)
    procedure = lexicon.exact("procedure", named)
    if procedure is None:
        if named == rest:
            return None
        if named in ("unknown kind", "kind not known"):
            return (SetSurgery(),)
        procedure = lexicon.find("procedure", named)
    found: list[Command] = [SetSurgery(procedure=procedure)]
    if timed is not None:
        found.append(SetAnchor("surgery", timed[0]))
    return tuple(found)


def _orders(text: str, lexicon: Lexicon) -> tuple[Command, ...] | None:
    match = re.fullmatch(r"(?:surgeon'?s )?orders[:\s]+(?:are )?(.+)", text)
    if match is not None:
        said = {"known": "known", "seen": "known", "not seen": "not_seen", "unseen": "not_seen",
                "conflicting": "conflicting", "conflict": "conflicting"}.get(match[1])  # fmt: skip
        if said is None:
            raise Refused(f"orders '{match[1]}'", "write: orders known, orders not seen or orders conflicting")
        return (SetSurgery(orders=said),)  # type: ignore[arg-type]
    match = re.fullmatch(r"(?:weight bearing|wb)[:\s]+(non|partial|full|as tolerated)", text)
    if match is not None:
        return (SetSurgery(weight_bearing=match[1].replace(" ", "_")),)
    match = re.fullmatch(r"(?:fixation|fixed with)[:\s]+(.+)", text)
    return (SetSurgery(fixation=plain(match[1]).replace(" ", "_")),) if match is not None else None


_READERS: tuple[Callable[[str, Lexicon], tuple[Command, ...] | None], ...] = (
    _side, _age, _sex, _setting, _orders, _anchor, _immobilised, _surgery, _setting_since,
)
