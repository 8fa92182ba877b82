"""The visit note: led by the clinician's own conclusion; each line says which visit it is from.

The tool's chances never enter it. Screens are given by state and what they do not exclude; what is missing is listed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from reasoner.advice.records import Advice
from reasoner.case.state import Answer, CaseState, Loop, Measurement
from reasoner.consult.words import number, of_side
from reasoner.graph.knowledge import Knowledge

__all__ = ["CAUTION", "INVENTED", "Section", "note_sections"]

CAUTION = (
    "Local protocol, the surgeon's orders and licensed practice come first. This record supports judgement; "
    "it is not a diagnosis."
)
INVENTED = "INVENTED PATIENT"
_STORY = ("problem", "where", "behaviour", "episode", "past", "health", "work", "goals", "worries")
_PLANS = ("plan", "home", "next visit", "return sooner", "hand-over")
_SAID = {"present": "present", "absent": "absent", "unknown": "asked, not known"}


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and its lines, in reading order."""

    title: str
    lines: tuple[str, ...]


def note_sections(knowledge: Knowledge, state: CaseState, advice: Advice, ending: str) -> tuple[Section, ...]:
    """The note's sections; an empty one says so where its absence matters. `ending`: count and hash of the trail."""
    made = (
        Section("Clinician's conclusion", tuple(_notes(state, ("conclusion",))) or ("not written yet",)),
        Section("Who", tuple(_who(knowledge, state))),
        Section("Story", tuple(_story(state)) or ("not recorded",)),
        Section("Danger screens", tuple(_screens(advice)) or ("none judged",)),
        Section("Found", tuple(_findings(knowledge, state))),
        Section("Measured", tuple(_measured(knowledge, state))),
        Section("Done", tuple(_done(knowledge, state)) or ("nothing hands-on",)),
        Section("Plan", tuple(_notes(state, _PLANS)) or ("not written yet",)),
        Section("Open items", tuple(_open_items(knowledge, state, advice)) or ("none",)),
        Section("Notes", tuple(_other_notes(state))),
        Section("Record", (f"knowledge {advice.knowledge[:12]}", ending)),
    )
    return tuple(s for s in made if s.lines)


def _from(state: CaseState, visit: int) -> str:
    return "this visit" if visit == state.visit else f"from visit {visit}"


def _notes(state: CaseState, headings: Iterable[str]) -> Iterator[str]:
    wanted = tuple(headings)
    for heading in wanted:
        for note in state.notes:
            if note.heading == heading:
                label = "" if len(wanted) == 1 else f"{heading}: "
                yield f"{label}{note.text} ({_from(state, note.visit)})"


def _other_notes(state: CaseState) -> Iterator[str]:
    known = {"conclusion", *_STORY, *_PLANS}
    for note in state.notes:
        if note.heading not in known:
            yield f"{note.heading}: {note.text} ({_from(state, note.visit)})"


def _who(knowledge: Knowledge, state: CaseState) -> Iterator[str]:
    context = state.context
    setting = knowledge.settings.get(context.setting or "not_stated")
    parts = [
        f"side {context.side or 'not recorded'}",
        f"age {number(context.age)}" if context.age is not None else "age not recorded",
        f"sex {context.sex}" if context.sex else "",
        setting.name if setting else "",
    ]
    yield ", ".join(p for p in parts if p)
    for event, anchor in context.days_since.items():
        name = event.replace("_", " ")
        if anchor.none:
            yield f"{name}: none"
        elif anchor.days is None:
            yield f"time since {name}: not known"
        else:
            yield f"{anchor.days} days since {name} when recorded"
    if context.surgery is not None and not context.surgery.none:
        yield f"operation: {context.surgery.procedure or 'kind not known'}; orders {context.surgery.orders}"
    if context.immobilised is not None and not context.immobilised.none:
        weeks = context.immobilised.weeks
        length = f"{number(weeks)} weeks" if weeks is not None else "weeks not known"
        yield f"immobilised {length}, position {context.immobilised.position or 'not known'}"


def _story(state: CaseState) -> Iterator[str]:
    yield from _notes(state, _STORY)
    if state.function_words:
        yield f'function to retest, in their words: "{state.function_words}"'
    seen = state.irritability
    if seen is not None:
        intensity = f"{number(seen.intensity)} of 10" if seen.intensity is not None else "intensity not known"
        minutes = f"calms in {number(seen.minutes)} min" if seen.minutes is not None else "time to calm not known"
        yield f"set off by {seen.activity or 'not said'}: {intensity}, {minutes} ({_from(state, seen.visit)})"


