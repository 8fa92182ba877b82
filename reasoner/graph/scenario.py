"""Simulated patients as records: what a scenario file holds, read strictly, checked against the knowledge.

A scenario holds the hidden truth and how the person tells of it. Nothing here is clinical knowledge: names are ids of
the pack, and every person is invented.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import NOWHERE, Place, Rule
from reasoner.graph.rules import steps, wrong_forms
from reasoner.graph.shape import reworded
from reasoner.problems import InputRefused, Problem, nearest

if TYPE_CHECKING:
    from pydantic import TypeAdapter

__all__ = [
    "SCENARIO_CODES", "Casemix", "Coherence", "Follows", "Frequency", "Home", "Implies", "Person", "Reply", "Response",
    "Scenario", "SecondVisit", "Strain", "check_scenario", "read_casemix", "read_coherence", "read_scenario",
    "scenario_digest", "scenario_files",
]

SCENARIO_CODES: Mapping[str, str] = {
    "X-NAME": "A scenario names something the knowledge does not have.",
    "X-TRUTH": "A scenario's hidden truth or person is empty or contradicts itself.",
}
_STRICT: dict[str, Any] = {"extra": "forbid", "strict": True}
Told = Literal["volunteered", "if_asked", "plainly"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """What is true of one finding and how the person tells it.

    volunteered: said with the story. if_asked: told when asked in any way. plainly: denied when it is one of several
    asked at once, told when asked alone. `vague`: what they say the first time; a second question gets the answer.
    """

    __pydantic_config__ = _STRICT
    value: Literal["present", "absent", "unknown"]
    told: Told = "if_asked"
    says: str = ""
    vague: str = ""
    other_side: Literal["present", "absent"] = "absent"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Who comes. `days_since`: by anchor; an anchor left out did not happen. Setting and side are ids."""

    __pydantic_config__ = _STRICT
    side: Literal["left", "right"]
    age: int
    sex: Literal["female", "male"]
    setting: str
    days_since: dict[str, int] = field(default_factory=dict)
    immobilised_weeks: float | None = None  # None: never in a cast or boot
    immobilised_position: str = ""
    procedure: str = ""  # empty: no operation
    weight_bearing: str = ""
    orders: Literal["known", "not_seen", "conflicting"] = "known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """What provoking tests do. Soreness (points of ten) = each x (acts beyond `bears`).

    `per_point`: what one point of soreness does to a measure, in its unit. `carries`: share left at the next visit.
    `lasts`: hours it stays worse after a visit, for each point.
    `stops_at`: acts after which the person lets nothing provoking be done any more that day; 0: never.
    """

    __pydantic_config__ = _STRICT
    bears: int = 6
    each: float = 0.2
    per_point: dict[str, float] = field(default_factory=dict)
    carries: float = 0.2
    lasts: float = 24.0
    stops_at: int = 0
    says: str = "That is enough for today. It hurts too much now."


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """What these options change in this person, in each measure's unit, the first time in a visit."""

    __pydantic_config__ = _STRICT
    options: tuple[str, ...]
    gain: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """What they really do at home: share of what was agreed, what a week of all of it changes, and what they say."""

    __pydantic_config__ = _STRICT
    keeps_to: float = 0.5
    gain_a_week: dict[str, float] = field(default_factory=dict)
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondVisit:
    """When they come back, what is different then, and what they tell (by heading)."""

    __pydantic_config__ = _STRICT
    days: int = 9
    answers: dict[str, Reply] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Follows:
    """Where a rule holds, a measure that is not stated lies between two values: its own, or beyond the other side's."""

    __pydantic_config__ = _STRICT
    when: Rule
    measure: str
    between: tuple[float, float]
    beyond_other_side: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Implies:
    """Where a rule holds, these findings are there too, unless the scenario states otherwise."""

    __pydantic_config__ = _STRICT
    when: Rule
    present: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coherence:
    """What cannot be true of one person at once, in the pack's rule grammar. Of what was drawn, something gives way."""

    __pydantic_config__ = _STRICT
    id: str = "coherence"
    region: str = ""
    basis: Literal["published", "practice", "recalled"] = "practice"
    note: str = ""
    implies: tuple[Implies, ...] = ()
    never: tuple[Rule, ...] = ()
    at_most_one: tuple[tuple[str, ...], ...] = ()
    follows: tuple[Follows, ...] = ()
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """A simulated patient: the hidden truth, the person, what they tell and how it goes on.

    `truth`: every hypothesis that is present; all others are absent. `measures`: true values by measure and side
    (left, right, or none), before treatment; what is not stated is drawn. `warm_up` and `sham`: what repetition and
    any hands change, in the measure's unit. `labels`: such as serious, enriched.
    """

    __pydantic_config__ = _STRICT
    id: str
    name: str
    level: Literal["easy", "medium", "hard"]
    region: str
    labels: tuple[str, ...] = ()
    trap: Literal["", "reassuring_sign", "wrong_label", "two_causes"] = ""
    teaches: str = ""  # what a mentor may discuss afterwards
    person: Person
    truth: tuple[str, ...]
    story: str
    texts: dict[str, str] = field(default_factory=dict)  # by heading: problem, goal, day, ...
    hidden: dict[str, str] = field(default_factory=dict)  # by heading: told only when asked a second time
    answers: dict[str, Reply] = field(default_factory=dict)
    measures: dict[str, dict[str, float]] = field(default_factory=dict)
    activity: str = ""
    effort: Literal["little", "some", "much"] = "some"
    intensity: float = 4.0
    minutes: float = 10.0
    strain: Strain = Strain()
    examiner_error: float = 1.0  # times the published error of each measure
    warm_up: dict[str, float] = field(default_factory=dict)
    sham: dict[str, float] = field(default_factory=dict)
    responses: tuple[Response, ...] = ()
    keeps: float = 0.5  # share of a gain still there at the next visit
    recovery_a_week: dict[str, float] = field(default_factory=dict)
    home: Home = Home()
    second_visit: SecondVisit | None = None
    noise: bool = False  # chance danger signs without a cause, as in a clinic; off in written scenarios
    coherence: Coherence = Coherence()  # laid on by whoever reads the scenario; the same for all of a region
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Frequency:
    """How often a setting is met, and what its people are like. `days`: range by anchor."""

    __pydantic_config__ = _STRICT
    setting: str
    weight: float
    days: dict[str, tuple[int, int]]
    age: tuple[int, int] = (18, 70)
    immobilised_weeks: tuple[int, int] | None = None
    procedure: str = ""
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Casemix:
    """What random patients are drawn from. The causes themselves follow the pack's base rates."""

    __pydantic_config__ = _STRICT
    id: str
    basis: Literal["published", "practice", "recalled"]
    note: str = ""
    settings: tuple[Frequency, ...]
    warm_up: dict[str, float] = field(default_factory=dict)
    sham: dict[str, float] = field(default_factory=dict)
    per_point: dict[str, float] = field(default_factory=dict)
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ reading


