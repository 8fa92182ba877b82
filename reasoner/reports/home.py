"""The home sheet: what to do now or at most three exercises, what to feel and not, when to stop, call and come back.

Every word the patient reads comes from the knowledge, from the clinician's own notes or from the clinic's letterhead.
No exercise while a danger screen blocks or while the always-ask questions are not complete.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from reasoner.case.state import Ending
from reasoner.consult.standing import Standing, standing
from reasoner.consult.words import number
from reasoner.graph.knowledge import plain
from reasoner.graph.records import HomeText, OptionRecord, SheetText
from reasoner.measures.baseline import value
from reasoner.problems import InputRefused, Problem
from reasoner.reports.document import Block, Bullets, Document, Fields, Para, Section, Table
from reasoner.reports.dossier import Dossier
from reasoner.reports.validity import not_after, review_day

__all__ = ["MOST_EXERCISES", "home_sheet"]

MOST_EXERCISES = 3
_LOG_ROWS = 5


@dataclass(frozen=True, slots=True)
class _Item:
    """One thing to do: an option with its wording, or the clinician's own words where no option was meant."""

    words: str  # as the clinician wrote it, with the dose; empty where only the treatment was recorded
    option: OptionRecord | None = None
    text: HomeText | None = None


def home_sheet(d: Dossier, language: str = "en") -> Document:
    """The sheet in one language of the pack. InputRefused if the pack has no wording in it."""
    sheet = _sheet(d, language)
    label = sheet.labels
    stands = standing(d.knowledge, d.state, d.as_of)
    now = [s for s in stands if s.screen.send in ("emergency", "same_day")]
    soon = [s for s in stands if s not in now]
    remarks: list[str] = []
    if language != "en":
        remarks.append("your own words stand on the sheet in the language you wrote them in")
    items, closed = _items(d, language, stands, remarks)
    parts: list[tuple[str, Sequence[Block]]] = [
        (label["now"], _now(now, language, remarks, label)),
        (label["soon"], _bullets(_patient(soon, language, remarks))),
        *((("", _exercises(items, closed, label)),) if closed else ()),
        (label["goal"], [] if now else [Para(f'"{goal}"') for goal in _goal(d)]),
        *(() if closed else ((label["exercises"], _exercises(items, closed, label)),)),
        (label["advice"], [*_orders(d, label), *_advice(items, label)]),
        (label["flare"], [] if closed else [Para(sheet.flare)]),
        (label["emergency"], [Bullets(sheet.emergency_signs)]),
        (label["call"], [] if now else [Bullets(sheet.call_signs)]),
        (label["your_signs"], [] if now else [Para(text) for text in _own_signs(d)]),
        ("", [Fields(_phones(d, label), row=True)]),
        (label["next"], [] if now else _review(d, language, label, remarks)),
        ("", [] if closed else _log(d, language, label)),
    ]
    draft = () if language == "en" or sheet.reviewed else (_DRAFT,)
    return Document(
        kind="home",
        title=label["title"],
        subtitle=(f"{d.state.case}  {_day(d, d.now, language)}", *draft),
        sections=tuple(Section(title, tuple(blocks)) for title, blocks in parts if blocks),
        footer=(*draft, *(() if now else (label["questions"],)), *d.ending[1:2]),
        invented=d.invented,
        language=language,
        paper=d.clinic.paper,
        options=tuple(i.option.id for i in items if i.option is not None),
        remarks=tuple(remarks),
    )


_DRAFT = "DRAFT TRANSLATION, not clinically reviewed: not to be handed out before a clinician who reads it has."


def _sheet(d: Dossier, language: str) -> SheetText:
    have = d.knowledge.region.sheet
    if language not in have:
        known = ", ".join(have) or "none"
        raise InputRefused([Problem("R-LANGUAGE", f"no home sheet wording in {language!r}", f"there is: {known}")])
    # a heading that a translation lacks is better in English than missing
    english = have.get("en", have[language])
    return SheetText(
        reviewed=have[language].reviewed, labels={**english.labels, **have[language].labels},
        flare=have[language].flare, emergency_signs=have[language].emergency_signs,
        call_signs=have[language].call_signs,
    )  # fmt: skip


def _now(
    stands: Sequence[Standing], language: str, remarks: list[str], label: Mapping[str, str]
) -> list[Block]:
    """What to do at once, standing out, and what to take along."""
    said = _patient(stands, language, remarks)
    return [*(Para(text, strong=True, box=True) for text in said), Para(label["take_along"])] if said else []


