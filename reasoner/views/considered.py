"""The whole of one piece of advice as a page: what to ask first, screens, lists, next questions, options."""

from __future__ import annotations

from reasoner.advice.records import Advice, Question
from reasoner.graph.knowledge import Knowledge
from reasoner.views import beliefs, options, screens
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows
from reasoner.views.render import make_console, show

__all__ = ["considered", "print_considered"]

_MOST = 6
_CAUTION = (
    "Supports your judgement, does not replace it. Local protocol, surgeon's orders and your licence come first."
)


def considered(advice: Advice, knowledge: Knowledge) -> Page:
    """Danger first; numbers only under `why` in a session and in the JSON."""
    blocks: list[Block] = [Para(_CAUTION, tone="quiet"), Gap()]
    if knowledge.set_aside:
        blocks += [Para("The clinic's own knowledge is left out, as asked for.", tone="strong"), Gap()]
    elif knowledge.clinic is not None:
        blocks += [Para(f"With the knowledge of {knowledge.clinic.name}.", tone="quiet"), Gap()]
    if advice.ask_first:
        blocks.append(Heading("Ask first", "yes = danger"))
        blocks += _questions(advice.ask_first)
        blocks.append(Gap())
    blocks += [*screens.board(advice, knowledge), Gap(), *beliefs.lists(advice, knowledge)]
    if advice.questions:
        blocks += [Gap(), Heading("Next, for its minutes", "approximate ranking" if advice.approximate else "")]
        blocks.append(Rows(tuple((q.ask, q.position) for q in advice.questions[:3]), first=60))
        blocks += beliefs.stop_line(advice)
    return (*blocks, Gap(), *options.page(advice, knowledge))


def _questions(asked: tuple[Question, ...]) -> list[Block]:
    blocks: list[Block] = [Para(q.ask, indent=2) for q in asked[:_MOST]]
    if len(asked) > _MOST:
        blocks.append(Para(f"and {len(asked) - _MOST} more", tone="quiet"))
    return blocks


def print_considered(advice: Advice, knowledge: Knowledge) -> None:
    """To standard output."""
    show(considered(advice, knowledge), make_console())
