"""Our own checks of a document Bundle: what a reader of shapes lets through.

Document rules (hl7.org/fhir/R4B/documents.html and the constraints of Bundle, bdl-7 and bdl-9 to bdl-11), code sets of
required bindings, UCUM codes, references that lead somewhere of the right kind, elements that must be there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from reasoner.problems import Problem
from reasoner.reports.fhir.codes import CODE_SETS, OWN, REQUIRED, SYSTEM_CODES, UCUM, UCUM_CODES

__all__ = ["check_bundle"]

_FULL_URL = re.compile(r"urn:uuid:[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_ID = re.compile(r"[A-Za-z0-9.-]{1,64}")
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)")
_DAY = re.compile(r"\d{4}(?:-\d\d(?:-\d\d)?)?")
_TIMES = (
    "date", "timestamp", "recorded", "effectiveDateTime", "performedDateTime", "dateTime", "authoredOn", "start", "end",
    "onsetDateTime", "occurrenceDateTime", "identifiedDateTime", "created",
)  # fmt: skip
# element -> kinds of resource it may point at
_TARGETS: Mapping[str, tuple[str, ...]] = {
    "subject": ("Patient",), "patient": ("Patient",), "encounter": ("Encounter",), "basedOn": ("CarePlan",),
    "goal": ("Goal",), "problem": ("Condition",), "addresses": ("Condition",), "condition": ("Condition",),
}  # fmt: skip


def check_bundle(bundle: Any) -> list[Problem]:
    """Every problem found, each with the path it stands at; empty if none."""
    if not isinstance(bundle, dict) or bundle.get("resourceType") != "Bundle":
        return [_problem("H-DOCUMENT", "Bundle", "this is not a Bundle")]
    entries = [e for e in bundle.get("entry") or () if isinstance(e, dict)]
    resources = {str(e.get("fullUrl", "")): e.get("resource") for e in entries}
    found = [*_document(bundle, entries), *_codes("Bundle", "Bundle", bundle, "Bundle")]
    for number, entry in enumerate(entries):
        resource = entry.get("resource")
        where = f"entry[{number}]"
        if not isinstance(resource, dict) or not isinstance(resource.get("resourceType"), str):
            found.append(_problem("H-DOCUMENT", where, "no resource"))
            continue
        kind = str(resource["resourceType"])
        found += _elements(kind, resource, f"{where}.{kind}")
        found += _codes(kind, kind, resource, f"{where}.{kind}")
        found += _references(resource, resources, f"{where}.{kind}")
        found += _values(resource, f"{where}.{kind}")
    found += _reached(entries, resources)
    return found


def _kind(entry: Mapping[str, Any]) -> Any:
    """The kind of an entry's resource; None where it holds none."""
    resource = entry.get("resource")
    return resource.get("resourceType") if isinstance(resource, dict) else None


def _problem(code: str, where: str, message: str, hint: str = "") -> Problem:
    return Problem(code, f"{where}: {message}", hint)


# ------------------------------------------------------------------------------------------------ the document


