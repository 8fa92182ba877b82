"""At the bedside: what is on the screen while nobody should read it, the timer, the hint, the one alert."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Timer
from types import SimpleNamespace
from typing import Any

import pytest
from prompt_toolkit import PromptSession
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import ColorDepth
from prompt_toolkit.output.vt100 import Vt100_Output

from reasoner.case import events as ev
from reasoner.consult.agenda import next_ask
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt import bedside, loop
from reasoner.prompt.desk import Desk
from reasoner.views.page import Page
from reasoner.views.render import make_console, plain_lines
from tests.visit import MEASURED, Visit, begin

WIPED = "<wiped>"
PATIENCE = 20.0  # seconds after which a prompt that waits for more keys is left, so that a test fails and does not hang


@dataclass
class Terminal:
    """A screen as text: what the prompt draws and what is printed, in one stream, with a mark where it was emptied."""

    visit: Visit
    text: io.StringIO = field(default_factory=io.StringIO)
    keys: PipeInput | None = None

    def play(self, *typed: str, on_wipe: Callable[[int], str] = lambda time: "", idle_minutes: float = 60.0) -> str:
        """Keys as they come; `on_wipe` gives more keys when the screen is emptied for the nth time."""
        with create_pipe_input() as keys, pytest.MonkeyPatch.context() as patch:
            patch.setattr(loop, "make_console", lambda: make_console(self.text, 80, plain=True))
            screen = Vt100_Output(self.text, lambda: Size(rows=24, columns=80), term="xterm",
                                  default_color_depth=ColorDepth.DEPTH_1_BIT, enable_cpr=False)  # fmt: skip

            def wipe() -> None:
                self.text.write(WIPED)
                keys.send_text(on_wipe(self.text.getvalue().count(WIPED)))

            self.keys = keys
            keys.send_text("".join(typed))
            waited = Timer(PATIENCE, keys.send_text, ["\x03\x04"])
            waited.daemon = True
            waited.start()
            loop.run_loop(self.visit.sitting, keys=keys, screen=screen, wipe=wipe, idle_minutes=idle_minutes)
            assert not waited.finished.is_set(), "it waited for keys that nobody was to press"
            waited.cancel()
        return self.text.getvalue()


@pytest.fixture
def terminal(tiny_knowledge: Knowledge, tmp_path: Path) -> Terminal:
    """A case with a story, a measure and an open danger question, at a terminal."""
    visit = begin(tiny_knowledge, tmp_path)
    visit.script(*MEASURED, "problem: coming down stairs")
    return Terminal(visit)


def clinical(visit: Visit) -> list[str]:
    """What must not be readable while it is covered: the case, the bottom line, the question, names of the pack."""
    case, knowledge = visit.sitting.situation, visit.sitting.knowledge
    ask = next_ask(case)
    assert ask is not None
    tables = (knowledge.hypotheses, knowledge.findings, knowledge.screens, knowledge.options)
    names = [record.name for table in tables for record in table.values()]
    return [case.state.case, "visit 1", " open", " met", "stairs", ask.text.split("?")[0], *names]


def after_last_wipe(text: str) -> str:
    """What came on the screen since it was emptied."""
    return text.rpartition(WIPED)[2]


# ------------------------------------------------------------------------------------------------ cover, idle, leaving


def test_cover_shows_nothing_clinical_until_enter(terminal: Terminal) -> None:
    covered = after_last_wipe(terminal.play("cover\r", "\x04")).partition("Left;")[0]  # the end while covered
    assert bedside.COVERED_TEXT in covered
    assert [word for word in clinical(terminal.visit) if word in covered] == []


def test_after_the_cover_the_question_is_back_and_what_was_typed_under_it_counts_for_nothing(
    terminal: Terminal,
) -> None:
    before, ask = terminal.visit.events, next_ask(terminal.visit.sitting.situation)
    assert ask is not None
    _, text, _ = terminal.play("cover\r", "fever +\r", "\x04").split(WIPED)  # covered, and the end
    assert "fever" not in text.partition("\n")[0]
    assert " ".join(ask.text.split())[:40] in " ".join(text.split())
    assert terminal.visit.events == before


def test_when_nobody_types_the_screen_is_emptied_and_the_line_comes_back(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    def now() -> float:  # stands still until what was typed is on the screen; then an hour has passed
        return 3600.0 if "front pin" in terminal.text.getvalue() else 0.0

    monkeypatch.setattr(loop, "time", SimpleNamespace(monotonic=now))
    text = terminal.play("front pin", on_wipe=lambda time: "\rch +\r\x04", idle_minutes=0.001)
    assert text.count(WIPED) == 2  # covered, and the end
    assert text.index("front pin") < text.index(WIPED) < text.index(bedside.COVERED_TEXT)
    assert terminal.visit.events[-1] == ev.Answered("front_pinch", "left", "present")


def test_who_types_is_not_covered(terminal: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two halves of a line, each written after five sixths of the idle time: longer than it together."""
    sent: list[int] = []

    def now() -> float:
        shown = terminal.text.getvalue()
        gone = 0.10 if "jj" in shown else 0.05 if "zq" in shown else 0.0
        sent.append(round(100 * gone))
        assert terminal.keys is not None
        if sent.count(5) == 1 and sent[-1] == 5:
            terminal.keys.send_text("jj")
        if sent.count(10) == 3 and sent[-1] == 10:
            terminal.keys.send_text("\r\x04")
        return gone

    monkeypatch.setattr(loop, "time", SimpleNamespace(monotonic=now))
    text = terminal.play("note zq", idle_minutes=0.001)  # 0.06 s
    assert bedside.COVERED_TEXT not in text
    assert text.count(WIPED) == 1  # at the end
    assert terminal.visit.events[-1] == ev.Noted("note", "zqjj")
    assert sent.count(10) >= 3


