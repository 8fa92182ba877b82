"""why(...) -> Explanation: where a claim comes from, as data. The only place where the numbers are told.

Steps in the order recorded add up to the whole move; "if this alone were wrong" does not, and both are given.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from reasoner.advice.explanation import Explanation
from reasoner.advice.side import side_views
from reasoner.advice.why_hypothesis import why_hypothesis
from reasoner.advice.why_not import why_not_hypothesis, why_not_option
from reasoner.advice.why_rules import why_finding, why_option, why_screen
from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge, plain

__all__ = ["asked_not", "explainable", "why"]


def explainable(knowledge: Knowledge, name: str) -> tuple[str, str] | None:
    """(kind, id) of whatever is called `name`: hypothesis, screen, option or finding; `not NAME` is the same thing."""
    word = plain(asked_not(name)[1])
    tables: tuple[tuple[str, Callable[[str], str | None]], ...] = (
        ("hypothesis", knowledge.hypothesis_names.get),
        ("screen", {plain(n): s.id for s in knowledge.screens.values() for n in (s.id, s.name)}.get),
        ("option", knowledge.option_names.get),
        ("finding", knowledge.finding_names.get),
    )
    for kind, look_up in tables:
        ident = look_up(word)
        if ident is not None:
            return kind, ident
    return None


def asked_not(name: str) -> tuple[bool, str]:
    """Was it asked why not? And the name itself.

    >>> asked_not("not short calf"), asked_not("Short calf"), asked_not("nothing to see")
    ((True, 'short calf'), (False, 'Short calf'), (False, 'nothing to see'))
    """
    words = name.split()
    return (True, " ".join(words[1:])) if len(words) > 1 and words[0].lower() == "not" else (False, name)


def why(knowledge: Knowledge, state: CaseState, now: datetime, name: str) -> tuple[Explanation, ...]:
    """Explanations of `name`, one a side; of `not NAME`, why it is not first or not open. Empty for an unknown name.

    Of a screen or a finding both are the same: each part and what it misses.
    """
    found = explainable(knowledge, name)
    if found is None:
        return ()
    kind, ident = found
    screening, views = side_views(knowledge, state, now)
    if kind == "screen":
        return (why_screen(knowledge.screens[ident], screening),)
    if kind == "finding":
        return (why_finding(knowledge, knowledge.findings[ident]),)
    if asked_not(name)[0]:
        if kind == "hypothesis":
            return tuple(why_not_hypothesis(knowledge, knowledge.hypotheses[ident], view) for view in views)
        return tuple(why_not_option(knowledge.options[ident], view) for view in views)
    if kind == "hypothesis":
        return tuple(why_hypothesis(knowledge, knowledge.hypotheses[ident], view, screening) for view in views)
    return tuple(why_option(knowledge.options[ident], view) for view in views)