def _document(bundle: Mapping[str, Any], entries: list[dict[str, Any]]) -> Iterator[Problem]:
    if bundle.get("type") != "document":
        yield _problem("H-DOCUMENT", "Bundle.type", f"{bundle.get('type')!r}, not document")
    identifier = bundle.get("identifier")
    if not isinstance(identifier, dict) or not identifier.get("system") or not identifier.get("value"):
        yield _problem("H-DOCUMENT", "Bundle.identifier", "a document has an identifier with system and value")
    if not _is_instant(bundle.get("timestamp")):
        yield _problem("H-DOCUMENT", "Bundle.timestamp", "a document has the instant it was assembled, with offset")
    kinds = [_kind(e) for e in entries]
    if not kinds or kinds[0] != "Composition":
        yield _problem("H-DOCUMENT", "Bundle.entry[0]", "the first entry of a document is its Composition")
    elif _is_instant(bundle.get("timestamp")):
        date = entries[0]["resource"].get("date", "")
        if _is_instant(date) and datetime.fromisoformat(date) > datetime.fromisoformat(bundle["timestamp"]):
            yield _problem("H-DOCUMENT", "Bundle.timestamp", "before the Composition's date")
    if kinds.count("Composition") > 1:
        yield _problem("H-DOCUMENT", "Bundle.entry", "more than one Composition")
    if "Patient" not in kinds:
        yield _problem("H-DOCUMENT", "Bundle.entry", "no Patient")
    urls = [str(e.get("fullUrl", "")) for e in entries]
    for number, url in enumerate(urls):
        if not _FULL_URL.fullmatch(url):
            yield _problem("H-DOCUMENT", f"entry[{number}].fullUrl", f"{url!r} is not a urn:uuid")
        elif urls.index(url) != number:
            yield _problem("H-DOCUMENT", f"entry[{number}].fullUrl", "stands twice")


def _elements(kind: str, resource: Mapping[str, Any], where: str) -> Iterator[Problem]:
    if kind not in REQUIRED:
        yield _problem("H-ELEMENT", where, f"{kind} is not used in this document", f"used: {', '.join(REQUIRED)}")
        return
    for name in REQUIRED[kind]:
        if resource.get(name) in (None, "", [], {}):
            yield _problem("H-ELEMENT", f"{where}.{name}", "missing")
    if kind == "Observation":
        valued = any(k.startswith("value") for k in resource) or "dataAbsentReason" in resource
        if not valued and not resource.get("component"):
            yield _problem("H-ELEMENT", where, "neither a value nor why it is absent")
        if any(k.startswith("value") for k in resource) and "dataAbsentReason" in resource:
            yield _problem("H-ELEMENT", where, "a value and a reason why it is absent (obs-6)")
    if kind == "Composition":
        for n, section in enumerate(resource.get("section") or ()):
            if not section.get("text") and not section.get("entry") and not section.get("section"):
                yield _problem("H-ELEMENT", f"{where}.section[{n}]", "neither text nor entries (cmp-1)")


# ------------------------------------------------------------------------------------------------ codes, units, values


def _codes(kind: str, path: str, value: Any, where: str) -> Iterator[Problem]:
    """Codes bound as required, all the way down; `path` without indices, `where` with them."""
    if isinstance(value, list):
        for n, item in enumerate(value):
            yield from _codes(kind, path, item, f"{where}[{n}]")
    elif isinstance(value, dict):
        for name, item in value.items():
            if path == "Bundle" and name == "entry":
                continue
            yield from _codes(kind, f"{path}.{name}", item, f"{where}.{name}")
    elif path in CODE_SETS and value not in CODE_SETS[path]:
        hint = f"one of: {', '.join(sorted(CODE_SETS[path]))}"
        yield _problem("H-CODE", where, f"{value!r} is not a code of its set", hint)


def _values(value: Any, where: str, name: str = "") -> Iterator[Problem]:
    if isinstance(value, list):
        for n, item in enumerate(value):
            yield from _values(item, f"{where}[{n}]", name)
    elif isinstance(value, dict):
        if "system" in value and "code" in value:
            yield from _coded(value, where)
        if name.endswith("Quantity") or name in ("low", "high"):
            yield from _quantity(value, where)
        if name == "text" and "div" in value and not _is_narrative(value["div"]):
            yield _problem("H-VALUE", f"{where}.div", "narrative is one XHTML div without scripts")
        for key, item in value.items():
            yield from _values(item, f"{where}.{key}", key)
    elif name == "id" and not (isinstance(value, str) and _ID.fullmatch(value)):
        yield _problem("H-VALUE", where, f"{value!r} is not an id")
    elif name in _TIMES and not (isinstance(value, str) and (_is_instant(value) or _is_day(value))):
        yield _problem("H-VALUE", where, f"{value!r} is neither a date nor a time with its offset")
    elif value in ("", None):
        yield _problem("H-VALUE", where, "empty")