def test_five_minutes_without_a_key_cover_it() -> None:
    """What a sitting is given where nothing else is said: minutes, not hours."""
    assert 0 < loop.IDLE_MINUTES <= 10


@pytest.mark.parametrize(("word", "ends"), [("pause", ev.Paused), ("close", ev.VisitClosed)])
def test_pause_and_close_leave_an_empty_screen(word: str, ends: type[ev.Event], terminal: Terminal) -> None:
    terminal.visit.script("conclusion steady words", "plan once more")
    left = after_last_wipe(terminal.play(f"{word}\r", "\r" * (word == "close")))
    assert isinstance(terminal.visit.events[-1], ends)
    assert left.strip().startswith("Left; all that was said back is recorded.")
    assert [w for w in clinical(terminal.visit)[1:] if w in left] == []


def test_leaving_by_the_end_of_keys_leaves_an_empty_screen_too(terminal: Terminal) -> None:
    left = after_last_wipe(terminal.play("front pinch +\r", "\x04"))
    assert left.strip().startswith("Left; all that was said back is recorded.")
    assert [w for w in clinical(terminal.visit)[1:] if w in left] == []


def test_what_closing_leaves_open_stays_until_it_was_read(terminal: Terminal) -> None:
    text = terminal.play("close\r", "\r")
    assert text.index("no conclusion in your words") < text.index(bedside.READ_TEXT) < text.index(WIPED)


def test_clearing_takes_what_scrolled_away_too() -> None:
    out = io.StringIO()
    bedside.clear(out)
    assert "\x1b[2J" in out.getvalue()
    assert "\x1b[3J" in out.getvalue()  # xterm: erase saved lines
    out = io.StringIO()
    bedside.clear(out, dumb=True)
    assert out.getvalue().count("\n") >= 24
    assert "\x1b" not in out.getvalue()


def test_no_earlier_line_can_be_called_back(terminal: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[PromptSession[str]] = []

    class Kept(PromptSession[str]):
        def __init__(self, *given: Any, **named: Any) -> None:
            super().__init__(*given, **named)
            made.append(self)

    monkeypatch.setattr(loop, "PromptSession", Kept)
    terminal.play("front pinch +\r", "cover\r", "typed under it\r", "note words\r", "\x04")
    assert len(made) == 2  # the line, and the cover
    assert terminal.visit.events[-1] == ev.Noted("note", "words")
    histories = [h for one in made for h in (one.history, one.default_buffer.history)]
    assert [line for h in histories for line in (*h.get_strings(), *h.load_history_strings())] == []


# ------------------------------------------------------------------------------------------------ timer


def test_a_hold_shows_a_quiet_bar_and_ends() -> None:
    out, passed = io.StringIO(), [0.0]

    def sleep(seconds: float) -> None:
        passed[0] += seconds

    assert bedside.hold("2x3", out, sleep=sleep, clock=lambda: passed[0])
    shown = out.getvalue()
    assert passed[0] == pytest.approx(6.0)
    assert shown.count("\n") == 2  # one line a hold, drawn over itself
    assert shown.splitlines()[-1].rpartition("\r")[2].split() == ["2/2", f"[{'=' * 30}]", "3", "of", "3", "s"]
    assert "\a" not in shown


def test_a_hold_is_stopped_by_a_key_and_records_nothing(terminal: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(seconds: float) -> None:
        raise KeyboardInterrupt

    out = io.StringIO()
    assert not bedside.hold("60", out, sleep=pressed)
    assert "stopped" in out.getvalue()
    before, held = terminal.visit.events, []
    monkeypatch.setattr(loop, "hold", held.append)
    terminal.play("hold 3x30\r", "hold 11x30\r", "hold soon\r", "\x04")
    assert held == ["3x30"]  # the others are refused
    assert terminal.visit.events == before


# ------------------------------------------------------------------------------------------------ hint, alert


def desk_of(visit: Visit) -> tuple[Desk, list[Page]]:
    """A desk and what it shows."""
    pages: list[Page] = []
    desk = Desk(visit.sitting, pages.append)
    desk.start()
    return desk, pages


def text_of(pages: list[Page]) -> str:
    """The pages in one line."""
    return " ".join(line.strip() for page in pages for line in plain_lines(page))


def test_after_two_refusals_at_one_question_the_ways_out_are_named(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script("left, sprain, injury 20 days ago, no surgery, boot 2 weeks")
    desk, pages = desk_of(visit)
    hint = "skip leaves it open; help shows what can be typed"
    desk.line("quux")
    assert hint not in text_of(pages)
    desk.line("quux quux")
    assert f"? = asked, not known; {hint}" in text_of(pages)
    desk.line("skip")
    pages.clear()
    desk.line("quux")
    assert hint not in text_of(pages)  # another question begins anew


def test_a_stop_interrupts_once_and_another_one_is_told_without(tiny_knowledge: Knowledge, tmp_path: Path) -> None:
    visit = begin(tiny_knowledge, tmp_path)
    visit.script("left, sprain, injury 3 days ago, no surgery, boot 2 weeks, age 34")
    desk, pages = desk_of(visit)
    desk.line("joint hot and red +, fever +")
    assert text_of(pages).count("STOP") == 1
    for line in ("front pinch +", "note they were told", "fever +", "screens"):
        pages.clear()
        desk.line(line)
        assert ("STOP" in text_of(pages)) == (line == "screens")  # asked for, it is shown again
    pages.clear()
    desk.line("cannot take four steps +")
    assert "STOP" not in text_of(pages)
    assert "ALSO  fracture rule: criteria met" in text_of(pages)
    assert "next: " in text_of(pages)
    pages.clear()
    desk.line("screens")
    assert text_of(pages).count("STOP") == 2
