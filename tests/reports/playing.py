"""The three scripted visits, read by the session's own parser and decided as typed, on a clock that stands still.

Nothing is shown, so advice is worked out only where a decision asks for it, and the knowledge is not archived with the
trail: that is most of the time a session takes. Sessions as people see them are tested with the prompt.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import reasoner
from reasoner.advice.advise import advise
from reasoner.case.codec import encode
from reasoner.consult.sitting import Sitting, state_of_trail
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.prompt.parsed import Refused, Unclear
from reasoner.prompt.shorthand import parse
from reasoner.reports.dossier import Dossier
from reasoner.reports.letterhead import Letterhead
from reasoner.reports.make import Made
from tests.visit import Clock

CASES = Path(__file__).parent / "cases"
CLINIC = Letterhead(name="Hill Street Physiotherapy", phone="555 0100", emergency_number="112")


class Played:
    """A case under way: `play` more lines, `dossier` it, `hand_out` a document."""

    def __init__(self, knowledge: Knowledge, home: Path, case: str = "oak-heron-17", kind: str = "demo") -> None:
        self.clock = Clock()
        self.knowledge = knowledge
        bare = replace(knowledge, files={})
        self.sitting, _ = Sitting.begin(bare, home, case, kind, clock=self.clock, by="KM", role="physio")

    def play(self, name: str) -> Played:
        """The lines of one file."""
        return self.lines(*(CASES / f"{name}.txt").read_text(encoding="utf-8").splitlines())

    def lines(self, *lines: str) -> Played:
        """Lines typed one after the other; a refusal fails the test that typed it."""
        for text in lines:
            if text.strip() and not text.startswith("#"):
                try:
                    commands = parse(text.strip(), self.knowledge, self.sitting.state).commands
                except (Refused, Unclear) as refused:
                    raise InputRefused([refused.problem]) from refused
                outcome = self.sitting.submit(commands)
                if outcome.refused:
                    raise InputRefused(outcome.problems)
        return self

    def dossier(self, **changes: object) -> Dossier:
        """The case as it stands on the disk."""
        trail = self.sitting.trail
        state = state_of_trail(trail.entries)
        at = [e for e in trail.entries if e.event not in ("exported", "resumed", "paused")][-1].at
        made = Dossier(
            self.knowledge, state, advise(self.knowledge, state, at), at, self.clock.now, "KM", "physio",
            trail.head.count, trail.head.hash, reasoner.__version__, CLINIC,
        )  # fmt: skip
        return replace(made, **changes)  # type: ignore[arg-type]

    def hand_out(self, made: Made) -> None:
        """Record that a document left."""
        line = encode(made.event)
        self.sitting.trail.append(
            line.name, line.payload, at=self.clock.now, by="KM", role="physio", knowledge=self.knowledge.digest
        )
        self.sitting.state = state_of_trail(self.sitting.trail.entries)
