"""Code systems, code sets that R4B binds as required, and the UCUM codes in use.

Code sets are those of HL7 FHIR R4B 4.3.0 (hl7.org/fhir/R4B/terminologies-valuesets.html), looked up there set by set:
observation-status (8 codes), encounter-status (9), request-intent (9), data-absent-reason (15),
provenance-participant-type (10), consentscope (4), condition-ver-status (6), consent-state-codes (6); a test compares
every set with the one an independent R4B reader carries. SNOMED CT sides as in the published laterality value set of
mCODE; the two LOINC codes as R4 guides use them. UCUM: unitsofmeasure.org; only codes are used, no table is shipped.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = [
    "ABSENT_REASON", "CODE_SETS", "LATERALITY", "OWN", "PRIORITY", "REGION", "REQUIRED", "SEVERITY", "SYSTEM_CODES",
    "UCUM", "UCUM_CODES", "UNITS", "own",
]  # fmt: skip

OWN = "urn:reasoner:codes:"
REGION = OWN + "region"
UCUM = "http://unitsofmeasure.org"
ABSENT_REASON = "http://terminology.hl7.org/CodeSystem/data-absent-reason"

# unit as the knowledge writes it -> UCUM code
UNITS: Mapping[str, str] = {
    "cm": "cm", "mm": "mm", "deg": "deg", "s": "s", "kg": "kg", "m/s": "m/s", "%": "%",
    "% of leg length": "%", "d": "d", "wk": "wk", "a": "a",
    "0-10": "{score}", "points": "{score}", "count": "{count}", "repetitions": "{repetitions}", "1": "1",
}  # fmt: skip
UCUM_CODES = frozenset(UNITS.values())

# side -> (SNOMED CT qualifier, words)
LATERALITY: Mapping[str, tuple[str, str]] = {"left": ("7771000", "Left"), "right": ("24028007", "Right")}

_STATUS = frozenset(
    ("registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown")
)
_REQUEST = frozenset(("draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"))
# "Resource.path" (lists passed through) -> codes of the required binding
CODE_SETS: Mapping[str, frozenset[str]] = {
    "Bundle.type": frozenset(
        ("document", "message", "transaction", "transaction-response", "batch", "batch-response", "history",
         "searchset", "collection")
    ),
    "Composition.status": frozenset(("preliminary", "final", "amended", "entered-in-error")),
    "Patient.gender": frozenset(("male", "female", "other", "unknown")),
    "Encounter.status": frozenset(
        ("planned", "arrived", "triaged", "in-progress", "onleave", "finished", "cancelled", "entered-in-error",
         "unknown")
    ),
    "Device.status": frozenset(("active", "inactive", "entered-in-error", "unknown")),
    "Observation.status": _STATUS,
    "RiskAssessment.status": _STATUS,
    "DetectedIssue.status": _STATUS,
    "DetectedIssue.severity": frozenset(("high", "moderate", "low")),
    "ClinicalImpression.status": frozenset(("in-progress", "completed", "entered-in-error")),
    "Procedure.status": frozenset(
        ("preparation", "in-progress", "not-done", "on-hold", "stopped", "completed", "entered-in-error", "unknown")
    ),
    "Consent.status": frozenset(("draft", "proposed", "active", "rejected", "inactive", "entered-in-error")),
    "Consent.provision.type": frozenset(("deny", "permit")),
    "Goal.lifecycleStatus": frozenset(
        ("proposed", "planned", "accepted", "active", "on-hold", "completed", "cancelled", "entered-in-error",
         "rejected")
    ),
    "CarePlan.status": _REQUEST,
    "CarePlan.intent": frozenset(("proposal", "plan", "order", "option")),
    "CarePlan.activity.detail.status": frozenset(
        ("not-started", "scheduled", "in-progress", "on-hold", "completed", "cancelled", "stopped", "unknown",
         "entered-in-error")
    ),
    "ServiceRequest.status": _REQUEST,
    "ServiceRequest.intent": frozenset(
        ("proposal", "plan", "directive", "order", "original-order", "reflex-order", "filler-order", "instance-order",
         "option")
    ),
    "ServiceRequest.priority": frozenset(("routine", "urgent", "asap", "stat")),
    "Provenance.entity.role": frozenset(("derivation", "revision", "quotation", "source", "removal")),
    "Composition.section.text.status": frozenset(("generated", "extensions", "additional", "empty")),
    "Composition.text.status": frozenset(("generated", "extensions", "additional", "empty")),
}  # fmt: skip
# code system -> codes of it that may stand here (the whole required set, or those in use)
SYSTEM_CODES: Mapping[str, frozenset[str]] = {
    "http://terminology.hl7.org/CodeSystem/condition-clinical": frozenset(
        ("active", "recurrence", "relapse", "inactive", "remission", "resolved")
    ),
    "http://terminology.hl7.org/CodeSystem/condition-ver-status": frozenset(
        ("unconfirmed", "provisional", "differential", "confirmed", "refuted", "entered-in-error")
    ),
    ABSENT_REASON: frozenset(
        ("unknown", "asked-unknown", "temp-unknown", "not-asked", "asked-declined", "masked", "not-applicable",
         "unsupported", "as-text", "error", "not-a-number", "negative-infinity", "positive-infinity", "not-performed",
         "not-permitted")
    ),
    "http://terminology.hl7.org/CodeSystem/consentscope": frozenset(
        ("adr", "research", "patient-privacy", "treatment")
    ),
    "http://terminology.hl7.org/CodeSystem/v3-ActCode": frozenset(("AMB",)),
    "http://terminology.hl7.org/CodeSystem/v3-ActReason": frozenset(("HTEST",)),
    "http://terminology.hl7.org/CodeSystem/v3-ObservationValue": frozenset(("PSEUDED",)),
    "http://terminology.hl7.org/CodeSystem/provenance-participant-type": frozenset(
        ("enterer", "performer", "author", "verifier", "legal", "attester", "informant", "custodian", "assembler",
         "composer")
    ),
    "http://loinc.org": frozenset(("11506-3", "59284-0")),
    "http://snomed.info/sct": frozenset(code for code, _ in LATERALITY.values()),
}  # fmt: skip
# elements a resource needs
REQUIRED: Mapping[str, tuple[str, ...]] = {
    "Composition": ("status", "type", "date", "author", "title", "subject", "section"),
    "Patient": ("identifier",),
    "Practitioner": ("identifier",),
    "Device": ("deviceName", "version"),
    "Encounter": ("status", "class", "subject"),
    "Observation": ("status", "code", "subject", "effectiveDateTime"),
    "Condition": ("subject", "clinicalStatus", "verificationStatus", "code"),
    "ClinicalImpression": ("status", "subject"),
    "RiskAssessment": ("status", "subject", "prediction"),
    "Procedure": ("status", "subject", "code"),
    "Consent": ("status", "scope", "category", "patient", "policyRule"),
    "Goal": ("lifecycleStatus", "description", "subject"),
    "CarePlan": ("status", "intent", "subject"),
    "ServiceRequest": ("status", "intent", "subject", "code"),
    "DetectedIssue": ("status",),
    "Provenance": ("target", "recorded", "agent"),
}
PRIORITY: Mapping[str, str] = {"emergency": "stat", "same_day": "asap", "urgent": "urgent", "routine": "routine"}
SEVERITY: Mapping[str, str] = {"emergency": "high", "same_day": "high", "urgent": "moderate", "routine": "low"}


def own(kind: str, code: str, display: str) -> dict[str, object]:
    """A CodeableConcept in a code system of our own, with its words."""
    return {"coding": [{"system": OWN + kind, "code": code, "display": display}], "text": display}