def scenario_files(folder: Path) -> dict[str, Path]:
    """Scenario id -> file: the written scenarios of a folder."""
    return {p.stem: p for p in sorted(folder.glob("*.yaml"))} if folder.is_dir() else {}


def scenario_digest(data: bytes) -> str:
    """What a practice trail quotes of the scenario file it was played on."""
    return hashlib.sha256(data).hexdigest()


def read_scenario(data: bytes, file: str, knowledge: Knowledge) -> Scenario:
    """The scenario of one file. InputRefused with every problem, each with its line."""
    scenario: Scenario = _read(Scenario, data, file)
    problems = list(check_scenario(scenario, knowledge))
    if problems:
        raise InputRefused(problems)
    return scenario


def read_casemix(data: bytes, file: str, knowledge: Knowledge) -> Casemix:
    """What random patients are drawn from. InputRefused with every problem."""
    mix: Casemix = _read(Casemix, data, file)
    settings = [s.setting for s in mix.settings]
    problems = list(_unknown(settings, knowledge.settings, "setting", mix.place, "settings"))
    if problems:
        raise InputRefused(problems)
    return mix


def read_coherence(data: bytes, file: str, knowledge: Knowledge) -> Coherence:
    """What hangs together in a person. InputRefused with every name the pack does not have and every form it cannot."""
    made: Coherence = _read(Coherence, data, file)
    problems = list(_check_coherence(made, knowledge)) if made.region == knowledge.region.id else []
    if problems:
        raise InputRefused(problems)
    return made


