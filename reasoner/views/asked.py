"""Pages that somebody asked for by name, and the list of names to choose from."""

from __future__ import annotations

from reasoner.advice.why import asked_not, why
from reasoner.consult.asks import Ask
from reasoner.consult.judging import hides_view
from reasoner.consult.sitting import Sitting, recorded_of
from reasoner.graph.knowledge import Knowledge, plain
from reasoner.views import activity, beliefs, explaining, helping, options, phoning, screens, summary, surgeon
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
        topic = plain(about)
        if topic in helping.TOPICS:
            return helping.topic_page(topic)
        return helping.names_page(knowledge, about) if about else helping.help_page()
    case = sitting.situation
    if name == "options":
        return options.page(case.advice, knowledge, everything=about == "all")
    if name == "screens":
        return screens.board(case.advice, knowledge)
    if name == "phone":
        return phoning.page(case)
    if name == "surgeon":
        return surgeon.page(case)
    if name == "activity":
        return activity.page(knowledge)
    if hides_view(case) and (name == "list" or (name == "why" and _is_hypothesis(knowledge, about))):
        return (Para(_YOURS_FIRST),)
    if name == "list":
        wanted = next((k for k, title in beliefs.TITLES.items() if about and plain(about) in plain(title)), "")
        return beliefs.lists(case.advice, knowledge, wanted, everything="all" in plain(about).split() or bool(wanted))
    if name == "answers":
        return summary.answers(case)
    if name == "timeline":
        return summary.timeline(knowledge, recorded_of(sitting.trail.entries))
    if name == "why":
        return _why(about, sitting, ask)
    return summary.summary(case)


_YOURS_FIRST = "Before mine, yours: judge FIRST > SECOND; fairly sure; would change if ...   (or: judge not sure)"


def _is_hypothesis(knowledge: Knowledge, about: str) -> bool:
    return plain(asked_not(about)[1]) in knowledge.hypothesis_names


def _why(about: str, sitting: Sitting, ask: Ask | None) -> Page:
    case = sitting.situation
    if about:
        return explaining.page(why(case.knowledge, case.state, case.stamp.now, about))
    if ask is None:
        return (Para("why NAME: of a hypothesis, option, screen or finding"),)
    return (Para(ask.why or (_FIRST if ask.progress else _TELLS)),)


_FIRST = "It is asked before anything is done to the joint, at every visit."
_TELLS = "Of what is left to ask, it comes next; skip leaves it open."
