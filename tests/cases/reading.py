"""The cases beside this module: published, ordinary and typical ones, their keys, and what the tool says about each.

A snapshot of a published case was written from what was told and found, never from the answer; the answers stand in
`published_key.yaml`. Ordinary ankles, and typical presentations of what is less common, are invented and were written
before they were run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from reasoner.advice.advise import advise
from reasoner.advice.beliefs import hypotheses_advice
from reasoner.advice.records import Advice, HypothesisAdvice
from reasoner.advice.side import side_views
from reasoner.case.state import CaseState
from reasoner.consult.snapshot import read_snapshot, state_of
from reasoner.graph.knowledge import Knowledge
from reasoner.safety.screens import ScreenResult
from tests.build import NOW

__all__ = [
    "LEADING_LISTS", "Case", "advice_on", "beliefs_of", "leader", "ordinary_cases", "published_cases", "rank",
    "state_in", "typical_cases",
]  # fmt: skip

HERE = Path(__file__).parent
LEADING_LISTS = ("limits", "injured_or_ill")  # the two lists in which a rarity at the top sends people astray


@dataclass(frozen=True)
class Case:
    """One snapshot file and what stands about it in its key."""

    id: str
    path: Path
    key: Mapping[str, Any]

    @property
    def first(self) -> Mapping[str, tuple[str, ...]]:
        """List -> ids that may lead it: the confirmed answer, or what an ordinary ankle should look like."""
        if "first" in self.key:
            return {name: tuple(ids) for name, ids in self.key["first"].items()}
        return {self.key["list"]: tuple(self.key["answers"])} if self.key.get("answers") else {}


def _cases(kind: str) -> tuple[Case, ...]:
    keys = yaml.safe_load((HERE / f"{kind}_key.yaml").read_text(encoding="utf-8"))
    return tuple(Case(name, HERE / kind / f"{name}.yaml", key) for name, key in keys.items())


@cache
def published_cases() -> tuple[Case, ...]:
    """Cases from the literature, each with source, use, urgency and confirmed answer."""
    return _cases("published")


@cache
def ordinary_cases() -> tuple[Case, ...]:
    """Invented everyday ankles, each with what may lead its lists and the screens it should meet."""
    return _cases("ordinary")


@cache
def typical_cases() -> tuple[Case, ...]:
    """Invented presentations of the less common, as a short report tells them."""
    return _cases("typical")


def state_in(knowledge: Knowledge, case: Case) -> CaseState:
    """The snapshot as a case state."""
    return state_of(read_snapshot(case.path), knowledge, NOW)


def advice_on(knowledge: Knowledge, case: Case) -> Advice:
    """All the tool would say."""
    return advise(knowledge, state_in(knowledge, case), NOW)


def beliefs_of(knowledge: Knowledge, state: CaseState) -> tuple[tuple[ScreenResult, ...], tuple[HypothesisAdvice, ...]]:
    """Screens and hypotheses alone: no questions and no options, so a tenth of the work."""
    screening, views = side_views(knowledge, state, NOW)
    results = screening.results()
    return tuple(results), tuple(hypotheses_advice(knowledge, views[0].beliefs, results, side=views[0].label))


def rank(hypotheses: tuple[HypothesisAdvice, ...], name: str, ids: tuple[str, ...]) -> int | None:
    """Place of the best of `ids` in its list, 1 first; a tie counts against it. None: unknown to the pack."""
    listed = [h for h in hypotheses if h.list == name]
    best = max((h.chance for h in listed if h.id in ids), default=None)
    if best is None:
        return None
    return 1 + sum(h.chance >= best and h.id not in ids for h in listed)


def leader(hypotheses: tuple[HypothesisAdvice, ...], name: str) -> HypothesisAdvice:
    """First of a list."""
    return max((h for h in hypotheses if h.list == name), key=lambda h: h.chance)
