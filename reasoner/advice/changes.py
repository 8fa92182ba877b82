"""What one more answer could change: the first option on each sign, or the state of a screen.

Nothing here says that enough was asked. It says that no single answer left, whatever it is, puts another option first
or moves a screen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reasoner.advice.figures import figures_of, links_of, places_of
from reasoner.advice.records import OptionAdvice
from reasoner.advice.side import SideView
from reasoner.case.state import Answer, Side
from reasoner.facts.facts import Facts
from reasoner.graph.records import OptionRecord, Screen
from reasoner.inference.network import Numbers
from reasoner.inference.questions import Asked, Candidates, silent_given
from reasoner.inference.responses import response_chances, silent_apart, silent_held
from reasoner.options.value import Response
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening, ScreenResult

__all__ = ["LEAST_LEAD", "Change", "first_changes", "screen_could_change"]

LEAST_LEAD = 0.02  # a new first option counts from this much more value on
_ROUGH = 0.015  # what a value may be off by before it is worked out exactly
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
    now = {o.id: o.value or 0.0 for o in open_}
    rough = _rough_values(view, figures, found)
    changes = []
    for sign in dict.fromkeys(f.sign for f in figures.values()):
        ids = [i for i in figures if figures[i].sign == sign]
        first = max(ids, key=lambda i: now[i])
        likely = found.answer >= _LEAST_CHANCE
        rivals = [i for i in ids if np.any(likely & (rough[i] - rough[first] >= LEAST_LEAD - _ROUGH))]
        near = [i for i in rivals if i != first]
        if not near:
            continue
        lead = np.max([rough[i] - rough[first] for i in near], axis=0)
        rows = np.flatnonzero((likely & (lead >= LEAST_LEAD - _ROUGH)).any(axis=1))
        contest = {i: figures[i] for i in (first, *near)}
        values = _values(view, contest, [asked[int(q)] for q in rows], found.only(rows))
        table = np.array([values[i] for i in near])  # (options, questions, answers)
        best, lead = table.argmax(axis=0), table.max(axis=0) - values[first]
        for q, a in zip(*np.nonzero(likely[rows] & (lead >= LEAST_LEAD)), strict=True):
            changes.append(Change(int(rows[q]), int(a), near[int(best[q, a])]))
    return tuple(changes)


def _record(view: SideView, option: str) -> OptionRecord:
    return view.facts.knowledge.options[option]


def _rough_values(view: SideView, figures: Mapping[str, Response], found: Candidates) -> dict[str, Numbers]:
    """Option -> its value after every answer, what binds its targets to each other held as it is now."""
    network, believed = view.beliefs.network, view.beliefs
    links = {i: [places_of(_record(view, i), f, network, touch) for touch in (False, True)] for i, f in figures.items()}
    rows = [links_of(_record(view, i), f, network, touch_only=t) for i, f in figures.items() for t in (False, True)]
    exact = response_chances(network, believed.evidence, np.array(rows), np.zeros(len(rows)))
    values = {}
    for k, (ident, f) in enumerate(figures.items()):
        silent = []
        for exactly, link in zip(exact[2 * k : 2 * k + 2], links[ident], strict=True):
            apart_now = silent_apart(link, believed.posterior.chance)
            silent.append(silent_held(1 - exactly, apart_now, silent_apart(link, found.given)))
        values[ident] = _value(f, *silent)
    return values


def _value(figures: Response, silent: Numbers, silent_if_touch: Numbers) -> Numbers:
    hold = (1 - (1 - figures.leak) * silent) * figures.share_if_hold
    touch = (1 - (1 - figures.leak) * silent_if_touch) * figures.share_if_touch
    return figures.weight * hold + (1 - figures.weight) * touch


def _values(
    view: SideView, figures: Mapping[str, Response], asked: Sequence[Asked], found: Candidates
) -> dict[str, Numbers]:
    """Option -> its value after every answer to every question, (questions, answers), exactly."""
    network, evidence = view.beliefs.network, view.beliefs.evidence
    links: list[dict[str, float]] = []
    for ident, f in figures.items():
        for touch_only in (False, True):
            places = places_of(_record(view, ident), f, network, touch_only)
            links.append({network.causes[place]: c for place, c in places.items() if c > 0})
    silent = silent_given(network, evidence, asked, found, links)
    return {ident: _value(f, silent[2 * k], silent[2 * k + 1]) for k, (ident, f) in enumerate(figures.items())}


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
