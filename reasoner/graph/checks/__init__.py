"""Rules that hold across records: one small function each, with a code; its docstring is its reference text."""

from __future__ import annotations

from reasoner.graph.checks import acts, beliefs, citations, coupled, figures, ids, references, retired, rules, words
from reasoner.graph.checks.base import Check
from reasoner.graph.pack import Pack
from reasoner.problems import Problem

__all__ = ["CHECKS", "check"]

CHECKS: tuple[Check, ...] = tuple(
    one
    for module in (references, rules, ids, figures, citations, beliefs, coupled, acts, retired, words)
    for one in module.CHECKS
)


def check(pack: Pack) -> list[Problem]:
    """Every problem every rule finds, in the order of the rules."""
    return [problem for one in CHECKS for problem in one.run(pack)]
