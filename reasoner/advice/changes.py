"""What one more answer could change: the first option on each sign, or the state of a screen.

Nothing here says that enough was asked. It says that no single answer left, whatever it is, puts another option first
or moves a screen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reasoner.advice.records import OptionAdvice
from reasoner.advice.side import SideView
from reasoner.advice.treatments import figures_of
from reasoner.case.state import Answer, Side
from reasoner.facts.facts import Facts
from reasoner.graph.records import OptionRecord, Screen
from reasoner.inference.network import Numbers
from reasoner.inference.questions import Asked, Candidates, silent_given
from reasoner.inference.responses import CONTACT
from reasoner.options.value import Response
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening, ScreenResult

__all__ = ["LEAST_LEAD", "Change", "first_changes", "screen_could_change"]

LEAST_LEAD = 0.02  # a new first option counts from this much more value on
_LEAST_CHANCE = 0.01  # an answer less likely than this is not looked at


@dataclass(frozen=True, slots=True)
class Change:
    """With answer `answer` to question `question` (their places), `option` would come first on its sign."""

    question: int
    answer: int
    option: str


def first_changes(
    view: SideView, options: Sequence[OptionAdvice], asked: Sequence[Asked], found: Candidates
) -> tuple[Change, ...] | None:
    """Every single answer that would put another option first; None where no option is open or it is not exact."""
    open_ = [
        o for o in options
        if o.side == view.label and o.lane == "try_now" and o.relevant and o.state in ("offered", "caution")
        and o.value is not None
    ]  # fmt: skip
    if not open_ or found.approximate:
        return None
    figures = {o.id: response for o in open_ if (response := figures_of(_record(view, o.id), view.facts)) is not None}
    values = _values(view, figures, asked, found)
    changes = []
    for sign in dict.fromkeys(f.sign for f in figures.values()):
        ids = [i for i in figures if figures[i].sign == sign]
        now = {o.id: o.value or 0.0 for o in open_}
        first = max(ids, key=lambda i: now[i])
        table = np.array([values[i] for i in ids])  # (options, questions, answers)
        best, lead = table.argmax(axis=0), table.max(axis=0) - values[first]
        likely = (found.answer >= _LEAST_CHANCE) & (lead >= LEAST_LEAD)
        changes += [Change(int(q), int(a), ids[int(best[q, a])]) for q, a in zip(*np.nonzero(likely), strict=True)]
    return tuple(changes)


def _record(view: SideView, option: str) -> OptionRecord:
    return view.facts.knowledge.options[option]


def _values(
    view: SideView, figures: Mapping[str, Response], asked: Sequence[Asked], found: Candidates
) -> dict[str, Numbers]:
    """Option -> its value after every answer to every question, (questions, answers)."""
    network, evidence = view.beliefs.network, view.beliefs.evidence
    links: list[dict[str, float]] = []
    for ident, f in figures.items():
        targets = {t: f.target_c for t in _record(view, ident).acts_on if t in network.cause_index}
        links += [{**targets, CONTACT: f.contact_c}, {CONTACT: f.contact_c}]
    silent = silent_given(network, evidence, asked, found, links)
    values = {}
    for k, (ident, f) in enumerate(figures.items()):
        hold = (1 - (1 - f.leak) * silent[2 * k]) * f.share_if_hold
        touch = (1 - (1 - f.leak) * silent[2 * k + 1]) * f.share_if_touch
        values[ident] = f.weight * hold + (1 - f.weight) * touch
    return values


def screen_could_change(screening: Screening) -> str:
    """Id of a screen whose state one more answer would change, "" if there is none; stops at the first.

    A screen that waits for a measure or for who and when is taken to be able to.
    """
    for result in screening.results():
        if result.state == "open" and result.resolution is None and _could_change(screening, result):
            return result.screen.id
    return ""


def _could_change(screening: Screening, result: ScreenResult) -> bool:
    facts = screening.facts
    for name in _missing(screening, result.screen):
        finding = facts.knowledge.findings.get(name)
        if finding is None:
            return True
        sides: tuple[Side, ...] = facts.case_sides if finding.sided else ("none",)
        unknown = [facts.standing.get((name, side)) for side in sides]
        if all(a is not None and a.value == "unknown" for a in unknown):
            continue  # asked, and could not be answered: not a question that is left
        if any(Screening(other).result(result.screen.id).state != "open" for other in _answered(facts, name, sides)):
            return True
    return False


def _missing(screening: Screening, screen: Screen) -> tuple[str, ...]:
    """What any part of it waits for; a result names only what is asked first."""
    parts = (evaluate(rule, screening.rules) for rule in (screen.use_when, screen.valid_when, screen.rule))
    return tuple(dict.fromkeys(name for part in parts for name in part.missing))


def _answered(facts: Facts, finding: str, sides: tuple[Side, ...]) -> Iterator[Facts]:
    """The facts with one more answer, present or absent, on one side."""
    for side in sides:
        for value in ("present", "absent"):
            state = facts.state
            answer = Answer(finding, side, value, None, facts.now, state.visit, state.assessment, state.seq + 1)
            yield Facts(facts.knowledge, replace(state, answers=(*state.answers, answer)), facts.now, facts.side)
