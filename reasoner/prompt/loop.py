"""The terminal: read a line, hand it to the desk, show what came of it. No history of what was typed is kept."""

from __future__ import annotations

import os

from prompt_toolkit import PromptSession
from prompt_toolkit.history import DummyHistory
from prompt_toolkit.input import Input
from prompt_toolkit.output import Output

from reasoner.consult.sitting import Sitting
from reasoner.prompt.completion import NameCompleter
from reasoner.prompt.desk import Desk
from reasoner.prompt.names import Lexicon
from reasoner.views.page import Page, Para
from reasoner.views.question import question
from reasoner.views.render import make_console, show
from reasoner.views.summary import bottom_line

__all__ = ["run_loop"]


def run_loop(
    sitting: Sitting, *, keys: Input | None = None, screen: Output | None = None, desk: Desk | None = None
) -> None:
    """Ask and record until it is paused, closed or left. `keys` and `screen` stand in for the terminal in tests.

    `desk`: one that takes the lines differently, as with a simulated patient.
    """
    desk = desk if desk is not None else Desk(sitting, _show)
    session: PromptSession[str] = PromptSession(
        history=DummyHistory(),
        completer=NameCompleter(lambda: Lexicon(sitting.knowledge, sitting.state)),
        complete_while_typing=False,
        reserve_space_for_menu=5,
        input=keys,
        output=screen,
    )
    dumb = os.environ.get("TERM", "").lower() in ("dumb", "unknown", "")
    told = ""
    desk.start()
    while not desk.left:
        if desk.pending is None:
            _show(question(desk.ask, sitting.knowledge, desk.position))
        bottom = bottom_line(sitting.situation)
        if dumb and bottom != told:
            _show((Para(f"[{bottom}]", tone="quiet"),))
            told = bottom
        try:
            text = session.prompt("> ", bottom_toolbar=None if dumb else lambda shown=bottom: shown)  # type: ignore[misc]
        except KeyboardInterrupt:  # the line that was being typed is thrown away, nothing else
            desk.pending = None
            continue
        except EOFError:
            _show((Para(f"Left; all that was said back is recorded. Again: reasoner session {sitting.state.case}"),))
            return
        desk.line(text)


def _show(page: Page) -> None:
    if page:
        show(page, make_console())
