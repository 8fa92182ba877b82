"""What would be different: with one answer changed, with other knowledge, or between two trails on one patient."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from reasoner.advice.advise import advise
from reasoner.advice.records import Advice
from reasoner.case import events as ev
from reasoner.case.apply import replay
from reasoner.case.events import Recorded
from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused, Problem
from reasoner.review.page_one import PageOne
from reasoner.review.reading import Reading

__all__ = ["Difference", "Pair", "between", "side_by_side", "what_if", "with_knowledge"]

_CHANGES = ("present", "absent", "unknown", "not-asked")
_LISTS = ("limits", "injured_or_ill", "must_not_miss")
_SHOWN = 3
_NOTICEABLE = 0.05


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is otherwise. `kind`: screen, lead, chance, option."""

    kind: Literal["screen", "lead", "chance", "option", "answers"]
    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Pair:
    """One row of two trails side by side."""

    what: str
    first: str
    second: str


def what_if(reading: Reading, change: str, at: int | None = None) -> tuple[Difference, ...]:
    """`N present|absent|unknown|not-asked`: the advice at the end (or at line `at`) had line N been so."""
    words = change.split()
    if len(words) != 2 or not words[0].isdecimal() or words[1] not in _CHANGES:
        hint = f"write a line and what it would have been: 12 absent ({', '.join(_CHANGES)})"
        raise InputRefused([Problem("", f"'{change}' is not a change", hint)])
    seq = int(words[0])
    end = reading.recorded[-1].seq if at is None else at
    target = next((r for r in reading.recorded if r.seq == seq), None)
    if target is None or not isinstance(target.event, (ev.Answered, ev.BundleAnswered)):
        raise InputRefused([Problem("", f"line {seq} is no answer", "--timeline shows the numbers", str(reading.path))])
    state = replay(_changed(r, seq, words[1]) for r in reading.recorded if r.seq <= end)
    now = reading.at(end).at
    before = advise(reading.knowledge, reading.state_at(end), now)
    return between(before, advise(reading.knowledge, state, now))


def _changed(recorded: Recorded, seq: int, value: str) -> Recorded:
    if recorded.seq != seq:
        return recorded
    event = recorded.event
    if value == "not-asked":
        return replace(recorded, event=ev.Resumed())  # changes nothing
    if isinstance(event, ev.Answered):
        return replace(recorded, event=replace(event, value=value, sure=None))  # type: ignore[arg-type]
    assert isinstance(event, ev.BundleAnswered)
    return replace(recorded, event=replace(event, value=value))  # type: ignore[arg-type]


def with_knowledge(reading: Reading, other: Knowledge, at: int | None = None) -> tuple[Difference, ...]:
    """The advice at the end (or at line `at`) with other knowledge."""
    end = reading.recorded[-1].seq if at is None else at
    state, now = reading.state_at(end), reading.at(end).at
    lost = sorted({a.finding for a in state.answers if a.finding not in other.findings
                   and a.finding not in other.now_called})  # fmt: skip
    found = between(advise(reading.knowledge, state, now), advise(other, state, now))
    return (*(Difference("answers", name, "read", "not known to it: read over") for name in lost), *found)


def between(before: Advice, after: Advice) -> tuple[Difference, ...]:
    """Screens, leads, chances and options that are otherwise. Empty: the same on all of these."""
    return (*_screens(before, after), *_leads(before, after), *_chances(before, after), *_options(before, after))


def _screens(before: Advice, after: Advice) -> list[Difference]:
    was = {s.id: s for s in before.screens}
    now = {s.id: s for s in after.screens}
    found = []
    for ident in dict.fromkeys((*was, *now)):
        one, other = was.get(ident), now.get(ident)
        states = [s.state.replace("_", " ") if s is not None else "not there" for s in (one, other)]
        if states[0] != states[1]:
            found.append(Difference("screen", (other or one).name, *states))  # type: ignore[union-attr]
    return found


def _leads(before: Advice, after: Advice) -> list[Difference]:
    found = []
    for kind in _LISTS[:2]:
        was, now = ([h.name for h in a.hypotheses if h.list == kind][:1] for a in (before, after))
        if was != now:
            found.append(Difference("lead", kind.replace("_", " "), *(n[0] if n else "none" for n in (was, now))))
    return found


def _chances(before: Advice, after: Advice) -> list[Difference]:
    was = {h.id: h.chance for h in before.hypotheses}
    moved = [(abs(h.chance - was[h.id]), h) for h in after.hypotheses
             if h.id in was and h.list in _LISTS and abs(h.chance - was[h.id]) >= _NOTICEABLE]  # fmt: skip
    moved.sort(key=lambda pair: -pair[0])
    return [Difference("chance", h.name, f"{was[h.id]:.2f}", f"{h.chance:.2f}") for _, h in moved[:_SHOWN]]


def _options(before: Advice, after: Advice) -> list[Difference]:
    was = {o.id: o.state for o in before.options}
    return [
        Difference("option", o.name, was[o.id].replace("_", " "), o.state.replace("_", " "))
        for o in after.options
        if o.id in was and was[o.id] != o.state and o.lane == "try_now"
    ][:8]


def side_by_side(one: PageOne, other: PageOne) -> tuple[Pair, ...]:
    """Two trails on the same patient: what each asked, thought, did and left open."""
    if _patient(one.reading.state) != _patient(other.reading.state):
        message = "these two trails are not on the same simulated patient"
        raise InputRefused([Problem("", message, "side by side needs one scenario and one seed")])
    pairs = [Pair("by", *(f"{p.clinician} ({p.role})" for p in (one, other))),
             Pair("minutes", *(str(p.minutes) for p in (one, other))),
             Pair("asked and measured", *(str(len(_asked(p.reading))) for p in (one, other))),
             Pair("only here", _only(one.reading, other.reading), _only(other.reading, one.reading)),
             Pair("first idea", *(_idea(p) for p in (one, other))),
             Pair("loops, retested", *(f"{p.treated}, {p.retested}" for p in (one, other)))]  # fmt: skip
    for code in dict.fromkeys(f.code for p in (one, other) for f in p.faults):
        title = next(f.title for p in (one, other) for f in p.faults if f.code == code)
        pairs.append(Pair(title, *(_count(p.of(code)) for p in (one, other))))
    return tuple(pairs)


def _patient(state: CaseState) -> tuple[str, int] | None:
    found = [r.event for r in state.log if isinstance(r.event, ev.PatientSimulated)]
    return (found[0].scenario, found[0].seed) if found else None


def _asked(reading: Reading) -> dict[str, None]:
    told = [a.finding for a in reading.state.answers] + [m.measure for m in reading.state.measurements]
    return dict.fromkeys(told)


def _only(reading: Reading, other: Reading) -> str:
    k = reading.knowledge
    mine = [n for n in _asked(reading) if n not in _asked(other)]
    names = [k.findings[n].name if n in k.findings else k.measures[n].name if n in k.measures else n for n in mine]
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "") or "nothing"


def _idea(page: PageOne) -> str:
    if page.idea is None:
        return "none written"
    names = page.reading.knowledge.hypotheses
    return names[page.idea.first].name + (", kept" if page.idea.kept else f", then {names[page.idea.last].name}")


def _count(faults: Sequence[object]) -> str:
    return str(len(faults)) if faults else "none"
