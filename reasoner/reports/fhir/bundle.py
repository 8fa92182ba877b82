"""The document Bundle: Composition first, everything it speaks of after it, Provenance last."""

from __future__ import annotations

from typing import Any

from reasoner.consult.standing import standing
from reasoner.problems import InputRefused
from reasoner.reports.document import Block, Bullets, Document, Fields, Para, Section, Steps, Table
from reasoner.reports.dossier import INVENTED, Dossier
from reasoner.reports.fhir.check import check_bundle
from reasoner.reports.fhir.codes import OWN, REGION, own
from reasoner.reports.fhir.entries import Entries, Reference, instant
from reasoner.reports.fhir.judged import chances, done, impression, issues, plan
from reasoner.reports.fhir.observed import context_observations, finding_observations, measure_observations
from reasoner.reports.note import note
from reasoner.visible import markup

__all__ = ["bundle"]

_PSEUDONYM = {
    "system": "http://terminology.hl7.org/CodeSystem/v3-ObservationValue", "code": "PSEUDED",
    "display": "pseudonymized",
}  # fmt: skip
_TEST = {"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST", "display": "test health data"}


def bundle(d: Dossier, *, icf: bool = False) -> dict[str, Any]:
    """The document. InputRefused if it fails its own checks: then nothing leaves."""
    made = _assembled(d, icf)
    problems = check_bundle(made)
    if problems:
        raise InputRefused(problems)
    return made


def _assembled(d: Dossier, icf: bool) -> dict[str, Any]:
    e = Entries(d)
    _people(e)
    stands = standing(d.knowledge, d.state, d.as_of)
    parts: dict[str, list[Reference]] = {
        "Clinician's conclusion": impression(e),
        "Who": context_observations(e),
        "Danger screens": issues(e, stands),
        "Found": finding_observations(e),
        "Measured": measure_observations(e, icf=icf),
        "Done": done(e),
        "Plan": plan(e),
        "Visits": [e.encounter(v.number) for v in d.state.visits],
        "Chances of the tool": chances(e),
    }
    composition = _composition(e, note(d), parts)
    _provenance(e, composition)
    first = next(n for n in e.all if n["fullUrl"] == composition["reference"])
    return {
        "resourceType": "Bundle",
        "meta": _meta(d) | {"tag": [*_meta(d).get("tag", []), {"system": REGION, "code": d.knowledge.region.id}]},
        "identifier": {"system": OWN + "document", "value": f"{d.state.case}-{d.head.removeprefix('sha256:')[:32]}"},
        "type": "document",
        "timestamp": instant(None, d.now),
        "entry": [first, *(n for n in e.all if n is not first)],
    }


def _meta(d: Dossier) -> dict[str, list[dict[str, str]]]:
    return {"security": [_PSEUDONYM], "tag": [_TEST]} if d.invented else {"security": [_PSEUDONYM]}


def _people(e: Entries) -> None:
    """The patient by pseudonym, clinicians by code, the software, and one Encounter a visit."""
    d, state = e.d, e.d.state
    gender = {"female": "female", "male": "male", "other": "other"}.get(state.context.sex or "", "unknown")
    e.add("Patient", "patient", {
        "meta": _meta(d),
        "identifier": [{"system": OWN + "case", "value": state.case}],
        "gender": gender,
    })  # fmt: skip
    people = {v.clinician: v.role for v in state.visits} | {d.by: d.role}
    for code in people:
        e.add("Practitioner", code, {"identifier": [{"system": OWN + "clinician", "value": code}]})
    e.add("Device", "software", {
        "identifier": [{"system": OWN + "software", "value": f"reasoner {d.engine}"}],
        "status": "active",
        "deviceName": [{"name": "reasoner", "type": "model-name"}],
        "version": [{"value": d.engine}, {"type": {"text": "knowledge digest"}, "value": d.knowledge.digest}],
    })  # fmt: skip
    for visit in state.visits:
        period = {"start": instant(visit.opened_at, d.as_of)}
        period |= {"end": instant(visit.closed_at, d.as_of)} if visit.closed_at is not None else {}
        e.add("Encounter", visit.number, {
            "identifier": [{"system": OWN + "visit", "value": f"{state.case} visit {visit.number}"}],
            "status": "finished" if visit.closed_at is not None else "in-progress",
            "class": {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "AMB",
                      "display": "ambulatory"},
            "subject": e.patient,
            "participant": [{"individual": e.refer("Practitioner", visit.clinician)}],
            "period": period,
        })  # fmt: skip


