"""The invented courses, each played once a process: what it recorded, what it printed, what was advised on the way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from reasoner.advice.records import Advice
from reasoner.case import events as ev
from reasoner.commands.demo import scenario_folder
from reasoner.consult.sitting import Sitting
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.script import run_script
from reasoner.views.page import Page
from reasoner.views.render import plain_lines
from tests.visit import Clock, Visit

__all__ = ["NAMES", "WALKS", "Walk", "Walks", "lines_of"]

WALKS = scenario_folder() / "walks"
NAMES = ("stiffness_three_visits", "fixation_orders_not_seen", "emergency_mid_visit", "nothing_hands_on", "flare")


@dataclass
class Walk:
    """A course as played: its visit, what it printed, and the advice at each look at the options."""

    visit: Visit
    printed: str
    looked: list[Advice]

    @property
    def events(self) -> list[ev.Event]:
        """What the trail holds."""
        return self.visit.events

    @property
    def flat(self) -> str:
        """What it printed in one line: wrapped text can be looked for."""
        return " ".join(self.printed.split())


@dataclass
class Walks:
    """Courses by name, played when first asked for. Nobody may change what they left on the disk."""

    knowledge: Knowledge
    folder: Path
    played: dict[str, Walk] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Walk:
        """The course of this name."""
        if name not in self.played:
            self.played[name] = _play(self.knowledge, self.folder / name, name, lines_of(name))
        return self.played[name]


def lines_of(name: str) -> list[str]:
    """The lines of a course."""
    return (WALKS / f"{name}.txt").read_text(encoding="utf-8").splitlines()


def _play(knowledge: Knowledge, home: Path, name: str, lines: Iterable[str]) -> Walk:
    """Play one file to its end; the advice is kept whenever the options are looked at."""
    clock = Clock()
    sitting, _ = Sitting.begin(knowledge, home, "oak-heron-17", "demo", clock=clock, by="KM", role="physio")
    pages: list[Page] = []
    looked: list[Advice] = []
    waiting: list[str] = []

    def echo(line: str) -> None:
        if waiting.pop() if waiting else "":
            looked.append(sitting.advice)
        if line == "options":
            waiting.append(line)

    run_script(sitting, lines, name, pages.append, echo=echo)
    printed = "\n".join(text for page in pages for text in plain_lines(page))
    return Walk(Visit(sitting, clock, home, pages), printed, looked)
