"""The terminal: read a line, hand it to the desk, show what came of it. No history of what was typed is kept.

The screen is emptied on pause, on closing, on Ctrl-D, when covered, and when nobody types for a while.
"""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial

from prompt_toolkit import PromptSession
from prompt_toolkit.history import DummyHistory
from prompt_toolkit.input import Input
from prompt_toolkit.output import Output

from reasoner.consult.sitting import Sitting
from reasoner.prompt.bedside import COVERED_TEXT, READ_TEXT, clear, hold
from reasoner.prompt.completion import NameCompleter
from reasoner.prompt.desk import Desk
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import View
from reasoner.views.page import Page, Para
from reasoner.views.render import make_console, show
from reasoner.views.summary import bottom_line

__all__ = ["IDLE_MINUTES", "run_loop"]

IDLE_MINUTES = 5.0
_IDLE = "\x00idle"


def run_loop(
    sitting: Sitting,
    *,
    keys: Input | None = None,
    screen: Output | None = None,
    wipe: Callable[[], None] | None = None,
    idle_minutes: float = IDLE_MINUTES,
    desk: Desk | None = None,
) -> None:
    """Ask and record until it is paused, closed or left. `keys`, `screen`, `wipe` stand in for the terminal in tests.

    `wipe` empties the screen. `desk`: another than the ordinary one, as with a simulated patient.
    """
    dumb = os.environ.get("TERM", "").lower() in ("dumb", "unknown", "")
    wipe = wipe if wipe is not None else partial(clear, dumb=dumb)
    desk = desk if desk is not None else Desk(sitting, _show)
    covered: list[bool] = []
    desk.at_bedside = lambda view: _at_bedside(view, covered)
    session: PromptSession[str] = PromptSession(
        history=DummyHistory(),
        completer=NameCompleter(lambda: Lexicon(sitting.knowledge, sitting.state)),
        complete_while_typing=False,
        reserve_space_for_menu=5,
        input=keys,
        output=screen,
    )
    told, typed = "", ""
    desk.start()
    while not desk.left:
        if covered:
            covered.clear()
            desk.shown = None
            if not _cover(wipe, keys, screen):
                _show(_left(sitting))
                return
        if desk.pending is None:
            _show(desk.question())
        bottom = bottom_line(sitting.situation)
        if dumb and bottom != told:
            _show((Para(f"[{bottom}]", tone="quiet"),))
            told = bottom
        try:
            text = session.prompt(
                "> ", default=typed, pre_run=lambda: _watch(session, idle_minutes),
                bottom_toolbar=None if dumb else lambda shown=bottom: shown,  # type: ignore[misc]
            )  # fmt: skip
        except KeyboardInterrupt:  # the line that was being typed is thrown away, nothing else
            desk.pending, typed = None, ""
            continue
        except EOFError:
            wipe()
            _show(_left(sitting))
            return
        typed = ""
        if text.startswith(_IDLE):  # what was being typed comes back after the cover
            typed = text[len(_IDLE) :]
            covered.append(True)
            continue
        desk.line(text)
        if desk.left:
            if desk.to_read:
                _read(keys, screen, idle_minutes)
            wipe()
            _show(_left(sitting))


def _left(sitting: Sitting) -> Page:
    again = "practise --case" if sitting.state.kind == "practice" else "session"
    return (Para(f"Left; all that was said back is recorded. Again: reasoner {again} {sitting.state.case}"),)


def _at_bedside(view: View, covered: list[bool]) -> None:
    if view.name == "cover":
        covered.append(True)
    else:
        hold(view.about)


def _cover(wipe: Callable[[], None], keys: Input | None, screen: Output | None) -> bool:
    """Nothing clinical on the screen until Enter, the line at the bottom included. False if the terminal is gone."""
    wipe()
    try:
        _bare(keys, screen).prompt(f"{COVERED_TEXT} ")
    except KeyboardInterrupt:
        return True
    except EOFError:
        return False
    return True


def _read(keys: Input | None, screen: Output | None, idle_minutes: float) -> None:
    """What closing left open stays until it was read, or until nobody types for a while."""
    bare = _bare(keys, screen)
    with suppress(KeyboardInterrupt, EOFError):
        bare.prompt(f"{READ_TEXT} ", pre_run=lambda: _watch(bare, idle_minutes))


def _bare(keys: Input | None, screen: Output | None) -> PromptSession[str]:
    """A prompt that waits and shows nothing of what is typed."""
    return PromptSession(history=DummyHistory(), input=keys, output=screen, is_password=True)


def _watch(session: PromptSession[str], minutes: float) -> None:
    """Leave the prompt when no key was pressed for so long."""
    app = session.app
    last = [time.monotonic()]

    def pressed(_: object) -> None:
        last[0] = time.monotonic()

    async def wait() -> None:
        try:
            while time.monotonic() - last[0] < minutes * 60:
                await asyncio.sleep(min(1.0, minutes * 60))
        finally:  # also when the line was entered and this is cancelled
            app.key_processor.after_key_press -= pressed
        if app.is_running:
            app.exit(result=_IDLE + app.current_buffer.text)

    app.key_processor.after_key_press += pressed
    app.create_background_task(wait())


def _show(page: Page) -> None:
    if page:
        show(page, make_console())
