"""The whole record of a case as JSON: schema version 1, described by record.schema.json beside this file."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from typing import Any

from reasoner.advice.plain import plain
from reasoner.consult.recall import recall_lines
from reasoner.consult.standing import highest, standing
from reasoner.measures.baseline import value
from reasoner.measures.error import standard_error
from reasoner.reports.dossier import CAUTION, INVENTED, Dossier
from reasoner.reports.snapshot_of import snapshot_of

__all__ = ["SCHEMA", "record", "schema_text"]

SCHEMA = 1
SCHEMA_FILE = "record.schema.json"


def schema_text() -> str:
    """The published JSON Schema of the export (draft 2020-12)."""
    return (files("reasoner.reports") / SCHEMA_FILE).read_text(encoding="utf-8")


def record(d: Dossier) -> dict[str, Any]:
    """Plain data, ready for json.dumps. Times carry their offset; measures their unit and standard error."""
    state = d.state
    stands = standing(d.knowledge, state, d.as_of)
    return {
        "schema": SCHEMA,
        "invented": INVENTED if d.invented else None,
        "caution": CAUTION,
        "case": state.case,
        "kind": state.kind,
        "region": state.region,
        "as_of": d.as_of.isoformat(),
        "printed": {"at": d.now.isoformat(), "by": d.by, "role": d.role},
        "trail": {"count": d.count, "head": d.head},
        "knowledge": d.knowledge.digest,
        "engine": d.engine,
        "urgency": highest(stands),
        "blocked": d.advice.blocked,
        "screening_complete": d.advice.screening_complete,
        "recall": list(recall_lines(d.knowledge, state, d.advice, d.as_of)),
        "snapshot": snapshot_of(d.knowledge, state, d.as_of),
        "screens": [plain(s) for s in d.advice.screens],
        "standing": [_screen(d, s.screen.id) | {"visit": s.visit, "at": s.at.isoformat(), "met_by": list(s.met_by)}
                     for s in stands],
        "visits": [plain(v) for v in state.visits],
        "answers": [plain(a) for a in state.answers],
        "measurements": list(_measurements(d)),
        "retest_signs": list(state.retest_signs),
        "function_words": state.function_words,
        "goals": [plain(g) for g in state.goals],
        "loops": [plain(p) for p in state.loops],
        "consents": [plain(c) for c in state.consents],
        "resolutions": [plain(r) for r in state.resolutions],
        "exam_plans": [plain(p) for p in state.exam_plans],
        "flares": [plain(f) for f in state.flares],
        "stalls": [plain(s) for s in state.stalls],
        "orders_heard": [plain(o) for o in state.orders_heard],
        "handovers": [plain(h) for h in state.handovers],
        "ending": plain(state.ending),
        "withdrawn": [plain(w) for w in state.withdrawn],
        "judgements": [plain(j) for j in state.judgements],
        "notes": [plain(n) for n in state.notes],
    }  # fmt: skip


def _screen(d: Dossier, ident: str) -> dict[str, Any]:
    screen = d.knowledge.screens[ident]
    return {
        "id": ident, "name": screen.name, "send": screen.send, "hands": screen.hands,
        "not_excluded": screen.not_excluded,
    }  # fmt: skip


def _measurements(d: Dossier) -> Iterator[dict[str, Any]]:
    for m in d.state.measurements:
        known = d.knowledge.measures.get(m.measure)
        error = standard_error(known, m.tool, trials=len(m.values)) if known is not None else None
        yield plain(m) | {
            "unit": known.unit if known is not None else None,
            "mean": value(m.values),
            "standard_error": None if error is None else error.value,
        }