def _check_coherence(made: Coherence, knowledge: Knowledge) -> Iterator[Problem]:
    place = made.place
    groups = (*made.at_most_one, *(i.present for i in made.implies))
    yield from _unknown([f for group in groups for f in group], knowledge.findings, "finding", place, "at_most_one")
    yield from _unknown([f.measure for f in made.follows], knowledge.measures, "measure", place, "follows")
    for rule in (*made.never, *(i.when for i in made.implies), *(f.when for f in made.follows)):
        yield from (Problem("X-NAME", w.message, w.hint, *place.whereabouts(*w.path)) for w in wrong_forms(rule))
        named = [s.rule for s in steps(rule) if isinstance(s.rule, str)]
        yield from _unknown(named, knowledge.findings, "finding", place, "never")


def _read(cls: type, data: bytes, file: str) -> Any:
    from pydantic import ValidationError

    from reasoner.graph.source import parse

    document, problems = parse(data, file)
    if document is None or problems:
        raise InputRefused(problems)
    place = Place(file, 1, document.lines)
    if not isinstance(document.value, dict):
        raise InputRefused([Problem("S-RECORD", "found no key: value lines", "", file, 1)])
    try:
        made = _adapter(cls).validate_json(json.dumps(document.value))
    except ValidationError as error:
        complaints = reworded(cls, document.value, [dict(e) for e in error.errors(include_url=False)])
        raise InputRefused(
            Problem(c.code, c.message, c.hint, *place.whereabouts(*c.path)) for c in complaints
        ) from None
    object.__setattr__(made, "place", place)  # frozen for everyone but the reader
    return made


@cache
def _adapter(cls: type) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter

    return TypeAdapter(cls)


# ------------------------------------------------------------------------------------------------ checking


def check_scenario(scenario: Scenario, knowledge: Knowledge) -> Iterator[Problem]:
    """Every name is one of the pack's, and the truth is not empty."""
    place, k = scenario.place, knowledge
    second = scenario.second_visit
    yield from _unknown(scenario.truth, k.hypotheses, "hypothesis", place, "truth")
    yield from _unknown([scenario.person.setting], k.settings, "setting", place, "person", "setting")
    yield from _unknown(scenario.answers, k.findings, "finding", place, "answers")
    later = dict(second.answers) if second is not None else {}
    yield from _unknown(later, k.findings, "finding", place, "second_visit")
    tables: tuple[Mapping[str, Any], ...] = (
        scenario.measures, scenario.warm_up, scenario.sham, scenario.recovery_a_week, scenario.strain.per_point,
        scenario.home.gain_a_week, *(r.gain for r in scenario.responses),
    )
    yield from _unknown({m for table in tables for m in table}, k.measures, "measure", place, "measures")
    options: set[str] = {o for r in scenario.responses for o in r.options}
    yield from _unknown(options, k.options, "option", place, "responses")
    if scenario.person.procedure:
        procedures = {p.id: p for p in k.region.procedures}
        yield from _unknown([scenario.person.procedure], procedures, "procedure", place, "person", "procedure")
    if not scenario.truth:
        yield Problem("X-TRUTH", "no hypothesis is true", "name at least one", *place.whereabouts("truth"))
    for measure, sides in scenario.measures.items():
        wanted = {"left", "right"} if measure in k.measures and k.measures[measure].sided else {"none"}
        if set(sides) - wanted:
            message = f"measures: {measure}: sides are {', '.join(sorted(wanted))}"
            yield Problem("X-NAME", message, "", *place.whereabouts("measures", measure))


def _unknown(
    names: Iterable[str], known: Mapping[str, Any], kind: str, place: Place, *path: str
) -> Iterator[Problem]:
    for name in names:
        if name not in known:
            near = nearest(name, known, 1)
            hint = f"did you mean {near[0]}?" if near else ""
            yield Problem("X-NAME", f"no {kind} is called {name}", hint, *place.whereabouts(*path, name))
