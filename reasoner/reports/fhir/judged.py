"""What was thought, decided and done: Condition, ClinicalImpression, RiskAssessment, DetectedIssue, ServiceRequest,
Procedure, Consent, Goal, CarePlan."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reasoner.consult.standing import Standing
from reasoner.consult.words import covered_words
from reasoner.reports.dossier import Dossier
from reasoner.reports.fhir.codes import PRIORITY, SEVERITY, own
from reasoner.reports.fhir.entries import Entries, Reference, instant, quantity
from reasoner.reports.phrases import VERDICTS, changes, handed_over, option_name

__all__ = ["chances", "done", "impression", "issues", "plan"]

_CLINICAL = "http://terminology.hl7.org/CodeSystem/condition-clinical"
_CERTAINTY = "http://terminology.hl7.org/CodeSystem/condition-ver-status"
_SCOPE = "http://terminology.hl7.org/CodeSystem/consentscope"
_CONSENT_DOCUMENT = {"system": "http://loinc.org", "code": "59284-0", "display": "Consent Document"}
_LISTS = {"must_not_miss": "must not be missed"}


def _last(d: Dossier, heading: str) -> str:
    told = [n.text for n in d.state.notes if n.heading == heading]
    return told[-1] if told else ""


def impression(e: Entries) -> list[Reference]:
    """The problem as the clinician put it, and their own judgement; none of it is the tool's."""
    d = e.d
    words = _last(d, "conclusion") or _last(d, "problem") or "not written yet"
    days = [day for event in d.state.context.days_since if (day := d.since(event)[1]) is not None]
    problem = e.add("Condition", "problem", {
        "clinicalStatus": {"coding": [{"system": _CLINICAL, "code": "active", "display": "Active"}]},
        "verificationStatus": {"coding": [{"system": _CERTAINTY, "code": "provisional", "display": "Provisional"}]},
        "code": {"text": words},
        "bodySite": [site] if (site := e.body_site(d.state.context.side or "")) else None,
        "subject": e.patient,
        "encounter": e.encounter(d.state.visit),
        "onsetDateTime": min(days).isoformat() if days else None,
    })  # fmt: skip
    judged = d.state.judgements[-1] if d.state.judgements else None
    names = d.knowledge.hypotheses
    closed = bool(d.state.visits) and d.state.visits[-1].closed_at is not None
    return [problem, e.add("ClinicalImpression", "impression", {
        "status": "completed" if closed else "in-progress",
        "subject": e.patient,
        "encounter": e.encounter(d.state.visit),
        "date": instant(None, d.as_of),
        "problem": [problem],
        "summary": words,
        "finding": [
            {"itemCodeableConcept": own("hypothesis", h, names[h].name if h in names else h)}
            for h in (judged.ranked if judged is not None else ())
        ],
        "note": [{"text": f"own judgement before the tool's: {judged.words}"}] if judged and judged.words else None,
    })]  # fmt: skip


def chances(e: Entries) -> list[Reference]:
    """What the tool makes of it, as a RiskAssessment of its own, by the software and marked preliminary.

    Serious things are given in words and without a small number: a screen's state and next step stand in its place.
    """
    predictions = [_prediction(h) for h in e.d.advice.hypotheses]
    if not predictions:
        return []
    return [e.add("RiskAssessment", "chances", {
        "status": "preliminary",
        "subject": e.patient,
        "encounter": e.encounter(e.d.state.visit),
        "occurrenceDateTime": instant(None, e.d.as_of),
        "performer": e.refer("Device", "software"),
        "method": {"text": "two-layer noisy-OR network; chances of this tool, not adopted by the clinician"},
        "prediction": predictions,
    })]  # fmt: skip


def _prediction(h: Any) -> dict[str, Any]:
    site = f", {h.side}" if h.side else ""
    made: dict[str, Any] = {
        "outcome": own("hypothesis", h.id, h.name + site),
        "qualitativeRisk": {"text": h.words or "no words"},
        "rationale": f"{_LISTS.get(h.list, h.list.replace('_', ' '))}; base rate here {h.base:.3f}",
    }
    if h.list == "must_not_miss":
        return made
    if h.range is None:
        return made | {"probabilityDecimal": round(h.chance, 6)}
    low, high = h.range
    percent = {"low": quantity(round(low * 100, 4), "%"), "high": quantity(round(high * 100, 4), "%")}
    return made | {"probabilityRange": percent}


def issues(e: Entries, stands: tuple[Standing, ...]) -> list[Reference]:
    """Danger screens met or open, what was done about them, and the request that follows from one that stands."""
    made = []
    for screen in e.d.advice.screens:
        if screen.state in ("met", "open") and not any(s.screen.id == screen.id for s in stands):
            made.append(_issue(e, screen.id, screen.state, screen.met_by, e.d.state.visit))
    for one in stands:
        made.append(_issue(e, one.screen.id, "met", one.met_by, one.visit))
        made.append(e.add("ServiceRequest", one.screen.id, {
            "status": "active",
            "intent": "proposal",
            "priority": PRIORITY[one.screen.send],
            "code": {"text": one.screen.next_step},
            "subject": e.patient,
            "encounter": e.encounter(one.visit),
            "authoredOn": instant(one.at, e.d.as_of),
            "requester": e.refer("Practitioner", e.d.clinician),
            "reasonCode": [own("screen", one.screen.id, one.screen.name)],
            "note": [{"text": f"Not excluded: {one.screen.not_excluded}"}] if one.screen.not_excluded else None,
        }))  # fmt: skip
    return made


