"""After practice: what was counted, with the truth now known; and what is left to the mentor. Nothing is scored.

The learner's confidence is set beside the truth, because here the truth is known; for a real patient only what is
seen later could be set beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reasoner.case import events as ev
from reasoner.graph.scenario import Scenario
from reasoner.review.counted import Fault, hands_on, provoking_acts
from reasoner.review.page_one import PageOne, page_one
from reasoner.review.reading import Reading

__all__ = ["LEFT_TO_THE_MENTOR", "Debrief", "Said", "debrief", "missed", "said_of"]

LEFT_TO_THE_MENTOR = (
    "Did the story shape the examination, or was it the same for everybody?",
    "Was there a test that could have spoken against the favourite, and was it done?",
    "Did the vigour of testing and treating match how irritable it is?",
    "Was what the patient wants used: in the choice, the measure, the plan?",
)
_MAIN = ("restriction", "condition", "serious")


@dataclass(frozen=True, slots=True)
class Said:
    """An own judgement beside the truth. `right`: the hypothesis put first is true. `confidence`: their word for it."""

    hypothesis: str
    confidence: str
    right: bool
    seq: int


@dataclass(frozen=True, slots=True)
class Place:
    """One true cause: where the learner put it last (1 is first; None: not named), and the tool's chance at the end."""

    hypothesis: str
    own_place: int | None
    chance: float
    kind: str


@dataclass(frozen=True)
class Debrief:
    """The counted part. `missed`: screens of what is truly serious that were not met, or late."""

    page: PageOne
    scenario: Scenario
    places: tuple[Place, ...]
    said: tuple[Said, ...]
    missed: tuple[Fault, ...]
    not_told: tuple[str, ...]  # findings denied among others and never asked alone
    unheard: tuple[str, ...]  # headings of what they keep to themselves, never asked twice
    provoked: int
    bears: int

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What page one counts, missed screens first."""
        return self.page.faults


def debrief(reading: Reading, scenario: Scenario, page: PageOne | None = None) -> Debrief:
    """Count a practice trail against the hidden truth of its scenario. `page`: made with what `missed` found."""
    not_met = missed(reading, scenario)
    page = page if page is not None else page_one(reading, not_met)
    chance = page.moments[-1].chance if page.moments else {}
    last = reading.state.judgements[-1].ranked if reading.state.judgements else ()
    known = reading.knowledge.hypotheses
    places = tuple(
        Place(h, last.index(h) + 1 if h in last else None, chance.get(h, 0.0), known[h].list)
        for h in scenario.truth
        if known[h].list in _MAIN
    )
    return Debrief(
        page=page,
        scenario=scenario,
        places=places,
        said=said_of(reading, scenario),
        missed=not_met,
        not_told=tuple(_not_told(reading, scenario)),
        unheard=tuple(_unheard(reading, scenario)),
        provoked=provoking_acts(reading.knowledge, reading.state),
        bears=scenario.strain.bears,
    )


def said_of(reading: Reading, scenario: Scenario) -> tuple[Said, ...]:
    """Every own judgement with a first hypothesis, beside the truth."""
    return tuple(
        Said(r.event.ranked[0], r.event.confidence or "no word", r.event.ranked[0] in scenario.truth, r.seq)
        for r in reading.recorded
        if isinstance(r.event, ev.Judged) and r.event.ranked
    )


def missed(reading: Reading, scenario: Scenario) -> tuple[Fault, ...]:
    """Each true serious cause whose screens were met late or not at all. Nothing while the first visit is open."""
    return tuple(_missed(reading, scenario)) if reading.over else ()


def _missed(reading: Reading, scenario: Scenario) -> Iterator[Fault]:
    k = reading.knowledge
    for truth in scenario.truth:
        if k.hypotheses[truth].list != "serious":
            continue
        screens = {s.id for s in k.screens.values() if truth in s.hypotheses} | set(k.hypotheses[truth].screens)
        met_at, hands_at = _first_met(reading, screens), _first_hands(reading)
        name = k.hypotheses[truth].name
        step = k.hypotheses[truth].next_step
        if met_at is None:
            last = reading.recorded[-1].seq
            yield Fault(
                "danger", last, f"{name} was there; none of its criteria was brought out", f"{name} untreated", step
            )
        elif hands_at is not None and hands_at < met_at:
            yield Fault(
                "danger", met_at, f"{name}: its criteria came out only after hands were on", f"{name} worse", step
            )


def _first_met(reading: Reading, screens: set[str]) -> int | None:
    told = (ev.Answered, ev.BundleAnswered, ev.Measured)
    for one, state in reading.states():
        if isinstance(one.event, told):
            screening = reading.screening(state, one.at)
            if any(screening.result(s).state == "met" for s in screens):
                return one.seq
    return None


def _first_hands(reading: Reading) -> int | None:
    given = (r.seq for r in reading.recorded if isinstance(r.event, ev.Treated)
             and hands_on(reading.knowledge, r.event.option))  # fmt: skip
    return next(given, None)


def _not_told(reading: Reading, scenario: Scenario) -> Iterator[str]:
    """True, denied among others, and not standing as present anywhere in the record."""
    present = {a.finding for a in reading.state.answers if a.value == "present"}
    for finding, reply in scenario.answers.items():
        if reply.told == "plainly" and reply.value == "present" and finding not in present:
            yield reading.knowledge.findings[finding].name


def _unheard(reading: Reading, scenario: Scenario) -> Iterator[str]:
    for heading, words in scenario.hidden.items():
        if not any(n.heading == heading and n.text == words for n in reading.state.notes):
            yield heading.replace("_", " ")
