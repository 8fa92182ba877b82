"""A simulated patient answers: a question about something in, their words and what goes into the record out.

The patient never volunteers a truth that was not asked for beyond the story, may deny in a bundle what they tell when
asked alone, may be vague the first time, and may have had enough of being provoked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from random import Random
from typing import Literal

from reasoner.case.state import CaseState, Side, Value
from reasoner.consult import commands as c
from reasoner.consult.measuring import baseline_of, signs
from reasoner.consult.situation import Situation
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import Reply as Stated
from reasoner.graph.scenario import Scenario
from reasoner.measures.error import standard_error
from reasoner.practice.course import Course
from reasoner.practice.hidden import Hidden, draw
from reasoner.practice.person import OTHER

__all__ = ["TOLD_HEADINGS", "Asked", "Heard", "Patient"]

# headings that hold the patient's words; the others are the clinician's own
TOLD_HEADINGS = (
    "problem",
    "where",
    "eases",
    "day",
    "episode",
    "past",
    "health",
    "work",
    "goal",
    "worries",
    "straight_after",
    "that_night",
    "next_day",
    "unwanted",
    "home_done",
    "health_change",
)

Kind = Literal["finding", "bundle", "measure", "context", "text", "irritability", "flare"]
_WIDE = 40.0  # a measure whose possible range is wider is read to whole units, else to halves
_FIRST_TIME = "I would rather not say much about that."
_NOT_TOLD = "Nothing comes to mind."


@dataclass(frozen=True, slots=True)
class Asked:
    """One question. `name`: finding, bundle, measure, context name or heading. `alone`: asked by itself, plainly."""

    kind: Kind
    name: str
    alone: bool = True
    side: Side | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """Their words, empty where the record says it all, and what goes into the record; nothing if they refuse."""

    says: str
    commands: tuple[c.Command, ...] = ()


@dataclass(frozen=True)
class Patient:
    """One scenario with one seed. Everything depends on these and on the record so far."""

    scenario: Scenario
    knowledge: Knowledge
    seed: int

    @cached_property
    def hidden(self) -> Hidden:
        """What is true of them."""
        return draw(self.scenario, self.knowledge, self.seed)

    @cached_property
    def course(self) -> Course:
        """How their measures move."""
        return Course(self.scenario, self.knowledge, self.hidden)

    def story(self, state: CaseState) -> str:
        """What they say when they come in."""
        second = self.scenario.second_visit
        if state.visit > 1 and second is not None and "story" in second.texts:
            return second.texts["story"]
        return self.scenario.story

    def answer(self, asked: Asked, state: CaseState, now: datetime) -> Heard:
        """Their answer to one question, or what is found."""
        if asked.kind == "bundle":
            return self._bundle(asked.name, state)
        if asked.kind == "finding":
            return self._finding(asked, state)
        if asked.kind == "measure":
            return self._measure(asked, state, now)
        if asked.kind == "context":
            return self._context(asked.name)
        if asked.kind == "irritability":
            s = self.scenario
            command = c.StateIrritability(s.activity, s.effort, s.intensity, s.minutes)
            return Heard(f'"{s.activity}"' if s.activity else "", (command,))
        if asked.kind == "flare":
            return self._flare(state)
        return self._text(asked.name, state)

    def provokes(self, asked: Asked) -> bool:
        """Does answering it hurt?"""
        if asked.kind == "finding":
            return self.knowledge.findings[asked.name].provokes
        return asked.kind == "measure" and self.knowledge.measures[asked.name].provokes

    def is_own_judgement(self, finding: str) -> bool:
        """A question to the clinician, not to the patient: nothing brings it about and the scenario is silent."""
        return finding in self._judged_by_clinician and self._stated(finding, None) is None

    @cached_property
    def _judged_by_clinician(self) -> frozenset[str]:
        """Danger facts of stop-now questions that ask for none but facts no hypothesis brings about."""
        k = self.knowledge
        linked = {link.finding for h in k.hypotheses.values() for link in h.produces}
        linked |= {m.finding for g in k.groups.values() if g.id in linked for m in g.members}
        bundles = [b.findings for b in k.region.always_ask]
        return frozenset(f for b in bundles for f in b if all(k.findings[o].danger and o not in linked for o in b))

    # ------------------------------------------------------------------------------------------ findings

    def _stated(self, finding: str, state: CaseState | None) -> Stated | None:
        second = self.scenario.second_visit
        if state is not None and state.visit > 1 and second is not None and finding in second.answers:
            return second.answers[finding]
        return self.scenario.answers.get(finding)

    def _bundle(self, name: str, state: CaseState) -> Heard:
        bundle = next(b for b in self.knowledge.region.always_ask if b.id == name)
        own = [f for f in bundle.findings if self.is_own_judgement(f)]
        if bundle.findings and len(own) == len(bundle.findings):
            return Heard(f"That is yours to judge: stop-now {name} no, or name it: {own[0].replace('_', ' ')} +")
        context = [command for n in bundle.context for command in self._context(n).commands]
        told = [f for f in bundle.findings if self._told(f, state, alone=False)]
        value: Value = "present" if told else "absent"
        says = "Yes, one of those." if told else "No, none of those."
        return Heard(says, (*context, c.AnswerBundle(name, value)))

    def _told(self, finding: str, state: CaseState, *, alone: bool, side: str | None = None) -> bool:
        stated = self._stated(finding, state)
        if stated is not None and stated.told == "plainly" and not alone:
            return False
        if stated is not None and side in (None, self.scenario.person.side):
            return stated.value == "present"
        return self.hidden.is_present(finding, side or self.scenario.person.side)

    def _finding(self, asked: Asked, state: CaseState) -> Heard:
        record = self.knowledge.findings[asked.name]
        if record.composite is not None:
            return Heard(f"{record.name}: worked out from its own questions, not asked")
        if self.is_own_judgement(asked.name):
            return Heard(f"That is yours to judge: {record.name} + or -")
        if record.provokes and self.course.had_enough(state):
            return Heard(self.scenario.strain.says)
        stated = self._stated(asked.name, state)
        side: Side = "none" if not record.sided else asked.side or self.scenario.person.side
        if stated is not None and stated.vague and not self._asked_before(asked.name, state):
            return Heard(stated.vague, (c.Answer(asked.name, "unknown", side),))
        if stated is not None and stated.value == "unknown":
            return Heard(stated.says or "I do not know.", (c.Answer(asked.name, "unknown", side),))
        value: Value = "present" if self._told(asked.name, state, alone=asked.alone, side=side) else "absent"
        value = self._masked(asked.name, value, side) if stated is None else value
        if stated is None and self._cannot_be_answered(asked.name):
            return Heard("It cannot be told.", (c.Answer(asked.name, "unknown", side),))
        said = stated.says if stated is not None and stated.says and side != OTHER[self.scenario.person.side] else ""
        denied = stated is not None and stated.told == "plainly" and not asked.alone
        return Heard("" if denied or not said else f'"{said}"', (c.Answer(asked.name, value, side),))

    def _asked_before(self, finding: str, state: CaseState) -> bool:
        return any(a.finding == finding and a.visit == state.visit for a in state.answers)

    def _masked(self, finding: str, value: Value, side: Side) -> Value:
        """Pain-killers and lost feeling hide a sign."""
        if value == "absent":
            return value
        for masking in self.knowledge.maskings.values():
            hides = finding in masking.hides and self.hidden.is_present(masking.when, side)
            if hides and self._random("mask", finding).random() < self.knowledge.number(masking.mu):
                return "absent"
        return value

    def _cannot_be_answered(self, finding: str) -> bool:
        chance = self.knowledge.findings[finding].answerable
        return chance is not None and self._random("answerable", finding).random() > self.knowledge.number(chance)

    # ------------------------------------------------------------------------------------------ measures

    def _measure(self, asked: Asked, state: CaseState, now: datetime) -> Heard:
        record = self.knowledge.measures[asked.name]
        if record.derived:
            return Heard(f"{record.name}: worked out from {record.derived}")
        if record.provokes and self.course.had_enough(state):
            return Heard(self.scenario.strain.says)
        both = record.sided and record.kind not in ("pain", "function") and asked.side is None
        here: Side = asked.side or (self.scenario.person.side if record.sided else "none")
        sides: tuple[Side, ...] = (here, OTHER[here]) if both else (here,)
        commands = tuple(self.reading(asked.name, side, state, now) for side in sides)
        return Heard("", commands)

    def reading(self, measure: str, side: Side, state: CaseState, now: datetime) -> c.Measure:
        """Trials as the examiner reads them: the true value, the examiner's error of today, and reading to a step."""
        record = self.knowledge.measures[measure]
        true = self.course.value(state, measure, side, now)
        rated = record.kind in ("pain", "function")
        error = standard_error(record, record.tools[0].id if record.tools else None, trials=record.trials or 1)
        spread = 0.0 if error is None or rated else error.value * self.scenario.examiner_error
        times = sum(m.measure == measure and m.side == side for m in state.measurements)
        off = self._random("error", measure, side, times).gauss(0.0, spread) if spread else 0.0
        step = 1.0 if record.possible[1] - record.possible[0] > _WIDE else 0.5
        trials = []
        for trial in range(1 if rated else max(record.trials, 1)):
            wobble = self._random("trial", measure, side, times, trial).gauss(0.0, spread * 0.3) if spread else 0.0
            read = round((true + off + wobble) / step) * step
            trials.append(min(max(read, record.possible[0]), record.possible[1]))
        return c.Measure(measure, tuple(trials), None if side == "none" else side)

    def retest(self, case: Situation, side: Side) -> tuple[c.Measure, ...]:
        """The same signs again, as far as they were taken before and they let it be done."""
        found = []
        for sign in signs(case):
            record = case.knowledge.measures[sign]
            here: Side = side if record.sided else "none"
            if baseline_of(case, sign, here) is None or (record.provokes and self.course.had_enough(case.state)):
                continue
            found.append(self.reading(sign, here, case.state, case.stamp.now))
        return tuple(found)

    def _flare(self, state: CaseState) -> Heard:
        """How long it was worse after the visit before, as sore as they went home."""
        hours = round(self.course.soreness(state, state.visit - 1) * self.scenario.strain.lasts)
        return Heard("", (c.StateFlare(float(hours), "unknown" if hours else "absent"),))

    # ------------------------------------------------------------------------------------------ who, and words

    def _context(self, name: str) -> Heard:
        p = self.scenario.person
        command: c.Command
        if name in ("side", "age", "sex", "setting"):
            value = {"side": p.side, "age": float(p.age), "sex": p.sex, "setting": p.setting}[name]
            command = c.SetContext(name, value)  # type: ignore[arg-type]
        elif name.startswith("days_since."):
            anchor = name.partition(".")[2]
            command = c.SetAnchor(anchor, p.days_since.get(anchor), anchor not in p.days_since)
        elif name == "immobilised":
            command = c.SetImmobilised(p.immobilised_weeks is None, p.immobilised_weeks, p.immobilised_position or None)
        else:
            orders = p.orders if p.procedure else None
            command = c.SetSurgery(not p.procedure, p.procedure or None, None, p.weight_bearing or None, orders)
        return Heard("", (command,))

    def _text(self, heading: str, state: CaseState) -> Heard:
        s, second = self.scenario, self.scenario.second_visit
        texts = {**s.texts, **(second.texts if second is not None and state.visit > 1 else {})}
        if state.visit > 1 and heading == "home_done" and heading not in texts:
            texts[heading] = s.home.says or f"About {round(s.home.keeps_to * 10)} days of ten, if I am honest."
        if state.visit > 1 and heading in ("straight_after", "that_night", "next_day", "unwanted"):
            sore = self.course.soreness(state, state.visit - 1)
            texts.setdefault(heading, "Very sore, worse than before I came." if sore >= 1 else "It was all right.")
        if heading in s.hidden and heading not in texts:
            asked = any(n.heading == heading and n.visit == state.visit for n in state.notes)
            words = s.hidden[heading] if asked else _FIRST_TIME
            return Heard(words, (c.Write(heading, words),))
        words = texts.get(heading, _NOT_TOLD)
        return Heard(words, (c.Write(heading, words),))

    def _random(self, *about: object) -> Random:
        return Random(":".join(str(part) for part in (self.scenario.id, self.seed, *about)))