def _bullets(items: Sequence[str]) -> list[Block]:
    return [Bullets(tuple(items))] if items else []


def _patient(stands: Sequence[Standing], language: str, remarks: list[str]) -> tuple[str, ...]:
    """What each standing screen means for the patient now, in plain words."""
    said = []
    for one in stands:
        text = one.screen.patient.get(language) or one.screen.patient.get("en", "")
        if not one.screen.patient.get(language):
            remarks.append(f"{one.screen.name}: no wording for patients in {language}; say and write it yourself")
        said.append(text or one.screen.next_step)
    return tuple(dict.fromkeys(said))


def _last(d: Dossier, heading: str) -> list[str]:
    return [n.text for n in d.state.notes if n.heading == heading][-1:]


def _ended(d: Dossier) -> Ending | None:
    """The end of care here, where it was this visit's."""
    return d.state.ending if d.state.ending is not None and d.state.ending.visit == d.state.visit else None


def _own_signs(d: Dossier) -> list[str]:
    end = _ended(d)
    return [end.return_signs] if end is not None and end.return_signs else _last(d, "return_if")


def _goal(d: Dossier) -> list[str]:
    return _last(d, "goal") or ([d.state.function_words] if d.state.function_words else [])


# ------------------------------------------------------------------------------------------------ what to do


def _items(
    d: Dossier, language: str, stands: Sequence[Standing], remarks: list[str]
) -> tuple[tuple[_Item, ...], str]:
    """(what stands on the sheet, why there are no exercises). Whatever is left out is told to the clinician."""
    pressing = d.advice.blocked or any(s.screen.send in ("emergency", "same_day") for s in stands)
    closed = "blocked" if pressing else "" if d.advice.screening_complete else "incomplete"
    state = {o.id: o for o in d.advice.options}
    items: list[_Item] = []
    for item in _planned(d, language):
        name = item.option.name if item.option is not None else item.words
        known = state.get(item.option.id) if item.option is not None else None
        exercise = item.text is None or item.text.exercise
        if exercise and closed:
            remarks.append(f"left out: {name}: no exercise while {_CLOSED[closed]}")
        elif known is not None and known.state in ("not_yet", "barred"):
            remarks.append(f"left out: {name}: {known.state.replace('_', ' ')}: {'; '.join(known.reasons[:1])}")
        elif exercise and sum(i.text is None or i.text.exercise for i in items) >= MOST_EXERCISES:
            remarks.append(f"left out: {name}: at most {MOST_EXERCISES} exercises")
        else:
            if item.option is None:
                remarks.append(f"in your own words, not checked against the limits: {name}")
            elif item.text is None:
                remarks.append(f"{name}: no wording for patients in {language}; yours is used")
            items.append(item)
    return tuple(items), closed


_CLOSED = {"blocked": "a danger screen stands", "incomplete": "the stop-now questions are not complete"}


def _planned(d: Dossier, language: str) -> Iterator[_Item]:
    """What the clinician wrote under "home" in the latest visit, then home options given in that visit.

    At the end of care what they go on with comes first, in the clinician's own words.
    """
    seen: set[str] = set()
    end = _ended(d)
    if end is not None and end.self_management:
        yield _Item(end.self_management)
    told = [n for n in d.state.notes if n.heading == "home" and n.visit == d.state.visit]
    for part in re.split(r"[;\n]", told[-1].text) if told else ():
        words = part.strip(" .,")
        option = _meant(d, words)
        if words and (option is None or option.id not in seen):
            seen |= {option.id} if option is not None else set()
            yield _Item(words, option, option.home_text.get(language) if option is not None else None)
    for loop in d.state.loops:
        option = d.knowledge.options.get(loop.option)
        if option is not None and option.home and loop.visit == d.state.visit and option.id not in seen:
            text = option.home_text.get(language)
            if text is not None and loop.verdict != "worse":
                seen.add(option.id)
                yield _Item("", option, text)


def _meant(d: Dossier, words: str) -> OptionRecord | None:
    """The home option whose longest name, or whose title for patients, stands in these words; None where none does."""
    said = f" {plain(words)} "
    found: list[tuple[int, OptionRecord]] = []
    for name, ident in d.knowledge.option_names.items():
        option = d.knowledge.options[ident]
        if option.home and option.home_text and re.search(rf"\b{re.escape(name)}s?\b", said):
            found.append((len(name), option))
    told = set(said.split())
    for option in d.knowledge.options.values():
        title = option.home_text["en"].title if option.home and "en" in option.home_text else ""
        content = [w for w in plain(title.replace(",", " ")).split() if w not in _SMALL]
        if len(content) > 1 and told.issuperset(content):
            found.append((len(title), option))
    return max(found, key=lambda pair: pair[0])[1] if found else None


