"""One side of a case, as advice and explanations look at it: facts, gates and beliefs."""

from __future__ import annotations

from datetime import datetime
from functools import cached_property

from reasoner.advice.asking import unanswered
from reasoner.advice.beliefs import Beliefs, beliefs
from reasoner.advice.draws import Drawn, draw
from reasoner.case.state import CaseState
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.options.gate import Gatekeeper
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["SideView", "side_views"]


class SideView:
    """One side of a case: its facts, gates and beliefs. `label` is None while the case has one side."""

    def __init__(self, facts: Facts, screening: Screening, label: str | None) -> None:
        self.facts, self.label = facts, label
        rules = screening.rules_for(facts)
        covered = evaluate(facts.knowledge.region.covers, rules).verdict
        self.gates = Gatekeeper(screening, facts, covered, unanswered(screening.facts))
        self.beliefs: Beliefs = beliefs(facts, screening, facts.sides[0])

    @cached_property
    def drawn(self) -> Drawn | None:
        """The beliefs under draws of every number; None where that would cost too much."""
        return draw(self.beliefs)


def side_views(knowledge: Knowledge, state: CaseState, now: datetime) -> tuple[Screening, tuple[SideView, ...]]:
    """The screens over all sides, and a view for each side of the case."""
    whole = Facts(knowledge, state, now)
    screening = Screening(whole)
    several = len(whole.case_sides) > 1
    views = tuple(
        SideView(whole.on(side), screening, side if several else None) for side in whole.case_sides
    )
    return screening, views
