"""Reading our own bundle back: the snapshot it was made from. A foreign bundle is refused, not guessed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused, Problem, one_line
from reasoner.reports.fhir.check import check_bundle
from reasoner.reports.fhir.codes import OWN, REGION
from reasoner.reports.fhir.observed import STANDING

__all__ = ["region_of", "snapshot_of_bundle"]


def region_of(bundle: Any) -> str:
    """The region whose knowledge a bundle of ours was made with; empty where it does not say."""
    tags = bundle.get("meta", {}).get("tag", []) if isinstance(bundle, dict) and not check_bundle(bundle) else []
    return next((str(t["code"]) for t in tags if t.get("system") == REGION), "")


def snapshot_of_bundle(bundle: Any, knowledge: Knowledge) -> dict[str, Any]:
    """The snapshot mapping of a bundle this tool wrote. InputRefused if it fails a check or is not from here."""
    problems = check_bundle(bundle)
    if problems:
        raise InputRefused(problems)
    if not str(bundle["identifier"].get("system", "")).startswith(OWN):
        raise InputRefused([Problem("H-FOREIGN", "this bundle was not written by this tool", "only its own are read")])
    try:
        return _snapshot(bundle, knowledge)
    except (KeyError, IndexError, TypeError, AttributeError, ValueError) as error:
        found = f"a part of it is missing or is not what it should be ({one_line(str(error))})"
        raise InputRefused([Problem("H-DOCUMENT", found, "give a bundle as this tool wrote it")]) from error


def _snapshot(bundle: Mapping[str, Any], knowledge: Knowledge) -> dict[str, Any]:
    standing = [r for r in _observations(bundle) if STANDING["code"] in {t.get("code") for t in _tags(r)}]
    found: dict[str, Any] = {"region": knowledge.region.id, "context": {}, "findings": {}, "measures": []}
    for resource in standing:
        kind, code = _code(resource.get("code"))
        if kind == "context":
            _put_context(found["context"], code, resource)
        elif kind == "finding":
            _put_finding(found["findings"], code, resource, knowledge)
        elif kind == "measure":
            found["measures"].append(_measure(code, resource, knowledge))
    return found


def _observations(bundle: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    return (e["resource"] for e in bundle["entry"] if e["resource"]["resourceType"] == "Observation")


def _tags(resource: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [t for t in resource.get("meta", {}).get("tag", []) if str(t.get("system", "")).startswith(OWN)]


def _code(concept: Any) -> tuple[str, str]:
    """(kind, code) of a concept's coding in our own system; ("", "") if it has none."""
    for coding in (concept or {}).get("coding", []):
        if str(coding.get("system", "")).startswith(OWN):
            return coding["system"].removeprefix(OWN), str(coding["code"])
    return "", ""


def _put_context(context: dict[str, Any], name: str, resource: Mapping[str, Any]) -> None:
    group, _, part = name.partition(".")
    value = _told(resource)
    if part:
        context.setdefault(group, {})[part] = value
    elif value == "stated":
        context.setdefault(group, {})
    else:
        context[group] = value


def _told(resource: Mapping[str, Any]) -> Any:
    if "dataAbsentReason" in resource:
        return "unknown"
    if "valueQuantity" in resource:
        return resource["valueQuantity"]["value"]
    return _code(resource.get("valueCodeableConcept"))[1]


def _side(resource: Mapping[str, Any]) -> str:
    for coding in resource.get("bodySite", {}).get("coding", []):
        if coding.get("system") == OWN + "side":
            return str(coding["code"])
    return ""


def _put_finding(findings: dict[str, Any], code: str, resource: Mapping[str, Any], knowledge: Knowledge) -> None:
    record = knowledge.findings.get(code)
    if record is None:
        hint = "import it with the knowledge it was made with"
        raise InputRefused([Problem("H-KNOWLEDGE", f"the finding {code} is not in the knowledge loaded", hint)])
    value: Any
    if resource.get("component"):
        value = {"sure": resource["component"][0]["valueQuantity"]["value"]}
    elif "dataAbsentReason" in resource:
        value = "unknown"
    else:
        value = "present" if resource["valueBoolean"] else "absent"
    side = _side(resource)
    if side:
        findings.setdefault(code, {})[side] = value
    elif record.sided:  # without its side it counts for both, unless one was answered for itself
        findings[code] = {"left": value, "right": value} | findings.get(code, {})
    else:
        findings[code] = value


def _measure(code: str, resource: Mapping[str, Any], knowledge: Knowledge) -> dict[str, Any]:
    record = knowledge.measures.get(code)
    if record is None:
        hint = "import it with the knowledge it was made with"
        raise InputRefused([Problem("H-KNOWLEDGE", f"the measure {code} is not in the knowledge loaded", hint)])
    tool = _code(resource.get("method"))[1]
    factor = next((t.per_unit for t in record.tools if t.id == tool), 1.0)
    trials = [part["valueQuantity"]["value"] / factor for part in resource["component"]]
    made: dict[str, Any] = {"measure": code, "tool": tool, "values": trials}
    if _side(resource):
        made["side"] = _side(resource)
    if resource.get("note"):
        made["setup"] = resource["note"][0]["text"]
    return made