_SMALL = frozenset(("a", "and", "in", "of", "on", "or", "the", "to", "with", "your", "do", "move", "keep"))


def _exercises(items: Sequence[_Item], closed: str, label: Mapping[str, str]) -> list[Block]:
    if closed:
        return [Para(label[f"no_exercise_{closed}"], strong=True)]
    chosen = [i for i in items if i.text is None or i.text.exercise]
    if not chosen:
        return [Para(label["no_exercise_left"])]
    rows = []
    blocks: list[Block] = []
    for n, item in enumerate(chosen, 1):
        title = item.text.title if item.text is not None else item.words
        dose = item.words or (item.text.dose if item.text is not None else "")
        rows.append((f"{n}. {title}", dose if item.text is not None else label["own_words"]))
        if item.text is not None:
            pairs = (
                (label["how"], item.text.do), (label["feel"], item.text.feel), (label["not_feel"], item.text.not_feel),
            )  # fmt: skip
            blocks += [Para(f"{n}. {title}", strong=True), Fields(tuple((k, v) for k, v in pairs if v))]
    return [Table(label["exercises"], ("", label["dose"]), tuple(rows)), *blocks]


def _orders(d: Dossier, label: Mapping[str, str]) -> list[Block]:
    """After an operation: what the surgeon said about weight comes first."""
    surgery = d.state.context.surgery
    if surgery is None or surgery.none:
        return []
    weight = label.get(f"weight_{surgery.weight_bearing}") if surgery.orders == "known" else None
    return [Para(weight or label["orders"], strong=True)]


def _advice(items: Sequence[_Item], label: Mapping[str, str]) -> list[Block]:
    blocks: list[Block] = []
    for item in items:
        text = item.text
        if text is not None and not text.exercise:
            dose = item.words or text.dose
            pairs = ((label["how"], text.do), (label["dose"], dose), (label["not_feel"], text.not_feel))
            blocks += [Para(text.title, strong=True), Fields(tuple((k, v) for k, v in pairs if v))]
    return blocks


# ------------------------------------------------------------------------------------------------ until when


def _day(d: Dossier, at: date, language: str) -> str:
    """A day as the sheet's language reads it; only English has names of days here."""
    return d.day(at) if language == "en" or d.dates == "relative" else f"{at:%Y-%m-%d}"


def _review(d: Dossier, language: str, label: Mapping[str, str], remarks: list[str]) -> list[Block]:
    if _ended(d) is not None:
        return [Para(label.get("ended", ""))]
    told = _last(d, "next_visit")
    until, stage = not_after(d, told[-1] if told else "")
    if stage and until < review_day(told[-1] if told else "", d.as_of.date()):
        remarks.append(f"the sheet ends on {d.day(until)}, when a stage of healing ends, before the next visit may be")
    return [
        Para(told[-1] if told else label["on_date_unknown"]),
        Fields(((label["not_after"], _day(d, until, language)),)),
        Para(label["stage_change"] if stage else label["not_after_why"]),
    ]


def _phones(d: Dossier, label: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    return ((label["phone"], d.clinic.phone), (label["emergency_number"], d.clinic.emergency_number))


def _log(d: Dossier, language: str, label: Mapping[str, str]) -> list[Block]:
    """The patient's own log of the main measure, if it was measured and the act is open to them."""
    record = d.knowledge.measures.get(d.knowledge.region.main_measure)
    text = record.home_text.get(language) if record is not None else None
    if record is None or text is None:
        return []
    taken = {m.side: m for m in d.state.measurements if m.measure == record.id and m.phase == "baseline"}
    if not taken:
        return []
    first = tuple(
        f"{number(value(taken[side].values))} {record.unit}" if side in taken else ""
        for side in ("left", "right")
    )
    rows = ((f"{label['today']} {_day(d, d.as_of, language)}", *first), *((("", "", ""),) * _LOG_ROWS))
    table = Table(label["log"], (label["date"], label["left"], label["right"]), rows)
    return [Para(text.title, strong=True), Para(f"{text.do} {text.dose[:1].upper()}{text.dose[1:]}."), table]