def _coded(value: Mapping[str, Any], where: str) -> Iterator[Problem]:
    system, code = str(value["system"]), value["code"]
    if system == UCUM:
        if code not in UCUM_CODES:
            hint = f"one of: {', '.join(sorted(UCUM_CODES))}"
            yield _problem("H-UNIT", where, f"{code!r} is no UCUM code in use here", hint)
    elif system in SYSTEM_CODES:
        if code not in SYSTEM_CODES[system]:
            yield _problem("H-CODE", where, f"{code!r} is not a code of {system}")
    elif not system.startswith(OWN) and system != "http://hl7.org/fhir/sid/icf":
        yield _problem("H-CODE", where, f"the code system {system!r} is not used here")


def _quantity(value: Mapping[str, Any], where: str) -> Iterator[Problem]:
    number = value.get("value")
    if isinstance(number, bool) or not isinstance(number, (int, float)):
        yield _problem("H-UNIT", f"{where}.value", "a quantity has a number")
    if value.get("system") != UCUM or "code" not in value:
        yield _problem("H-UNIT", where, "a quantity has a UCUM code")


def _is_instant(value: Any) -> bool:
    if not (isinstance(value, str) and _INSTANT.fullmatch(value)):
        return False
    try:
        datetime.fromisoformat(value)
    except ValueError:
        return False
    return True


def _is_day(value: str) -> bool:
    if not _DAY.fullmatch(value):
        return False
    try:
        datetime.fromisoformat((value + "-01-01")[:10])
    except ValueError:
        return False
    return True


def _is_narrative(div: Any) -> bool:
    return (
        isinstance(div, str)
        and div.startswith('<div xmlns="http://www.w3.org/1999/xhtml">')
        and div.endswith("</div>")
        and not re.search(r"<\s*(?:script|iframe|object|form|link)\b|<[^>]*\son\w+\s*=", div, re.IGNORECASE)
    )


# ------------------------------------------------------------------------------------------------ references


def _pointers(value: Any, where: str, name: str = "") -> Iterator[tuple[str, str, str]]:
    """(where, element, reference) of every reference inside."""
    if isinstance(value, list):
        for n, item in enumerate(value):
            yield from _pointers(item, f"{where}[{n}]", name)
    elif isinstance(value, dict):
        if isinstance(value.get("reference"), str):
            yield where, name, value["reference"]
        for key, item in value.items():
            yield from _pointers(item, f"{where}.{key}", key)


def _references(resource: Any, resources: Mapping[str, Any], where: str) -> Iterator[Problem]:
    for place, element, reference in _pointers(resource, where):
        target = resources.get(reference)
        if target is None:
            yield _problem("H-REFERENCE", place, f"{reference!r} leads nowhere in this document")
            continue
        wanted = _TARGETS.get(element)
        kind = target.get("resourceType") if isinstance(target, dict) else None
        if wanted is not None and kind not in wanted:
            yield _problem("H-REFERENCE", place, f"{element} leads to a {kind}, not to a {' or '.join(wanted)}")


def _reached(entries: list[dict[str, Any]], resources: Mapping[str, Any]) -> Iterator[Problem]:
    """All of a document can be reached from its Composition; a Provenance points the other way."""
    if not entries:
        return
    seen: set[str] = set()
    waiting = [str(entries[0].get("fullUrl", ""))]
    waiting += [
        str(e.get("fullUrl", "")) for e in entries if _kind(e) == "Provenance"
    ]
    while waiting:
        url = waiting.pop()
        if url in seen or url not in resources:
            continue
        seen.add(url)
        waiting += [reference for _, _, reference in _pointers(resources[url], "")]
    for number, entry in enumerate(entries):
        if str(entry.get("fullUrl", "")) not in seen:
            yield _problem("H-REFERENCE", f"entry[{number}].{_kind(entry)}", "not reached from the Composition")
