"""A visit for tests: a case in a folder of its own, a clock that only moves when told, and short ways to type lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from reasoner.case.events import Event
from reasoner.consult.commands import Command
from reasoner.consult.sitting import Outcome, Sitting, recorded_of
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.loop import run_loop
from reasoner.prompt.script import run_script
from reasoner.trail.store import Trail
from reasoner.views.page import Page
from reasoner.views.render import plain_lines

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

# opens everything in the tiny pack: screening complete, screens not met or not applying
CALM_CASE = (
    "left, sprain, injury 20 days ago, no surgery, boot 2 weeks, age 34",
    "cannot take four steps -, fever -, joint hot and red -, loss of protective sensation -, bone tender -",
)
MEASURED = (*CALM_CASE, "function 4", "pain at the sign 5", "ktw L 3 3.5 3.5 R 9 9 9.5")
TREATED = (*MEASURED, "treat back glide 3x60 s agreed")


@dataclass
class Clock:
    """Stands still; `wait` moves it."""

    now: datetime = START

    def __call__(self) -> datetime:
        return self.now

    def wait(self, **time: float) -> None:
        """Move on by hours=, days=, minutes=."""
        self.now += timedelta(**time)


@dataclass
class Visit:
    """A sitting and everything it showed."""

    sitting: Sitting
    clock: Clock
    home: Path
    pages: list[Page]

    def submit(self, *commands: Command) -> Outcome:
        """Commands of one line."""
        return self.sitting.submit(commands)

    def script(self, *lines: str) -> list[str]:
        """Lines as a script; what was printed."""
        start = len(self.pages)
        run_script(self.sitting, lines, "lines", self.pages.append)
        return [text for page in self.pages[start:] for text in plain_lines(page)]

    def typed(self, *lines: str) -> None:
        """The same lines from a keyboard, ended by Ctrl-D."""
        with create_pipe_input() as keys:
            keys.send_text("".join(line + "\r" for line in lines) + "\x04")
            run_loop(self.sitting, keys=keys, screen=DummyOutput(), wipe=lambda: None)

    @property
    def events(self) -> list[Event]:
        """What the trail on the disk holds, read afresh."""
        return [r.event for r in recorded_of(Trail.open(self.home, self.sitting.state.case).entries)]

    def again(self, knowledge: Knowledge, **who: str) -> Visit:
        """The same case opened again, as by a new process."""
        trail = Trail.open(self.home, self.sitting.state.case)
        given = {"by": "KM", "role": "physio", **who}
        take_over = given["by"] != self.sitting.by
        sitting, _ = Sitting.take_up(knowledge, trail, clock=self.clock, take_over=take_over, **given)
        return Visit(sitting, self.clock, self.home, [])


def begin(knowledge: Knowledge, home: Path, *, role: str = "physio", case: str = "oak-heron-17") -> Visit:
    """A new case with its first visit open."""
    clock = Clock()
    sitting, _ = Sitting.begin(knowledge, home, case, "demo", clock=clock, by="KM", role=role)
    return Visit(sitting, clock, home, [])


def said(outcome: Outcome) -> str:
    """Everything said about a line, refusals included."""
    return "\n".join((*outcome.says, *(str(p) for p in outcome.problems)))


def of(events: Iterable[Event], *kinds: type[Event]) -> Sequence[Event]:
    """The events of some kinds."""
    return [e for e in events if isinstance(e, kinds)]
