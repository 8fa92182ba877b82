"""Two scripted users of a simulated patient: one careful, one who plants known faults. Lines go through the desk.

After a line nothing but its own words is shown, and the knowledge is not archived with the trail: advice is worked out
only where a decision or a player asks for it, which is most of the time a session takes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from reasoner.advice.asking import BEFORE_HANDS, ask_first
from reasoner.consult.agenda import Ask
from reasoner.consult.sitting import Sitting
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import Scenario, scenario_digest, scenario_files
from reasoner.practice.begin import MovedClock, begin
from reasoner.practice.find import named
from reasoner.practice.patient import Patient
from reasoner.problems import InputRefused
from reasoner.prompt.practising import PracticeDesk
from reasoner.review.reading import Reading
from reasoner.safety.screens import Screening
from reasoner.views.page import Page
from reasoner.views.render import plain_lines

FOLDER = Path(__file__).parents[2] / "case_scenarios"
FILES = scenario_files(FOLDER / "patients")
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
MOST_QUESTIONS = 12
AT_A_LOOK = 4  # questions taken from one look at the advice


@dataclass
class Ticking:
    """Every look at the clock is five seconds later."""

    now: datetime = START

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=5)
        return self.now


@dataclass
class Quiet(PracticeDesk):
    """The desk without its stop messages and next question."""

    def _after(self, forced: Ask | None = None) -> None:
        """Nothing."""


@dataclass
class Game:
    """A practice case being played."""

    sitting: Sitting
    patient: Patient
    desk: PracticeDesk
    pages: list[Page]
    planted: set[str]

    def type(self, *lines: str) -> None:
        """Lines as in a script."""
        for line in lines:
            self.desk.left = False
            self.desk.line(line)

    @property
    def reading(self) -> Reading:
        return Reading.of_sitting(self.sitting.knowledge, self.sitting.trail.path, self.sitting.trail.entries)

    @property
    def screening(self) -> Screening:
        """The danger screens as they stand."""
        return Screening(Facts(self.sitting.knowledge, self.sitting.state, self.sitting.clock()))

    @property
    def stopped(self) -> bool:
        """Is an emergency or same-day screen met?"""
        now = self.screening
        urgent = [s.id for s in self.sitting.knowledge.screens.values() if s.send in BEFORE_HANDS]
        return any(now.result(s).state == "met" and now.result(s).closing for s in urgent)

    @property
    def said(self) -> str:
        return "\n".join(line for page in self.pages for line in plain_lines(page))


def scenario(name: str, knowledge: Knowledge) -> Scenario:
    return named(name, FOLDER, knowledge).scenario


def game(
    knowledge: Knowledge, home: Path, played: Scenario, *, seed: int = 1, case: str = "oak-heron-17", by: str = "KM"
) -> Game:
    clock = MovedClock(Ticking())
    data = FILES[played.id].read_bytes() if played.id in FILES else played.id.encode()
    bare = replace(knowledge, files={})
    sitting, patient = begin(
        bare, home, case, played, scenario_digest(data), seed, clock=clock, by=by, role="graduate"
    )
    pages: list[Page] = []
    desk = Quiet(sitting, pages.append, script=True, patient=patient, wait=clock.wait)
    desk.start()
    return Game(sitting, patient, desk, pages, set())


# ------------------------------------------------------------------------------------------------ the careful one


def expert(g: Game) -> None:
    """Danger first and one by one, the story twice, measures, what tells most, own judgement, one loop, a plan."""
    k = g.sitting.knowledge
    g.type("ask who", "ask history")
    for bundle in k.region.always_ask:
        own = all(g.patient.is_own_judgement(f) for f in bundle.findings)
        g.type(f"stop-now {bundle.id} no" if own else f"ask {bundle.id}")
        plainly = [f for f in bundle.findings if _hinted(g, f)]
        if not own and g.sitting.state.bundles[-1].value == "present":
            g.type("ask " + ", ".join(f for f in bundle.findings if f not in plainly))
        g.type(*(f"ask {f}" for f in plainly for _ in range(2)))
    g.type("ask problem", "ask goal", "ask goal", "ask worries", "ask worries", "ask irritability")
    _dangers(g)
    if not g.stopped:
        g.type("ask function_score, pain_at_sign, knee_to_wall")
        _most_telling(g)
    if g.stopped:
        g.type("handover to the doctor on duty; at 10:00; travel by taxi; told why", "close")
        return
    lead = next(h for h in g.sitting.advice.hypotheses if h.list == "limits")
    g.type(f"judge {lead.id}; fairly sure; would change if the signs did not move")
    good = [o for o in g.sitting.advice.options if o.lane == "try_now" and o.state in ("offered", "caution")]
    good = [o for o in good if o.value is not None and o.relevant]
    if good:
        best = max(good, key=lambda o: o.value or 0.0)
        g.type(f"treat {best.id}, agreed", "retest")
    g.type("conclusion: as measured, nothing beyond that", "home: the first of the list, twice a day", "close")


def _hinted(g: Game, finding: str) -> bool:
    """What a careful user hears behind a denial or a vague answer, and asks again plainly."""
    reply = g.patient.scenario.answers.get(finding)
    return reply is not None and (reply.told == "plainly" or bool(reply.vague))


def _dangers(g: Game) -> None:
    """What open danger screens still need, one by one."""
    asked: set[str] = set()
    for _ in range(MOST_QUESTIONS):
        waiting = [] if g.stopped else ask_first(g.screening.facts, g.screening)
        names = _askable(g, [q.id for q in waiting], asked)
        if not names:
            return
        _put(g, names[0], asked)


def _most_telling(g: Game) -> None:
    """What the tool would ask next, a few at a look, as long as the joint bears it."""
    asked: set[str] = set()
    for _ in range(MOST_QUESTIONS // AT_A_LOOK):
        names = _askable(g, [q.id for q in g.sitting.advice.questions], asked)
        for name in names[:AT_A_LOOK]:
            if not g.stopped and _askable(g, [name], asked):
                _put(g, name, asked)


def _askable(g: Game, names: list[str], asked: set[str]) -> list[str]:
    k = g.sitting.knowledge
    known = [n for n in names if n in k.findings or n in k.measures]
    return [n for n in known if n not in asked and not _hurts_too_much(g, n)]


def _put(g: Game, name: str, asked: set[str]) -> None:
    asked.add(name)
    own = name in g.sitting.knowledge.findings and g.patient.is_own_judgement(name)
    g.type(f"{name} -" if own else f"ask {name}")


def _hurts_too_much(g: Game, name: str) -> bool:
    k = g.sitting.knowledge
    record = k.findings.get(name) or k.measures.get(name)
    provokes = bool(getattr(record, "provokes", False))
    return provokes and g.patient.course.provoked(g.sitting.state) + 3 >= g.patient.scenario.strain.bears


# ------------------------------------------------------------------------------------------------ the careless one


def careless(g: Game) -> None:
    """Side and one number, a wrong idea held for sure, a technique against its gate, praise for nothing, no retest."""
    k = g.sitting.knowledge
    truth = set(g.patient.scenario.truth)
    wrong = next(h for h in ("forefoot_false_equinus", "fibular_position") if h not in truth)
    g.type("ask who", "ask function_score, pain_at_sign", f"judge {wrong}; very sure")
    useless = next(
        o.id
        for o in k.options.values()
        if o.lane == "try_now" and not set(o.acts_on) & truth and "thrust" not in o.load_classes
        and not any(g.patient.course.gain(o.id, m) for m in ("function_score", "pain_at_sign"))
    )  # fmt: skip
    g.type(f"consent {useless} yes", f"treat {useless} because it always helps", "retest")
    g.planted |= {"override", "skipped", "stopped_early", "first_idea"}
    if g.sitting.state.loops[-1].verdict != "beyond":
        g.type("conclusion: much better already")
        g.planted.add("within_claim")
    g.type(f"treat {useless} because once more cannot hurt", "excuse because no time left", f"judge {wrong}; sure")
    g.planted.add("open_loop")
    g.type("close")


def irritated(g: Game, times: int) -> None:
    """The same provoking test over and over on a sore joint, then one gentle loop."""
    g.type("ask who", "ask irritability", "ask function_score, pain_at_sign")
    for _ in range(times):
        g.type("ask forced_point_hurts")
    option = "calf_rolling"
    g.type(f"consent {option} yes", f"treat {option} because it is the gentlest there is", "retest", "close")


def refused(g: Game, line: str) -> str:
    """The refusal of a line; fails where it is taken."""
    try:
        g.type(line)
    except InputRefused as no:
        return str(no)
    raise AssertionError(f"taken: {line}")