def _screens(advice: Advice) -> Iterator[str]:
    for screen in advice.screens:
        if screen.state == "met":
            end = "; resolved, see below" if screen.resolved else f"; {screen.next_step}"
            yield f"{screen.name}: criteria met{end}"
    still = [s.name for s in advice.screens if s.state == "open" and s.send in ("emergency", "same_day")]
    if still:
        yield "open, not excluded: " + ", ".join(still)
    negative = [s for s in advice.screens if s.state == "not_met"]
    if negative:
        yield "criteria not met on these answers (not excluded by them): " + ", ".join(s.name for s in negative)


def _latest(answers: Iterable[Answer]) -> dict[tuple[str, str], Answer]:
    return {(a.finding, a.side): a for a in answers}


def _findings(knowledge: Knowledge, state: CaseState) -> Iterator[str]:
    latest = _latest(state.answers).values()
    for value in ("present", "absent", "unknown"):
        names = []
        for answer in latest:
            if answer.value == value and answer.finding in knowledge.findings:
                name = knowledge.findings[answer.finding].name + of_side(answer.side)
                name += f" (sure {answer.sure:g})" if answer.sure is not None else ""
                names.append(name if answer.visit == state.visit else f"{name} (visit {answer.visit})")
        if names:
            yield f"{_SAID[value]}: " + "; ".join(names)


def _measured(knowledge: Knowledge, state: CaseState) -> Iterator[str]:
    for m in state.measurements:
        yield _measurement(knowledge, m) + f" ({m.phase}, {_from(state, m.visit)})"


def _measurement(knowledge: Knowledge, m: Measurement) -> str:
    record = knowledge.measures.get(m.measure)
    name, unit = (record.name, record.unit) if record else (m.measure, "")
    mean = sum(m.values) / len(m.values)
    trials = ", ".join(number(v) for v in m.values)
    detail = "; ".join(p for p in (f"trials {trials}" if len(m.values) > 1 else "", m.tool, m.setup) if p)
    return f"{name}{of_side(m.side)} {number(mean)} {unit}" + (f" [{detail}]" if detail else "")


def _done(knowledge: Knowledge, state: CaseState) -> Iterator[str]:
    for loop in state.loops:
        option = knowledge.options.get(loop.option)
        name = option.name if option else loop.option
        dose = loop.dose or "dose not recorded"
        yield f"{name}{of_side(loop.side)}: {dose}; {_ended(loop)} ({_from(state, loop.visit)})"
        if loop.against_advice:
            yield f"  given against advice: {loop.against_advice}"
        yield f"  {_consent(state, loop)}"
    for r in state.resolutions:
        screen = knowledge.screens.get(r.screen)
        yield (
            f"resolved {screen.name if screen else r.screen}: {r.done}; result {r.result}; read by {r.read_by}; "
            f"not excluded by it: {r.not_excluded} ({_from(state, r.visit)})"
        )
    for w in state.withdrawn:
        yield f"danger answer withdrawn: {w.finding}{of_side(w.side)}: {w.reason} ({_from(state, w.visit)})"


_VERDICTS = {
    "beyond": "change beyond measurement error and drift",
    "within": "change within measurement error and drift",
    "worse": "worse",
    "range_only": "range beyond error, function not",
    "no_comparison": "no comparison possible",
}


def _ended(loop: Loop) -> str:
    if loop.excused:
        return f"not retested: {loop.excused}"
    if not loop.retested:
        return "not retested yet"
    return "retest: " + _VERDICTS.get(loop.verdict or "", "no verdict")


def _consent(state: CaseState, loop: Loop) -> str:
    given = [c for c in state.consents if c.option == loop.option and c.visit == loop.visit]
    if not given:
        return "consent not recorded"
    latest = given[-1]
    if latest.withdrawn:
        return "consent given, later withdrawn"
    covered = ", ".join(c.replace("_", " ") for c in latest.covered)
    return ("agreed" if latest.agreed else "refused") + (f"; talked through: {covered}" if covered else "")


def _open_items(knowledge: Knowledge, state: CaseState, advice: Advice) -> Iterator[str]:
    if not advice.screening_complete:
        yield "the stop-now questions are not complete"
    for loop in state.loops:
        option = knowledge.options.get(loop.option)
        name = option.name if option else loop.option
        if not loop.retested and not loop.excused:
            yield f"{name}: not retested"
        if _consent(state, loop) == "consent not recorded":
            yield f"{name}: consent not recorded"
