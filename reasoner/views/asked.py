"""Pages that somebody asked for by name, and the list of names to choose from."""

from __future__ import annotations

from reasoner.consult.agenda import Ask
from reasoner.consult.sitting import Sitting, recorded_of
from reasoner.graph.knowledge import plain
from reasoner.views import beliefs, helping, options, screens, summary
from reasoner.views.page import Heading, Page, Para, Rows

__all__ = ["choice", "view"]


def choice(kind: str, word: str, names: tuple[str, ...]) -> Page:
    """Near names, numbered. Nothing is recorded before one is picked."""
    rows = tuple((str(number), name) for number, name in enumerate(names, 1))
    ask = "y takes it, or type again" if len(names) == 1 else "a number takes one, or type again"
    return (Heading(f"No {kind} is called '{word}'. Near it:", ask), Rows(rows, first=3))


def view(name: str, about: str, sitting: Sitting, ask: Ask | None) -> Page:
    """The page called `name`."""
    knowledge = sitting.knowledge
    if name == "help":
        return helping.names_page(knowledge, about) if about else helping.help_page()
    case = sitting.situation
    if name == "options":
        return options.page(case.advice, knowledge)
    if name == "screens":
        return screens.board(case.advice, knowledge)
    if name == "list":
        wanted = next((k for k, title in beliefs.TITLES.items() if about and plain(about) in plain(title)), "")
        return beliefs.lists(case.advice, knowledge, wanted)
    if name == "answers":
        return summary.answers(case)
    if name == "timeline":
        return summary.timeline(knowledge, recorded_of(sitting.trail.entries))
    if name == "why":
        return _why(about, sitting, ask)
    return summary.summary(case)


def _why(about: str, sitting: Sitting, ask: Ask | None) -> Page:
    if not about and ask is not None:
        return (Para(ask.why or "It is asked before anything is done." if ask.progress else ask.why or _TELLS),)
    return (Para(f"why {about}"),)


_TELLS = "Of what is left to ask, it tells most for its minutes."