def _issue(e: Entries, ident: str, state: str, met_by: tuple[str, ...], visit: int) -> Reference:
    d, screen = e.d, e.d.knowledge.screens[ident]
    known = {(a.finding, a.side) for a in d.state.answers}
    evidence = [
        e.refer("Observation", f"finding {finding} {side}")
        for finding, _, side in (m.partition("@") for m in met_by)
        for side in ([side] if side else ["left", "right", "both", "none"])
        if (finding, side) in known and finding in d.knowledge.findings
    ]
    resolved = [r for r in d.state.resolutions if r.screen == ident]
    return e.add("DetectedIssue", ident, {
        "status": "final" if state == "met" else "preliminary",
        "code": own("screen", ident, screen.name),
        "severity": SEVERITY[screen.send],
        "patient": e.patient,
        "identifiedDateTime": instant(None, d.as_of),
        "author": e.refer("Device", "software"),
        "evidence": [{"detail": evidence}] if evidence else None,
        "detail": screen.say_met if state == "met" else "Open: not answered enough to judge; not excluded.",
        "mitigation": [
            {"date": instant(r.at, d.as_of),
             "action": {"text": f"{r.done}; {r.result}; not excluded: {r.not_excluded}"}}
            for r in resolved
        ],
    })  # fmt: skip


def done(e: Entries) -> list[Reference]:
    """What was given, with its retest, and the consent to it."""
    return [*_procedures(e), *_consents(e)]


def _procedures(e: Entries) -> Iterator[Reference]:
    for loop in e.d.state.loops:
        told = [f"dose: {loop.dose or 'not recorded'}", changes(e.d, loop)]
        told += [f"given against advice: {loop.against_advice}"] if loop.against_advice else []
        told += [f"not retested: {loop.excused}"] if loop.excused else []
        ended = VERDICTS.get(loop.verdict or "")
        yield e.add("Procedure", loop.seq, {
            "status": "completed",
            "code": own("option", loop.option, option_name(e.d, loop.option)),
            "subject": e.patient,
            "encounter": e.encounter(loop.visit),
            "performedDateTime": instant(loop.at, e.d.as_of),
            "bodySite": [site] if (site := e.body_site(loop.side)) else None,
            "outcome": {"text": ended} if ended else None,
            "note": [{"text": t} for t in told if t],
        })  # fmt: skip


def _consents(e: Entries) -> Iterator[Reference]:
    for consent in e.d.state.consents:
        status = "inactive" if consent.withdrawn else "active" if consent.agreed else "rejected"
        name = option_name(e.d, consent.option)
        covered = ", ".join(covered_words(consent.covered)) or "not recorded"
        yield e.add("Consent", consent.seq, {
            "status": status,
            "scope": {"coding": [{"system": _SCOPE, "code": "treatment"}]},
            "category": [{"coding": [_CONSENT_DOCUMENT]}],
            "patient": e.patient,
            "dateTime": instant(consent.at, e.d.as_of),
            "policyRule": {"text": f"spoken agreement to treatment: {name}; talked through: {covered}"},
            "provision": {
                "type": "permit" if consent.agreed and not consent.withdrawn else "deny",
                "code": [own("option", consent.option, name)],
            },
        })  # fmt: skip


def plan(e: Entries) -> list[Reference]:
    """The patient's goal in their words, and the plan in the clinician's."""
    d = e.d
    goals = list(_goals(e))
    told = [(heading, _last(d, heading)) for heading in ("plan", "home", "next_visit", "return_if")]
    told += [("handover", text) for text in handed_over(d)]
    told = [(heading, text) for heading, text in told if text]
    if not told:
        return goals
    return [*goals, e.add("CarePlan", "plan", {
        "status": "active",
        "intent": "plan",
        "subject": e.patient,
        "encounter": e.encounter(d.state.visit),
        "created": instant(None, d.as_of),
        "author": e.refer("Practitioner", d.clinician),
        "goal": goals,
        "activity": [
            {"detail": {"status": "not-started", "code": own("plan", heading, heading.replace("_", " ")),
                        "description": text}}
            for heading, text in told
        ],
    })]  # fmt: skip


def _goals(e: Entries) -> Iterator[Reference]:
    d = e.d
    told = _last(d, "goal") or d.state.function_words
    if told:
        yield e.add("Goal", "goal", {
            "lifecycleStatus": "active", "description": {"text": told}, "subject": e.patient,
        })  # fmt: skip
    for goal in d.state.goals:
        record = d.knowledge.measures.get(goal.measure)
        if record is not None:
            side = f" {goal.side}" if goal.side in ("left", "right") else ""
            yield e.add("Goal", f"{goal.measure} {goal.side}", {
                "lifecycleStatus": "active",
                "description": {"text": goal.words or f"{record.name}{side} {goal.value:g} {record.unit}"},
                "subject": e.patient,
            })  # fmt: skip
