"""The desk with a simulated patient: `ask NAME` and the usual lines without a value; the patient gives the value.

Keys in, questions and commands out: what the patient answers is decided in `practice`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from reasoner.case.state import Side
from reasoner.consult import commands as c
from reasoner.consult.agenda import Ask
from reasoner.consult.noting import HEADINGS
from reasoner.consult.treating import open_loop
from reasoner.graph.knowledge import plain
from reasoner.practice.patient import TOLD_HEADINGS, Asked, Patient
from reasoner.problems import InputRefused
from reasoner.prompt.desk import Desk
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Refused, Unclear
from reasoner.prompt.shorthand import parse
from reasoner.prompt.tokens import SIDES
from reasoner.views.page import Page, Para
from reasoner.views.question import question

__all__ = ["HELP", "PracticeDesk"]

HELP = (
    "They answer: ask NAME, or NAME alone; several with commas; ask who, ask stop-now, ask goal. Asked alone, people "
    "sometimes tell what they deny among others. retest takes the same signs again. close ends the visit; new visit "
    "lets the days pass."
)
_WHO = ("side", "age", "sex", "setting")
_HISTORY = ("days_since.injury", "days_since.symptoms", "immobilised", "days_since.cast_off", "surgery",
            "days_since.surgery", "days_since.union_on_film")  # fmt: skip
_CONTEXT = {
    **{n: (n,) for n in _WHO}, "who": _WHO, "history": _HISTORY, "when": ("days_since.injury", "days_since.symptoms"),
    "injury": ("days_since.injury",), "symptoms": ("days_since.symptoms",), "cast off": ("days_since.cast_off",),
    "union": ("days_since.union_on_film",), "cast": ("immobilised",), "boot": ("immobilised",),
    "immobilised": ("immobilised",), "surgery": ("surgery",), "operation": ("surgery", "days_since.surgery"),
    "orders": ("surgery",),
}  # fmt: skip
_GIVEN_BY_PATIENT = (c.Measure, c.SetContext, c.SetAnchor, c.SetImmobilised, c.SetSurgery, c.StateIrritability,
                     c.StateFlare)  # fmt: skip
_HOW = "the patient answers: ask NAME"
_ENTER = "[enter] asks this; or: ask NAME"


@dataclass
class PracticeDesk(Desk):
    """A desk whose patient is simulated. `wait` lets days pass before the next visit."""

    patient: Patient = field(kw_only=True)
    wait: Callable[[int], None] = field(kw_only=True)

    def start(self) -> None:
        """What they say when they come in, then as usual."""
        self.show((Para(f'"{self.patient.story(self.sitting.state)}"'), Para(HELP, tone="quiet")))
        super().start()

    def question(self) -> Page:
        """The current question; what is for the patient to answer is asked with Enter."""
        theirs = self.ask is not None and bool(self._of(self.ask))
        shown = replace(self.ask, hint=_ENTER) if self.ask is not None and theirs else self.ask
        return question(shown, self.sitting.knowledge, self.position)

    def line(self, text: str) -> None:
        """Take one line: a question to the patient, or what the desk takes itself."""
        try:
            if self.pending is None and self._heard(text.strip()):
                return
        except Refused as refusal:
            self._complain(refusal.problem)
            return
        super().line(text)

    def _heard(self, text: str) -> bool:
        """Was it for the patient? Raises Refused where it cannot be asked."""
        word = plain(text)
        if word in ("", "ask") and self.ask is not None:
            asked = self._of(self.ask)
            if asked:
                self._put(asked)
                return True
        if word == "retest":
            self._retest()
            return True
        if word == "new visit" and self.sitting.situation.open_visit is None:
            second = self.patient.scenario.second_visit
            self.wait(second.days if second is not None else 7)
            super().line(text)
            self.show((Para(f'"{self.patient.story(self.sitting.state)}"'),))
            return True
        match = re.match(r"ask\b[:,]?\s*(.+)", text, re.IGNORECASE)
        if match is not None:
            self._put(self._questions(match[1]))
            return True
        if word and self._exact(text) is not None:
            self._put(self._questions(text))
            return True
        self._check(text)
        return False

    # ---------------------------------------------------------------------------------------------- questions

    def _questions(self, text: str) -> list[Asked]:
        parts = [p.strip() for p in re.split(r"[,;]", text) if p.strip()]
        found: list[Asked] = []
        for part in parts:
            questions = self._exact(part)
            if questions is None:
                raise self._nothing_called(part)
            found += questions
        alone = len(found) == 1
        return [Asked(q.kind, q.name, alone, q.side) for q in found]

    def _exact(self, text: str) -> list[Asked] | None:
        """What is asked by this name; None if nothing is called that."""
        tokens = text.lower().split()
        sides = [SIDES[t] for t in tokens if t in ("left", "right")]
        name = plain(" ".join(t for t in tokens if t not in ("left", "right")) if len(tokens) > 1 else text)
        side: Side | None = {"left": "left", "right": "right"}.get(sides[0]) if sides else None  # type: ignore[assignment]
        bundles = [b.id for b in self.sitting.knowledge.region.always_ask]
        if name in ("stop now", "stopnow"):
            return [Asked("bundle", b) for b in bundles]
        name = name.removeprefix("stop now ")
        under = name.replace(" ", "_")
        if under in bundles:
            return [Asked("bundle", under)]
        if name in _CONTEXT:
            return [Asked("context", n) for n in _CONTEXT[name]]
        if name == "irritability":
            return [Asked("irritability", name)]
        if name == "flare":
            return [Asked("flare", name)]
        if under in HEADINGS:
            return [Asked("text", under)] if under in TOLD_HEADINGS else None
        lexicon = Lexicon(self.sitting.knowledge, self.sitting.state)
        measure, finding = lexicon.exact("measure", name), lexicon.exact("finding", name)
        if measure is not None:
            return [Asked("measure", measure, side=side)]
        return [Asked("finding", finding, side=side)] if finding is not None else None

    def _nothing_called(self, part: str) -> Refused:
        lexicon = Lexicon(self.sitting.knowledge, self.sitting.state)
        near = [n.name for kind in ("finding", "measure") for n in lexicon.near(kind, part)][:3]
        return Refused(f"nothing to ask is called '{part}'", f"nearest: {', '.join(near)}" if near else "help names")

    def _of(self, ask: Ask) -> list[Asked]:
        """The suggested question, as what to ask the patient; empty where it is the clinician's."""
        if ask.kind == "facts":
            return [Asked("finding", name, alone=False) for name in ask.name.split(",")]
        if ask.kind in ("bundle", "measure", "irritability", "flare"):
            return [Asked(ask.kind, ask.name)]
        if ask.kind == "finding" and not self.patient.is_own_judgement(ask.name):
            return [Asked("finding", ask.name)]
        if ask.kind == "context":
            return [Asked("context", ask.name if ask.name != "orders" else "surgery")]
        return [Asked("text", ask.name)] if ask.kind == "text" and ask.name in TOLD_HEADINGS else []

    def _put(self, questions: list[Asked]) -> None:
        """Answers of one line are recorded together; one that provokes is felt before the next is asked."""
        given: list[c.Command] = []
        for asked in questions:
            if given and self.patient.provokes(asked):
                self.submit(*given)
                given = []
            heard = self.patient.answer(asked, self.sitting.state, self.sitting.clock())
            if heard.says:
                self.show((Para(heard.says),))
            given += heard.commands
        if given:
            self.submit(*given)

    def _retest(self) -> None:
        situation = self.sitting.situation
        loop = open_loop(situation)
        if loop is None:
            raise Refused("nothing waits for a retest", "a treatment comes first: treat ...")
        taken = self.patient.retest(situation, loop.side)
        if not taken:
            raise Refused(self.patient.scenario.strain.says, "excuse because ...")
        self.submit(c.Retest(taken))

    # ---------------------------------------------------------------------------------------------- not theirs

    def _check(self, text: str) -> None:
        """A line that would answer for the patient is refused."""
        try:
            line = parse(text, self.sitting.knowledge, self.sitting.state, None if self.script else self.ask)
        except (Refused, Unclear, InputRefused):
            return  # the desk says what is wrong with it
        for command in line.commands:
            if self._for_the_patient(command):
                raise Refused("in practice you do not answer for them", _HOW)

    def _for_the_patient(self, command: c.Command) -> bool:
        if isinstance(command, c.Answer):
            own = self.patient.is_own_judgement(command.finding)
            return not own and command.value != "unknown" and not command.reason
        if isinstance(command, c.AnswerBundle):
            bundle = next(b for b in self.sitting.knowledge.region.always_ask if b.id == command.bundle)
            own = all(self.patient.is_own_judgement(f) for f in bundle.findings)
            return not own and command.value != "unknown"
        if isinstance(command, c.Retest):
            return bool(command.measures)
        if isinstance(command, c.Write):
            return command.heading in TOLD_HEADINGS
        return isinstance(command, _GIVEN_BY_PATIENT)
