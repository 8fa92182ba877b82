"""A trail without what points to a person: days instead of dates, letters instead of codes, no free text, no hashes.

What stays is what is known by name: numbers, and words of the pack and of the program. Any other word is left out, by
rule and not by guess, so that something typed where an id is expected does not leave either. It is no guarantee: an
unusual course can point to a person by itself, and a human being decides.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import fields
from typing import Any, Literal, get_args, get_origin, get_type_hints

from reasoner.case import events as ev
from reasoner.case.events import Event, Recorded, free_fields
from reasoner.consult.noting import HEADINGS
from reasoner.consult.treating import COVERED
from reasoner.graph.knowledge import Knowledge

__all__ = ["LEFT_OUT", "deidentified"]

LEFT_OUT = "[left out]"
FORMAT = 1
_OLDEST = 90  # higher ages are few enough to point to a person (common practice in de-identification)
_POINTING = frozenset({"case", "digest", "head", "count", "taken_from", "clinic", "copy", "scenario", "seed"})
_ROLES = ("physio", "graduate", "mentor")
_OWN_WORDS = frozenset((
    *HEADINGS, *COVERED, *_ROLES, "injury", "surgery", "cast_off", "union_on_film", "symptoms", "male", "female",
    "new_symptom", "swelling", "worse_gait", "gait", "note", "letter", "handover", "home", "html", "fhir", "json",
    "limits", "injured_or_ill", "must_not_miss", "pain_mechanism", "feeds_it", "none", "non", "partial", "full",
    "deidentified", "very sure", "fairly sure", "quite sure", "not very sure", "not sure", "unsure", "sure", "guess",
))  # fmt: skip


def deidentified(knowledge: Knowledge, recorded: Sequence[Recorded]) -> str:
    """JSON Lines: what the file is, then one line an event. `knowledge`: the shipped one; a clinic's own ids go too."""
    known = _OWN_WORDS | _vocabulary(knowledge)
    letters: dict[str, str] = {}
    lines = [{
        "deidentified": FORMAT, "kind": getattr(recorded[0].event, "kind", ""), "region": knowledge.region.id,
        "left_out": "free text, dates, clinicians' codes, case name, hashes, words that are none of the pack's",
        "mind": "an unusual course can still point to a person; read it before it leaves",
    }]  # fmt: skip
    first = recorded[0].at.date()
    for number, one in enumerate(recorded, 1):
        by = letters.setdefault(one.by, f"clinician-{len(letters) + 1}")
        role = one.role if one.role in _ROLES else LEFT_OUT
        name = next(n for n, kind in ev.EVENT_TYPES.items() if kind is type(one.event))
        day = (one.at.date() - first).days
        lines.append({"n": number, "day": day, "by": by, "role": role, "event": name, "data": _data(one.event, known)})
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)


def _data(event: Event, known: frozenset[str]) -> dict[str, Any]:
    kind = type(event)
    hints, free = get_type_hints(kind), free_fields(kind)
    kept: dict[str, Any] = {}
    for field in fields(kind):
        value = getattr(event, field.name)
        if field.name in free or field.name in _POINTING or value == field.default:
            continue
        kept[field.name] = value if get_origin(hints[field.name]) is Literal else _kept(value, known)
    if isinstance(event, ev.ContextStated) and event.name == "age" and isinstance(event.value, (int, float)):
        kept["value"] = min(event.value, _OLDEST)
    return kept


def _kept(value: Any, known: frozenset[str]) -> Any:
    if isinstance(value, str):
        parts = value.replace("@", ":").split(":")
        return value if all(part in known for part in parts) else LEFT_OUT
    if isinstance(value, (tuple, list)):
        return [_kept(item, known) for item in value]
    return value


def _vocabulary(k: Knowledge) -> frozenset[str]:
    """Every id of the pack, former ones included, and the sides."""
    return frozenset(_ids(k)) | frozenset(get_args(ev.SideName)) | frozenset(get_args(ev.ValueName))


def _ids(k: Knowledge) -> Iterator[str]:
    for table in (k.findings, k.hypotheses, k.measures, k.options, k.screens, k.load_classes):
        yield from table
        yield from (old for record in table.values() for old in getattr(record, "formerly", ()))
    region = k.region
    for listed in (region.settings, region.always_ask, region.positions, region.procedures,
                   region.immobilised_positions):  # fmt: skip
        yield from (one.id for one in listed)
    yield region.id
    yield from (tool.id for measure in k.measures.values() for tool in measure.tools)
