"""One line in, everything that follows from it out: the same for a terminal and for a script.

It parses, submits, shows; it decides nothing. In a script every open end is a refusal that stops it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from reasoner.advice.why import asked_not, explainable
from reasoner.case.events import VisitClosed
from reasoner.consult.agenda import Ask, all_asks, ask_on, next_ask, unfinished
from reasoner.consult.commands import Command, Consent, Treat
from reasoner.consult.handing import END_PARTS, HAND_PARTS, ORDER_PARTS
from reasoner.consult.resolving import PARTS
from reasoner.consult.sitting import Outcome, Sitting
from reasoner.consult.treating import COVER_KEYS, COVERED
from reasoner.problems import InputRefused, Problem
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Line, Refused, Unclear, View
from reasoner.prompt.pending import (
    Choice,
    NeedsConsent,
    NeedsRecheck,
    NeedsText,
    Pending,
    as_rechecked,
    with_consent,
    with_part,
)
from reasoner.prompt.shorthand import accepted, parse
from reasoner.prompt.verbs import covered_by
from reasoner.views import asked, consenting
from reasoner.views.page import Block, Page, Para
from reasoner.views.question import question
from reasoner.views.screens import alert, noticed, screens_line, stops

__all__ = ["Desk"]

_ASKED_PARTS = PARTS | HAND_PARTS | ORDER_PARTS | END_PARTS  # words a command lacks, asked one by one
_TAKEN_BY_ENTER = ("signs", "act", "exam")  # plans; never a fact, never consent
_EXPLAINED = ("hypothesis", "option", "screen", "finding")
_STUCK = 2  # refusals at one question, after which the ways out are named
_MAY_BE_UNKNOWN = ("context", "bundle", "finding", "facts", "flare")
_RECHECK = "Checked, and the same again? y, or type the retest anew"
_NO_CONSENT = "y: agreed; n: not agreed; anything else, an empty line too, is no consent"
_MOST_NEAR = 5
Show = Callable[[Page], None]


@dataclass
class Desk:
    """A sitting with its current question. `script`: no question is current, and nothing is asked back."""

    sitting: Sitting
    show: Show
    script: bool = False
    left: bool = False
    to_read: bool = False  # the last line said what stays open: to be read before the screen is emptied
    ask: Ask | None = None
    pending: Pending | None = None
    position: str = ""
    shown: Ask | None = None  # the question on the screen
    at_bedside: Callable[[View], None] = lambda view: None  # cover and hold: only where there is a terminal
    _skipped: set[str] = field(default_factory=set)
    _alerted: frozenset[str] = frozenset()
    _complete: bool = False
    _stopped_in: int = 0  # the visit in which a stop has interrupted; what follows is said in its turn
    _refusals: int = 0
    _refused_at: str = ""

    def start(self) -> None:
        """The state of affairs, then the first question."""
        self._after()

    def question(self) -> Page:
        """The current question, as shown before a line is typed."""
        again, self.shown = self.ask == self.shown, self.ask
        return question(self.ask, self.sitting.knowledge, self.position, again=again)

    # ---------------------------------------------------------------------------------------------- a line

    def line(self, text: str) -> None:
        """Take one line. InputRefused in a script, if it cannot be used; in a terminal it is said and asked again."""
        try:
            self._take(text)
        except Refused as refusal:
            self._complain(refusal.problem)
        except Unclear as unclear:
            self._propose(text, unclear, {})
        except InputRefused as refused:  # the record could not be written: nothing of the line was acknowledged
            if self.script:
                raise
            self.show(tuple(Para(str(p), tone="danger") for p in refused.problems))
            self._after()

    def _take(self, text: str) -> None:
        pending, self.pending = self.pending, None
        if pending is not None and self._continue(pending, text.strip()):
            return
        if not text.strip() and self.ask is not None and self.ask.kind in _TAKEN_BY_ENTER and not self.script:
            self._do(accepted(self.ask))
            return
        self._do(self._parse(text, {}))

    def _parse(self, text: str, chosen: dict[tuple[str, str], str]) -> Line:
        return parse(text, self.sitting.knowledge, self.sitting.state, None if self.script else self.ask, chosen)

    def _do(self, line: Line) -> None:
        """Record the commands, then show what is asked for."""
        if line.commands:
            outcome = self.sitting.submit(line.commands)
            if outcome.refused:
                self._unfinished(line, outcome)
                return
            self.show(tuple(Para(said) for said in outcome.says))
            self.to_read = any(isinstance(r.event, VisitClosed) and r.event.open_items for r in outcome.recorded)
            if self.ask is not None and self.ask.position:
                self.position = self.ask.position
        if line.view is not None:
            self._look(line.view)
        if line.commands or (line.view is not None and line.view.name in ("next", "skip")):
            self._after(forced=self._forced(line.view))

    def _complain(self, problem: Problem) -> None:
        if self.script:
            raise InputRefused([problem])
        about = self.ask.id if self.ask is not None else ""
        self._refusals = self._refusals + 1 if about == self._refused_at else 1
        self._refused_at = about
        blocks: list[Block] = [Para(str(problem), tone="caution")]
        if self._refusals >= _STUCK and self.ask is not None:
            unknown = "? = asked, not known; " if self.ask.kind in _MAY_BE_UNKNOWN else ""
            blocks.append(Para(f"{unknown}skip leaves it open; help shows what can be typed", tone="quiet"))
        self.show(tuple(blocks))

    # ---------------------------------------------------------------------------------------------- open ends

    def _propose(self, text: str, unclear: Unclear, chosen: dict[tuple[str, str], str]) -> None:
        if self.script:
            raise InputRefused([unclear.problem])
        self.pending = Choice(text, unclear, chosen)
        self.show(asked.choice(unclear.kind, unclear.word, tuple(c.name for c in unclear.candidates)))

    def _unfinished(self, line: Line, outcome: Outcome) -> None:
        """A refusal that lacks something: in a terminal it is asked for."""
        needs = outcome.needs[0] if outcome.needs else ""
        treat = next((c for c in line.commands if isinstance(c, Treat)), None)
        if needs == "recheck" and not self.script:
            self.pending = NeedsRecheck(line.commands, line.view)
            self.show((Para(outcome.problems[0].message, tone="caution"), Para(_RECHECK, tone="strong")))
            return
        if self.script or (needs != "consent" and needs not in _ASKED_PARTS):
            self._complain(outcome.problems[0])
        if needs == "consent" and treat is not None:
            self.pending = NeedsConsent(line.commands, treat.option, line.view)
            self.show(consenting.page(self.sitting.situation, treat.option))
        elif needs == "reason":
            self._ask_part(line, "reason", "Why? (an empty line leaves it as it was)")
        elif needs in _ASKED_PARTS:
            self.show(tuple(Para(said) for said in outcome.says))
            self._ask_part(line, needs, _ASKED_PARTS[needs])
        elif needs == "judgement":
            self._after()
        elif needs == "stall":  # the three answers may be given at once, without their word of command
            self.ask = next((a for a in all_asks(self.sitting.situation) if a.kind == "stall"), self.ask)

    def _ask_part(self, line: Line, part: str, ask: str) -> None:
        self.pending = NeedsText(line.commands, part, ask, line.view)
        self.show((Para(ask, tone="strong"),))

    def _continue(self, pending: Pending, text: str) -> bool:
        """Use the line for what was open; False if it is something else."""
        if isinstance(pending, Choice):
            return self._choose(pending, text)
        if isinstance(pending, NeedsConsent):
            return self._consent(pending, text)
        if isinstance(pending, NeedsRecheck):
            return self._recheck(pending, text)
        if not text:
            self.show((Para("left as it was", tone="quiet"),))
            return True
        if self._is_line(text):
            return False
        self._do(Line(with_part(pending.commands, pending.part, text), pending.view))
        return True

    def _recheck(self, pending: NeedsRecheck, text: str) -> bool:
        if text.lower() in ("y", "yes"):
            self._do(Line(as_rechecked(pending.commands), pending.view))
            return True
        if text.lower() in ("n", "no", ""):
            self.show((Para("not recorded; the retest is still open", tone="quiet"),))
            return True
        again = self._parse(text, {})
        self._do(Line(as_rechecked(again.commands), again.view))
        return True

    def _is_line(self, text: str) -> bool:
        """A line of its own, not the words that were asked for: it must not become somebody's reason."""
        try:
            parse(text, self.sitting.knowledge, self.sitting.state)
        except (Refused, Unclear):
            return False
        return True

    def _choose(self, pending: Choice, text: str) -> bool:
        candidates = pending.unclear.candidates
        number = 1 if text.lower() in ("y", "yes") and len(candidates) == 1 else int(text) if text.isdecimal() else 0
        if not 1 <= number <= len(candidates):
            if text.lower() in ("n", "no", ""):
                self.show((Para("nothing recorded", tone="quiet"),))
                return True
            return False
        key = (pending.unclear.kind, pending.unclear.word)
        chosen = {**pending.chosen, key: candidates[number - 1].id}
        try:
            self._do(self._parse(pending.line, chosen))
        except Unclear as unclear:
            self._propose(pending.line, unclear, chosen)
        return True

    def _consent(self, pending: NeedsConsent, text: str) -> bool:
        *letters, last = text.lower().split() or [""]
        said = "".join(letters)
        if last in ("y", "yes") and set(said) <= set(COVER_KEYS):
            covered = covered_by(said) if said else COVERED
            self._do(Line(with_consent(pending.commands, pending.option, covered), pending.view))
            return True
        if last in ("n", "no") and set(said) <= set(COVER_KEYS):
            self._do(Line((Consent(pending.option, "refused"),)))
            return True
        if text and self._is_line(text):
            return False
        self.pending = pending  # never taken for the story that was being asked for before
        self.show((Para(_NO_CONSENT, tone="quiet"),))
        return True

    # ---------------------------------------------------------------------------------------------- after it

    def _forced(self, view: View | None) -> Ask | None:
        if view is None or view.name != "next":
            return None
        return ask_on(self.sitting.situation, self._skipped)

    def _look(self, view: View) -> None:
        if view.name == "leave":
            self.left = True
        elif view.name in ("cover", "hold"):
            self.at_bedside(view)
        elif view.name in ("skip", "next"):
            if self.ask is not None and view.name == "skip":
                self._skipped.add(self.ask.id)
        elif view.name == "open":
            left = unfinished(self.sitting.situation, self._skipped)
            self.show(tuple(Para(text) for text in left) or (Para("nothing was left"),))
        else:
            about = self._named(view.about) if view.name == "why" and view.about else view.about
            self.show(asked.view(view.name, about, self.sitting, self.ask))

    def _named(self, about: str) -> str:
        """A name that can be explained. Unclear with near ones, Refused where none is near."""
        if explainable(self.sitting.knowledge, about) is not None:
            return about
        lexicon = Lexicon(self.sitting.knowledge, self.sitting.state)
        is_not, word = asked_not(about)
        near = ["not " * is_not + c.name for kind in _EXPLAINED for c in lexicon.near(kind, word)]
        if not near:
            raise Refused(f"nothing is called '{about}'", "help names lists what there is")
        if len(set(near)) == 1 and not self.script:
            return near[0]  # it records nothing, so the only near name is taken at once
        raise Refused(f"nothing is called '{about}'", f"nearest: {', '.join(dict.fromkeys(near[:_MOST_NEAR]))}")

    def _after(self, forced: Ask | None = None) -> None:
        """One stop a visit, later ones in a few lines, the first complete screening once, and the next question."""
        if self.left:
            return
        situation = self.sitting.situation
        if situation.open_visit is not None:
            danger = situation.danger
            met = frozenset(s.id for s in danger.screens if s.state == "met" and not s.resolved)
            new = met - self._alerted
            loud = self._stopped_in != situation.state.visit and any(s.id in new for s in stops(danger))
            blocks: list[Block] = list(alert(danger, situation.knowledge)) if loud else []
            if danger.screening_complete and not self._complete and not blocks:
                blocks += screens_line(danger, situation.knowledge)
            blocks += noticed(danger, situation.knowledge, new - {s.id for s in stops(danger) if loud})
            self._stopped_in = situation.state.visit if loud else self._stopped_in
            self._alerted, self._complete = met, danger.screening_complete
            self.show(tuple(blocks))
        if not self.script:
            self.ask = forced or next_ask(situation, self._skipped)

    def submit(self, *commands: Command) -> None:
        """Record commands that no line stands for (opening, resuming)."""
        self._do(Line(commands))
