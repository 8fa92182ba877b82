"""May this be asked of the joint now? The same gates on load classes as for techniques."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from reasoner.advice.asking import unanswered
from reasoner.case.state import Side
from reasoner.consult.situation import Situation
from reasoner.options.gate import Gatekeeper, GateResult
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["may_ask", "stays_shut"]


def may_ask(case: Situation, load_classes: Iterable[str], side: Side) -> bool:
    """Is every load class of a test or measure open on this side (with or without a caution)?"""
    return _judged(case, load_classes, side).open


def stays_shut(case: Situation, load_classes: Iterable[str], side: Side) -> bool:
    """Is it closed whatever is answered next: barred, or before its healing window? Not: waiting for an answer."""
    barriers = _judged(case, load_classes, side).barriers
    return any(b.state == "barred" or (b.state == "not_yet" and not b.missing) for b in barriers)


def _judged(case: Situation, load_classes: Iterable[str], side: Side) -> GateResult:
    screening = Screening(case.facts)
    facts = replace(case.facts, side=None if side == "none" else side)
    covered = evaluate(case.knowledge.region.covers, screening.rules_for(facts)).verdict
    return Gatekeeper(screening, facts, covered, unanswered(case.facts)).judge(load_classes)
