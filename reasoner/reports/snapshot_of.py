"""A case state as the plain mapping of a snapshot file: what stands at a moment, and nothing that has expired.

Reading it back with `consult.snapshot.state_of` gives the same facts; JSON is YAML, so it can be considered as it is.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from reasoner.case.state import Answer, CaseState
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge

__all__ = ["snapshot_of"]


def snapshot_of(knowledge: Knowledge, state: CaseState, now: datetime) -> dict[str, Any]:
    """The snapshot of a case at `now`: region, context, findings, measures before treatment."""
    facts = Facts(knowledge, state, now)
    return {
        "region": knowledge.region.id,
        "context": _context(facts),
        "findings": _findings(facts),
        "measures": _measures(facts),
    }


def _context(facts: Facts) -> dict[str, Any]:
    context = facts.state.context
    found: dict[str, Any] = {}
    for name in ("side", "age", "sex", "setting"):
        value = getattr(context, name)
        if value is not None:
            found[name] = int(value) if isinstance(value, float) and value == int(value) else value
        elif name in context.unknown:
            found[name] = "unknown"
    if context.days_since:
        found["days_since"] = {event: _days(facts, event) for event in context.days_since}
    for name in ("immobilised", "surgery"):
        part = getattr(context, name)
        if part is None and name in context.unknown:
            found[name] = "unknown"
        elif part is not None:
            keys = ("weeks", "position") if name == "immobilised" else (
                "procedure", "fixation", "weight_bearing", "orders",
            )  # fmt: skip
            given = {k: getattr(part, k) for k in keys if getattr(part, k) is not None}
            found[name] = "none" if part.none else given
    return found


def _days(facts: Facts, event: str) -> Any:
    if facts.state.context.days_since[event].none:
        return "none"
    days = facts.days_since(event)[1]
    return "unknown" if days is None else days


def _findings(facts: Facts) -> dict[str, Any]:
    """An answer about a limb without its side counts for both, unless one of them was answered for itself."""
    found: dict[str, Any] = {}
    for (finding, side), answer in sorted(facts.standing.items(), key=lambda item: item[0][1] in ("left", "right")):
        value = _value(answer)
        if side in ("left", "right"):
            found.setdefault(finding, {})[side] = value
        elif facts.knowledge.findings[finding].sided:
            found[finding] = {"left": value, "right": value}
        else:
            found[finding] = value
    return found


def _value(answer: Answer) -> Any:
    return {"sure": answer.sure} if answer.sure is not None else answer.value


def _measures(facts: Facts) -> list[dict[str, Any]]:
    """The latest values before treatment of the present assessment, in the measure's own unit."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for m in facts.state.measurements:
        if m.phase != "baseline" or m.assessment != facts.state.assessment or m.measure not in facts.knowledge.measures:
            continue
        record = facts.knowledge.measures[m.measure]
        factor = next((t.per_unit for t in record.tools if t.id == m.tool), 1.0)
        entry: dict[str, Any] = {"measure": m.measure, "tool": m.tool, "values": [v / factor for v in m.values]}
        if m.side in ("left", "right"):
            entry["side"] = m.side
        if m.setup:
            entry["setup"] = m.setup
        found[m.measure, m.side] = entry
    return list(found.values())
