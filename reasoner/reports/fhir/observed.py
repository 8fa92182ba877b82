"""What was told, seen and measured as Observations; who and when as well. `standing`: it counts at the moment told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reasoner.case.state import Answer, Measurement, Side
from reasoner.consult.words import number
from reasoner.graph.records import Measure
from reasoner.measures.baseline import value
from reasoner.reports.dossier import Dossier
from reasoner.reports.fhir.codes import ABSENT_REASON, OWN, UNITS, own
from reasoner.reports.fhir.entries import Entries, Reference, instant, quantity
from reasoner.reports.phrases import latest
from reasoner.reports.snapshot_of import snapshot_of

__all__ = ["STANDING", "context_observations", "finding_observations", "measure_observations"]

STANDING = {"system": OWN + "tag", "code": "standing", "display": "counts at the moment of the document"}
_EARLIER = {"system": OWN + "tag", "code": "earlier", "display": "from an earlier visit or assessment"}
_UNKNOWN = {
    "coding": [{"system": ABSENT_REASON, "code": "asked-unknown", "display": "Asked But Unknown"}],
    "text": "asked, could not be answered",
}


def _tag(d: Dossier, standing: bool) -> dict[str, Any]:
    return {"tag": [STANDING if standing else _EARLIER]}


# ------------------------------------------------------------------------------------------------ who and when


def context_observations(e: Entries) -> list[Reference]:
    """Age, side, setting, days since, cast, operation: one Observation a fact, exactly as a snapshot holds it."""
    context = snapshot_of(e.d.knowledge, e.d.state, e.d.as_of)["context"]
    return [e.add("Observation", f"context {name}", _context(e, name, told)) for name, told in _facts(context)]


def _facts(context: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    for name, told in context.items():
        if name == "days_since":
            yield from ((f"days_since.{event}", days) for event, days in told.items())
        elif isinstance(told, dict):
            yield name, "stated"  # the whole of it, also where every part is unknown
            yield from ((f"{name}.{part}", value) for part, value in told.items())
        else:
            yield name, told


def _context(e: Entries, name: str, told: Any) -> dict[str, Any]:
    units = {"age": "a", "immobilised.weeks": "wk"}
    parts: dict[str, Any] = {
        "meta": _tag(e.d, True),
        "status": "final",
        "code": own("context", name, name.replace("_", " ").replace(".", " ")),
        "subject": e.patient,
        "encounter": e.encounter(e.d.state.visit),
        "effectiveDateTime": instant(None, e.d.as_of),
    }
    if told == "unknown":
        return parts | {"dataAbsentReason": _UNKNOWN}
    if isinstance(told, str):
        return parts | {"valueCodeableConcept": own(f"context:{name}", told, told.replace("_", " "))}
    return parts | {"valueQuantity": quantity(told, "d" if name.startswith("days_since") else units[name])}


# ------------------------------------------------------------------------------------------------ findings


def finding_observations(e: Entries) -> list[Reference]:
    """The latest answer to each finding and side."""
    return [
        e.add("Observation", f"finding {a.finding} {a.side}", _finding(e, a))
        for a in latest(e.d)
        if a.finding in e.d.knowledge.findings
    ]


def _finding(e: Entries, a: Answer) -> dict[str, Any]:
    d, record = e.d, e.d.knowledge.findings[a.finding]
    parts: dict[str, Any] = {
        "meta": _tag(d, d.facts.standing.get((a.finding, a.side)) is a),
        "status": "final",
        "category": [own("how", record.kind, record.kind)],
        "code": own("finding", a.finding, record.name),
        "subject": e.patient,
        "encounter": e.encounter(a.visit),
        "effectiveDateTime": instant(a.at, d.as_of),
        "bodySite": e.body_site(a.side),
    }
    if a.sure is not None:
        return parts | {"component": [{"code": own("part", "sureness", "how sure that it is there"),
                                       "valueQuantity": quantity(a.sure, "1")}]}  # fmt: skip
    if a.value == "unknown":
        return parts | {"dataAbsentReason": _UNKNOWN}
    return parts | {"valueBoolean": a.value == "present"}


# ------------------------------------------------------------------------------------------------ measures


def measure_observations(e: Entries, *, icf: bool) -> list[Reference]:
    """Every measurement: the mean as the value, its trials as components, tool as method, set-up as a note."""
    wanted = {(m.measure, m.side): m.seq for m in _before(e.d)}
    return [
        e.add("Observation", f"measure {m.seq} {m.measure} {m.side}", _measure(e, m, record, wanted, icf))
        for m in e.d.state.measurements
        if (record := e.d.knowledge.measures.get(m.measure)) is not None
    ]


def _before(d: Dossier) -> Iterator[Measurement]:
    return (m for m in d.state.measurements if m.phase == "baseline" and m.assessment == d.state.assessment)


def _measure(
    e: Entries, m: Measurement, record: Measure, wanted: Mapping[tuple[str, Side], int], icf: bool
) -> dict[str, Any]:
    unit = record.unit if record.unit in UNITS else "1"
    tool = next((t.name for t in record.tools if t.id == m.tool), m.tool or "not stated")
    code = own("measure", m.measure, record.name)
    if icf:
        code = {**code, "coding": [*code["coding"], *_icf(e.d, m.measure)]}  # type: ignore[misc]
    standing = m.phase == "baseline" and wanted.get((m.measure, m.side)) == m.seq
    return {
        "meta": _tag(e.d, standing),
        "status": "final",
        "category": [own("phase", m.phase, m.phase)],
        "code": code,
        "subject": e.patient,
        "encounter": e.encounter(m.visit),
        "effectiveDateTime": instant(m.at, e.d.as_of),
        "bodySite": e.body_site(m.side),
        "method": own("tool", m.tool, tool) if m.tool else None,
        "valueQuantity": quantity(value(m.values), unit),
        "component": [
            {"code": own("part", "trial", f"trial {n}"), "valueQuantity": quantity(v, unit)}
            for n, v in enumerate(m.values, 1)
        ],
        "note": [{"text": m.setup}] if m.setup else None,
        "interpretation": [{"text": f"mean of {number(len(m.values))} trials"}] if len(m.values) > 1 else None,
    }


def _icf(d: Dossier, measure: str) -> Iterator[dict[str, Any]]:
    """ICF codes with labels of our own; the classification is the World Health Organization's."""
    for entry in d.knowledge.region.icf:
        if measure in entry.aliases:
            yield {"system": "http://hl7.org/fhir/sid/icf", "code": entry.id, "display": entry.name}


