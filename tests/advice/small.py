"""A few invented hypotheses over a few findings, and the one side of a case about them."""

from __future__ import annotations

from typing import Any

from reasoner.advice.side import SideView, side_views
from reasoner.case.state import Context
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Figure, Hypothesis, Link
from tests.build import NOW, finding, knowledge, state

PUBLISHED: Any = "published"


def hypothesis(ident: str, rate: float, links: dict[str, str | float], basis: Any = "practice") -> Hypothesis:
    """A restriction with one base rate."""
    return Hypothesis(
        id=ident, name=ident, list="restriction", base_rate={"not_stated": Figure(value=rate, basis=basis)},
        produces=tuple(Link(finding=f, chance=c, basis=basis) for f, c in links.items()),
    )  # fmt: skip


def pack(*hypotheses: Hypothesis, findings: tuple[str, ...] = ("f", "g")) -> Knowledge:
    """A few hypotheses over a few told findings, leak .05."""
    return knowledge(findings=[finding(f) for f in findings], hypotheses=hypotheses)


def view(known: Knowledge, answers: dict[str, Any]) -> SideView:
    """The one side of a case with these answers."""
    return side_views(known, state(answers, Context(side="left")), NOW)[1][0]
