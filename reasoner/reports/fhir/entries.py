"""Entries of a bundle under way: each resource with its own stable address, and the small shapes all of them use."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from reasoner.reports.dossier import Dossier
from reasoner.reports.fhir.codes import LATERALITY, OWN, UCUM, UNITS, own

__all__ = ["Entries", "Reference", "instant", "quantity"]

Reference = dict[str, str]
_SPACE = UUID("6f2f6a0e-6a1d-5c5e-9d55-0c5b6b0f7a41")


class Entries:
    """Resources in the order added. Addresses follow from the trail's anchor, so that one export is always the same."""

    def __init__(self, d: Dossier) -> None:
        self.d = d
        self._entries: list[dict[str, Any]] = []

    def refer(self, kind: str, key: object) -> Reference:
        """The reference to a resource, added already or later."""
        return {"reference": f"urn:uuid:{uuid5(_SPACE, f'{self.d.state.case}|{self.d.head}|{kind}|{key}')}"}

    def add(self, kind: str, key: object, parts: Mapping[str, Any]) -> Reference:
        """Keep a resource; parts that are empty are left out."""
        reference = self.refer(kind, key)
        address = reference["reference"]
        resource = {"resourceType": kind, "id": address.removeprefix("urn:uuid:")}
        resource |= {name: value for name, value in parts.items() if value not in (None, "", [], {}, ())}
        self._entries.append({"fullUrl": address, "resource": resource})
        return reference

    @property
    def patient(self) -> Reference:
        """The one patient."""
        return self.refer("Patient", "patient")

    def encounter(self, visit: int) -> Reference:
        """The encounter of a visit."""
        return self.refer("Encounter", visit)

    def body_site(self, side: str) -> dict[str, Any] | None:
        """Where, in words, with the side coded; None for what is about the person."""
        if side not in LATERALITY:
            return None
        code, words = LATERALITY[side]
        codings = [
            {"system": "http://snomed.info/sct", "code": code, "display": words},
            {"system": OWN + "side", "code": side, "display": words},
        ]
        site = self.d.knowledge.region.body_site or self.d.knowledge.region.name
        return {"coding": codings, "text": f"{side} {site}"}

    def role(self, role: str) -> dict[str, Any]:
        """A clinician's role in words of our own."""
        return own("role", role or "unknown", role or "unknown")

    @property
    def all(self) -> list[dict[str, Any]]:
        """The entries so far."""
        return self._entries


def instant(at: datetime | None, otherwise: datetime) -> str:
    """A time with its offset to the second."""
    return (at or otherwise).isoformat(timespec="seconds")


def quantity(value: float, unit: str) -> dict[str, Any]:
    """A number with its UCUM code. KeyError for a unit without one."""
    code = UNITS[unit]
    return {"value": value, "unit": unit, "system": UCUM, "code": code}
