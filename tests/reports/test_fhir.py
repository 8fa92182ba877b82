"""The bundle: read by an independent reader, planted faults caught by our own checks, and read back to the snapshot."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fhir.resources.R4B import get_fhir_model_class
from fhir.resources.R4B.bundle import Bundle

from reasoner.advice.advise import advise
from reasoner.consult.snapshot import state_of
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.source import parse
from reasoner.problems import InputRefused
from reasoner.reports.dossier import Dossier
from reasoner.reports.fhir.bundle import bundle
from reasoner.reports.fhir.check import check_bundle
from reasoner.reports.fhir.codes import CODE_SETS, SYSTEM_CODES, UCUM
from reasoner.reports.fhir.read import region_of, snapshot_of_bundle
from reasoner.reports.make import make
from reasoner.reports.snapshot_of import snapshot_of
from tests.reports.playing import Played

NAMES = ("simple", "post_surgical", "emergency")
USED = {
    "Composition", "Patient", "Encounter", "Observation", "Condition", "ClinicalImpression", "RiskAssessment",
    "Procedure", "Consent", "Goal", "CarePlan", "ServiceRequest", "DetectedIssue", "Provenance",
}  # fmt: skip


@pytest.fixture
def made(emergency: Dossier) -> dict[str, Any]:
    """A bundle to plant faults in."""
    return copy.deepcopy(bundle(emergency))


def kinds(made: dict[str, Any]) -> list[str]:
    return [e["resource"]["resourceType"] for e in made["entry"]]


def of(made: dict[str, Any], kind: str) -> dict[str, Any]:
    return next(e["resource"] for e in made["entry"] if e["resource"]["resourceType"] == kind)


@pytest.mark.parametrize("name", NAMES)
def test_an_independent_reader_takes_it(cases: dict[str, Dossier], name: str) -> None:
    text = make(cases[name], "fhir").text
    read = Bundle.model_validate_json(text)
    assert read.type == "document"
    assert json.loads(read.model_dump_json()).keys() == json.loads(text).keys()
    assert check_bundle(json.loads(text)) == []


# the independent reader (fhir.resources, made from the R4B definitions) names each set; "+": it leaves some out
BOUND = {
    "Bundle.type": ("Bundle", "type"), "Composition.status": ("Composition", "status"),
    "Patient.gender": ("Patient", "gender"), "Encounter.status": ("Encounter", "status"),
    "Device.status": ("Device", "status"), "Observation.status": ("Observation", "status"),
    "RiskAssessment.status": ("RiskAssessment", "status"), "DetectedIssue.status": ("DetectedIssue", "status"),
    "DetectedIssue.severity": ("DetectedIssue", "severity"),
    "ClinicalImpression.status": ("ClinicalImpression", "status"),
    "Procedure.status": ("Procedure", "status"), "Consent.status": ("Consent", "status"),
    "Consent.provision.type": ("ConsentProvision", "type"), "Goal.lifecycleStatus": ("Goal", "lifecycleStatus"),
    "CarePlan.status": ("CarePlan", "status"), "CarePlan.intent": ("CarePlan", "intent"),
    "CarePlan.activity.detail.status": ("CarePlanActivityDetail", "status"),
    "ServiceRequest.status": ("ServiceRequest", "status"), "ServiceRequest.intent": ("ServiceRequest", "intent"),
    "ServiceRequest.priority": ("ServiceRequest", "priority"), "Provenance.entity.role": ("ProvenanceEntity", "role"),
    "Composition.section.text.status": ("Narrative", "status"), "Composition.text.status": ("Narrative", "status"),
}  # fmt: skip
# the two sets it shortens, as hl7.org/fhir/R4B/valueset-encounter-status.html and -observation-status.html count them
COUNTED = {"Encounter.status": 9, "Observation.status": 8, "RiskAssessment.status": 8, "DetectedIssue.status": 8}


@pytest.mark.parametrize("path", CODE_SETS)
def test_a_code_set_is_that_of_r4b(path: str) -> None:
    kind, element = BOUND[path]
    extra = get_fhir_model_class(kind).model_fields[element].json_schema_extra
    assert isinstance(extra, dict)
    theirs = set(extra["enum_values"])  # type: ignore[arg-type]
    if "+" in theirs:
        assert theirs - {"+"} < CODE_SETS[path]
        assert len(CODE_SETS[path]) == COUNTED[path]
    else:
        assert theirs == CODE_SETS[path]


@pytest.mark.parametrize(
    ("system", "count"),
    # concepts in the R4B page of each value set (hl7.org/fhir/R4B/valueset-...): data-absent-reason,
    # provenance-participant-type, consent-scope, condition-ver-status
    [("data-absent-reason", 15), ("provenance-participant-type", 10), ("consentscope", 4), ("condition-ver-status", 6)],
)
def test_a_code_system_has_as_many_codes_as_r4b_says(system: str, count: int) -> None:
    assert len(SYSTEM_CODES[f"http://terminology.hl7.org/CodeSystem/{system}"]) == count


def test_the_three_cases_use_every_resource_asked_for(cases: dict[str, Dossier]) -> None:
    used = {kind for d in cases.values() for kind in kinds(bundle(d))}
    assert used >= USED


def test_the_independent_reader_lets_faults_through_that_ours_catch(made: dict[str, Any]) -> None:
    of(made, "Observation")["status"] = "bogus"
    Bundle.model_validate(made)
    assert [p.code for p in check_bundle(made)] == ["H-CODE"]


def bogus_status(made: dict[str, Any]) -> None:
    of(made, "Encounter")["status"] = "bogus"


def bogus_unit(made: dict[str, Any]) -> None:
    quantity = next(
        e["resource"]["valueQuantity"] for e in made["entry"] if "valueQuantity" in e["resource"]
    )
    quantity["code"] = "furlong"


def no_unit(made: dict[str, Any]) -> None:
    quantity = next(
        e["resource"]["valueQuantity"] for e in made["entry"] if "valueQuantity" in e["resource"]
    )
    del quantity["code"]


def no_composition(made: dict[str, Any]) -> None:
    del made["entry"][0]


def composition_second(made: dict[str, Any]) -> None:
    made["entry"][0], made["entry"][1] = made["entry"][1], made["entry"][0]


def dangling(made: dict[str, Any]) -> None:
    of(made, "Observation")["subject"]["reference"] = "urn:uuid:00000000-0000-0000-0000-000000000000"


def wrong_kind(made: dict[str, Any]) -> None:
    other = next(e["fullUrl"] for e in made["entry"] if e["resource"]["resourceType"] == "Device")
    of(made, "Observation")["subject"]["reference"] = other


def not_reached(made: dict[str, Any]) -> None:
    loose = {"resourceType": "Goal", "lifecycleStatus": "active", "description": {"text": "x"},
             "subject": of(made, "Observation")["subject"]}  # fmt: skip
    made["entry"].append({"fullUrl": "urn:uuid:11111111-1111-1111-1111-111111111111", "resource": loose})


def twice(made: dict[str, Any]) -> None:
    made["entry"].append(copy.deepcopy(made["entry"][-1]))


def no_identifier(made: dict[str, Any]) -> None:
    del made["identifier"]


def no_timestamp(made: dict[str, Any]) -> None:
    made["timestamp"] = "2026-03-02"


def early_timestamp(made: dict[str, Any]) -> None:
    made["timestamp"] = "2020-01-01T00:00:00+00:00"


def collection(made: dict[str, Any]) -> None:
    made["type"] = "collection"


def no_value(made: dict[str, Any]) -> None:
    one = of(made, "Observation")
    for key in [k for k in one if k.startswith("value") or k in ("dataAbsentReason", "component")]:
        del one[key]


def both_values(made: dict[str, Any]) -> None:
    one = next(e["resource"] for e in made["entry"] if "valueBoolean" in e["resource"])
    one["dataAbsentReason"] = {"text": "unknown"}


def foreign_system(made: dict[str, Any]) -> None:
    of(made, "Observation")["code"]["coding"][0]["system"] = "http://example.org/codes"


def wrong_code_of_system(made: dict[str, Any]) -> None:
    of(made, "Condition")["verificationStatus"]["coding"][0]["code"] = "maybe"


def bad_time(made: dict[str, Any]) -> None:
    of(made, "Observation")["effectiveDateTime"] = "2026-13-45T99:00:00Z"


def script_in_text(made: dict[str, Any]) -> None:
    div = of(made, "Composition")["text"]["div"]
    of(made, "Composition")["text"]["div"] = div.replace("<p>", "<script>x</script><p>", 1)


def missing_element(made: dict[str, Any]) -> None:
    del of(made, "ClinicalImpression")["subject"]


def unknown_resource(made: dict[str, Any]) -> None:
    made["entry"][-1]["resource"]["resourceType"] = "Medication"


FAULTS: tuple[tuple[Callable[[dict[str, Any]], None], str], ...] = (
    (bogus_status, "H-CODE"), (bogus_unit, "H-UNIT"), (no_unit, "H-UNIT"), (no_composition, "H-DOCUMENT"),
    (composition_second, "H-DOCUMENT"), (dangling, "H-REFERENCE"), (wrong_kind, "H-REFERENCE"),
    (not_reached, "H-REFERENCE"), (twice, "H-DOCUMENT"), (no_identifier, "H-DOCUMENT"), (no_timestamp, "H-DOCUMENT"),
    (early_timestamp, "H-DOCUMENT"), (collection, "H-DOCUMENT"), (no_value, "H-ELEMENT"), (both_values, "H-ELEMENT"),
    (foreign_system, "H-CODE"), (wrong_code_of_system, "H-CODE"), (bad_time, "H-VALUE"), (script_in_text, "H-VALUE"),
    (missing_element, "H-ELEMENT"), (unknown_resource, "H-ELEMENT"),
)  # fmt: skip


@pytest.mark.parametrize(("plant", "code"), FAULTS, ids=lambda f: getattr(f, "__name__", f))
def test_a_planted_fault_is_caught(
    made: dict[str, Any], plant: Callable[[dict[str, Any]], None], code: str
) -> None:
    assert check_bundle(made) == []
    plant(made)
    assert code in {p.code for p in check_bundle(made)}


@pytest.mark.parametrize("junk", [None, [], {}, {"resourceType": "Bundle"}, {"resourceType": "Bundle", "entry": [{}]},
                                  {"resourceType": "Bundle", "entry": [{"resource": 3}]}])  # fmt: skip
def test_junk_is_a_problem_never_a_crash(junk: Any, knowledge: Knowledge) -> None:
    assert check_bundle(junk)
    with pytest.raises(InputRefused):
        snapshot_of_bundle(junk, knowledge)


def test_numbers_carry_ucum_codes_side_and_method(simple: Dossier) -> None:
    measured = [
        e["resource"] for e in bundle(simple)["entry"]
        if e["resource"]["resourceType"] == "Observation"
        and e["resource"]["code"]["coding"][0]["code"] == "knee_to_wall"
    ]
    assert len(measured) == 3
    first = measured[0]
    assert first["valueQuantity"] == {
        "value": pytest.approx(19 / 3), "unit": "cm", "system": UCUM, "code": "cm",
    }  # fmt: skip
    assert first["bodySite"]["coding"][0]["code"] == "24028007"  # SNOMED CT: right
    assert first["method"]["coding"][0]["code"] == "tape"
    assert [c["valueQuantity"]["value"] for c in first["component"]] == [6.0, 6.5, 6.5]


def test_icf_only_on_request_and_with_its_owners_system(simple: Dossier) -> None:
    assert "sid/icf" not in make(simple, "fhir").text
    assert '"b710"' in make(simple, "fhir", icf=True).text


def test_a_serious_hypothesis_has_words_and_no_small_number(simple: Dossier) -> None:
    serious = {h.id for h in simple.advice.hypotheses if h.list == "must_not_miss"}
    assert serious
    for prediction in of(bundle(simple), "RiskAssessment")["prediction"]:
        ident = prediction["outcome"]["coding"][0]["code"]
        numbered = "probabilityDecimal" in prediction or "probabilityRange" in prediction
        assert numbered == (ident not in serious)


def test_an_emergency_is_a_request_at_once(emergency: Dossier) -> None:
    request = of(bundle(emergency), "ServiceRequest")
    assert request["priority"] == "stat"
    issues = [e["resource"] for e in bundle(emergency)["entry"] if e["resource"]["resourceType"] == "DetectedIssue"]
    severity = {i["code"]["coding"][0]["code"]: (i["severity"], i["status"]) for i in issues}
    assert severity["joint_infection"] == ("high", "final")


def test_invented_patients_are_tagged_as_test_data(emergency: Dossier) -> None:
    made = bundle(emergency)
    assert [t["code"] for t in made["meta"]["tag"]] == ["HTEST", "ankle"]
    assert region_of(made) == "ankle"
    assert region_of([]) == ""
    assert of(made, "Composition")["title"].startswith("INVENTED PATIENT")


@pytest.mark.parametrize("name", NAMES)
def test_reading_it_back_rebuilds_the_snapshot(cases: dict[str, Dossier], knowledge: Knowledge, name: str) -> None:
    d = cases[name]
    expected = snapshot_of(knowledge, d.state, d.as_of)
    read = snapshot_of_bundle(json.loads(make(d, "fhir").text), knowledge)
    assert read == expected
    assert expected["findings"]
    assert expected["context"]["side"]


def test_hard_answers_survive_the_way_there_and_back(knowledge: Knowledge, tmp_path: Path) -> None:
    lines = (
        "left, age 61, sex ?, setting ?", "injury none, symptoms ?, no surgery, boot ? weeks",
        "fever ?, night pain ~.7", "ktw L -2.5 finger widths",
    )  # fmt: skip
    played = Played(knowledge, tmp_path)
    for line in lines:
        for part in line.split(", "):
            try:
                played.lines(part)
            except InputRefused:
                continue  # a way to type it this session does not have
    d = played.dossier()
    expected = snapshot_of(knowledge, d.state, d.as_of)
    assert expected["findings"]["night_pain"] == {"left": {"sure": 0.7}}
    assert snapshot_of_bundle(json.loads(make(d, "fhir").text), knowledge) == expected


@pytest.mark.parametrize("name", NAMES)
def test_the_snapshot_means_what_the_case_meant(cases: dict[str, Dossier], knowledge: Knowledge, name: str) -> None:
    """Considered as a file it gives the same screens and chances as the case itself before its treatments."""
    d = cases[name]
    document, problems = parse(json.dumps(snapshot_of(knowledge, d.state, d.as_of)).encode(), "snapshot.json")
    assert problems == []
    assert document is not None
    again = advise(knowledge, state_of(document, knowledge, d.as_of), d.as_of)
    assert [(s.id, s.state) for s in again.screens] == [(s.id, s.state) for s in d.advice.screens]
    if not any(p.retested for p in d.state.loops):  # a response is evidence that a snapshot does not carry
        chances = {(h.id, h.side): h.chance for h in d.advice.hypotheses}
        assert {(h.id, h.side): h.chance for h in again.hypotheses} == pytest.approx(chances)


def test_a_bundle_from_elsewhere_is_refused(made: dict[str, Any], knowledge: Knowledge) -> None:
    made["identifier"]["system"] = "http://example.org/documents"
    with pytest.raises(InputRefused, match="not written by this tool"):
        snapshot_of_bundle(made, knowledge)
