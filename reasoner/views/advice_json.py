"""Advice as the JSON that scripts rely on. Every key of schema 1 is always there; `chance` always is a number."""

from __future__ import annotations

from typing import Any

from reasoner.advice.plain import plain
from reasoner.advice.records import Advice, HypothesisAdvice, OptionAdvice, Question, Steadiness

__all__ = ["SCHEMA", "as_json"]

SCHEMA = 1


def as_json(advice: Advice) -> dict[str, Any]:
    """Plain data, ready for json.dumps."""
    return {
        "schema": SCHEMA,
        "region": advice.region,
        "knowledge": advice.knowledge,
        "covered": advice.covered,
        "screening_complete": advice.screening_complete,
        "blocked": advice.blocked,
        "ask_first": [_question(q) for q in advice.ask_first],
        "screens": [plain(s) for s in advice.screens],
        "hypotheses": [_hypothesis(h) for h in advice.hypotheses],
        "questions": [_question(q) for q in advice.questions],
        "options": [_option(o) for o in advice.options],
        "trials": [_question(q) for q in advice.trials],
        "nothing_changes": advice.nothing_changes,
        "steadiness": [_steadiness(s) for s in advice.steadiness],
        "answers_with_weight": advice.informative,
        "approximate": advice.approximate,
        "impossible": list(advice.impossible),
        "conflicts": [
            {"side": c.side, "answer": c.value, "chance": round(c.chance, 6), "z": round(c.z, 3)}
            for c in advice.conflicts
        ],
    }


def _question(q: Question) -> dict[str, Any]:
    return {
        "id": q.id,
        "kind": q.kind,
        "ask": q.ask,
        "gain_bits": round(q.gain_bits, 6),
        "minutes": q.minutes,
        "position": q.position,
        "why": q.why,
        "changes": q.changes,
    }


def _hypothesis(h: HypothesisAdvice) -> dict[str, Any]:
    found = {
        "id": h.id,
        "name": h.name,
        "list": h.list,
        "chance": h.chance,
        "range": None if h.range is None else list(h.range),
        "base": h.base,
        "words": h.words,
        "for": list(h.for_),
        "against": list(h.against),
    }
    return found if h.side is None else {**found, "side": h.side}


def _steadiness(s: Steadiness) -> dict[str, Any]:
    found = {
        "list": s.list,
        "lead": s.lead,
        "held": s.held,
        "words": s.words,
        "rivals": list(s.rivals),
        "hangs_on": s.hangs_on,
    }
    return found if s.side is None else {**found, "side": s.side}


def _option(o: OptionAdvice) -> dict[str, Any]:
    found = {
        "id": o.id,
        "name": o.name,
        "lane": o.lane,
        "state": o.state,
        "value": o.value,
        "range": None if o.range is None else list(o.range),
        "chance_real_change": o.chance_real_change,
        "if_touch": o.if_touch,
        "certainty": o.certainty,
        "sign": o.sign,
        "relevant": o.relevant,
        "reasons": list(o.reasons),
        "missing": list(o.missing),
    }
    return found if o.side is None else {**found, "side": o.side}