def _composition(e: Entries, told: Document, parts: dict[str, list[Reference]]) -> Reference:
    d = e.d
    titles = [s.title for s in told.sections]
    sections = [_section(s, parts.get(s.title, [])) for s in told.sections]
    for title, references in parts.items():
        if references and title not in titles:
            text = "as coded" if title == "Visits" else "What the tool makes of it; not adopted by the clinician."
            sections.append(_section(Section(title, (Para(text),)), references))
    closed = bool(d.state.visits) and d.state.visits[-1].closed_at is not None
    mark = f"{INVENTED}. " if d.invented else ""
    return e.add("Composition", "composition", {
        "language": "en",
        "text": _narrative("".join(f"<p>{markup(s)}</p>" for s in (mark + told.title, *told.subtitle))),
        "status": "final" if closed else "preliminary",
        "type": {"coding": [{"system": "http://loinc.org", "code": "11506-3", "display": "Progress note"}],
                 "text": "visit note"},
        "subject": e.patient,
        "encounter": e.encounter(d.state.visit) if d.state.visits else None,
        "date": instant(None, d.as_of),
        "author": [e.refer("Practitioner", d.clinician), e.refer("Device", "software")],
        "title": mark + told.title,
        "section": sections,
    })  # fmt: skip


def _section(section: Section, references: list[Reference]) -> dict[str, Any]:
    made: dict[str, Any] = {
        "title": section.title,
        "code": own("section", section.title.lower().replace(" ", "-").replace("'", ""), section.title),
        "text": _narrative("".join(_xhtml(b) for b in section.blocks)),
    }
    return made | ({"entry": references} if references else {})


def _narrative(inner: str) -> dict[str, str]:
    return {"status": "generated", "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{inner}</div>'}


def _xhtml(block: Block) -> str:
    """One block as XHTML; every foreign letter escaped."""
    if isinstance(block, Para):
        return f"<p>{markup(block.text)}</p>"
    if isinstance(block, (Bullets, Steps)):
        return "<ul>" + "".join(f"<li>{markup(i.strip())}</li>" for i in block.items) + "</ul>"
    if isinstance(block, Fields):
        return "<ul>" + "".join(f"<li>{markup(k)}: {markup(v)}</li>" for k, v in block.pairs) + "</ul>"
    if isinstance(block, Table):
        head = "".join(f"<th>{markup(c)}</th>" for c in block.head)
        rows = "".join("<tr>" + "".join(f"<td>{markup(c)}</td>" for c in row) + "</tr>" for row in block.rows)
        return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    return f"<p>{markup(block.alt)}</p>"


def _provenance(e: Entries, target: Reference) -> None:
    """Who and what made the document, with which knowledge, from which end of the trail."""
    d = e.d
    kinds = "http://terminology.hl7.org/CodeSystem/provenance-participant-type"
    e.add("Provenance", "provenance", {
        "target": [target],
        "recorded": instant(None, d.now),
        "agent": [
            {"type": {"coding": [{"system": kinds, "code": "author"}]}, "role": [e.role(d.role)],
             "who": e.refer("Practitioner", d.by)},
            {"type": {"coding": [{"system": kinds, "code": "assembler"}]}, "who": e.refer("Device", "software")},
        ],
        "entity": [
            {"role": "source", "what": {"identifier": {"system": OWN + "trail", "value": f"{d.count}:{d.head}"}}},
            {"role": "source", "what": {"identifier": {"system": OWN + "knowledge", "value": d.knowledge.digest}}},
        ],
    })  # fmt: skip
