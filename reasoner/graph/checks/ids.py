"""Ids and names: one thing a name, one name a thing; nothing that nobody uses."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.checks.references import references
from reasoner.graph.knowledge import plain
from reasoner.graph.pack import Pack

__all__ = ["CHECKS"]

_ID = re.compile(r"[a-z0-9][a-z0-9._-]*\Z")
_NAMED = ("finding", "measure", "option", "hypothesis")  # kinds a clinician types the names of
_REGION_LISTS = ("settings", "always_ask", "positions", "procedures", "immobilised_positions")


def _things(pack: Pack) -> Iterator[tuple[str, Any, tuple[str | int, ...], Any]]:
    """(kind, record, field path, thing with an id): records, and the things listed inside region and measures."""
    for kind, record in pack.every():
        if kind == "region":
            for name in _REGION_LISTS:
                for n, item in enumerate(getattr(record, name)):
                    yield name, record, (name, n), item
        else:
            yield kind, record, (), record
    for n, word in enumerate(pack.knowledge.scales.words):
        yield "words", pack.knowledge.scales, ("words", n), word


@rule("K-ID")
def id_form(pack: Pack) -> Iterator[Spot]:
    """An id has a letter that ids do not have.

    Ids are small letters, digits, underscores, hyphens and points, because they are typed, sorted and compared as they
    are.
    """
    for _, record, path, item in _things(pack):
        if not _ID.match(item.id):
            better = re.sub(r"[^a-z0-9._-]+", "_", item.id.lower()).strip("_-") or "some_id"
            yield Spot(record, (*path, "id"), f"id: found {item.id[:60] or 'nothing'}", f"write {better}")


@rule("K-TWICE")
def same_id(pack: Pack) -> Iterator[Spot]:
    """Two records of one kind have the same id, so that one of them would be lost.

    Findings and groups share their ids' space, because a hypothesis links to either by id.
    """
    seen: dict[tuple[str, str], str] = {}
    for kind, record, path, item in _things(pack):
        key = ("finding" if kind == "group" else kind, item.id)
        if key in seen:
            yield Spot(record, (*path, "id"), f"id: {item.id} is also in {seen[key]}", "rename or remove one")
        place = record.place
        seen.setdefault(key, f"{place.file}:{place.at(*path, 'id')}")


@rule("K-NAME-TWICE")
def same_name(pack: Pack) -> Iterator[Spot]:
    """A name or alias could mean two records of one kind.

    Names, aliases and ids are compared without capitals, hyphens and underscores. A typed name that means two things
    would have to be guessed at, and the tool never guesses a fact.
    """
    for kind in _NAMED:
        seen: dict[str, Any] = {}
        for record in pack.records[kind]:
            told: set[str] = set()
            for path, name in _names(record):
                other = seen.setdefault(plain(name), record)
                if other.id != record.id and other.id not in told:
                    told.add(other.id)
                    message = f"{path[0]}: {name} also means {other.id}"
                    yield Spot(record, path, message, "choose another name for one of them")
    for listed in ("settings", "procedures", "immobilised_positions"):
        owners: dict[str, str] = {}
        for n, item in enumerate(getattr(pack.knowledge.region, listed)):
            for path, name in _names(item):
                owner = owners.setdefault(plain(name), item.id)
                if owner != item.id:
                    message = f"{listed}.{path[0]}: {name} also means {owner}"
                    yield Spot(pack.knowledge.region, (listed, n, *path), message, "choose another name")


def _names(record: Any) -> Iterator[tuple[tuple[str | int, ...], str]]:
    yield ("id",), record.id
    yield ("name",), record.name
    for n, alias in enumerate(record.aliases):
        yield ("aliases", n), alias


@rule("K-UNUSED")
def unused_sign(pack: Pack) -> Iterator[Spot]:
    """A finding or group that nothing uses: no hypothesis, rule, group, setting, masking or always-ask question.

    Asking about it would cost time and change nothing. Link it, or remove it. A group whose members have a published
    accuracy is linked to its reference by that.
    """
    used = {
        ident
        for kind, record in pack.every()
        for path, target, ident in references(kind, record)
        if target in ("finding", "sign") and path[0] != "general_for"
    } | {group.id for group in pack.records["group"] if any(m.sens is not None for m in group.members)}
    broken = {kind for kind, ids in pack.broken.items() if ids}
    if broken & {"hypothesis", "group", "screen", "option", "load_class"}:
        return  # what uses it may be in a record that could not be read
    for kind in ("finding", "group"):
        for record in pack.records[kind]:
            if record.id not in used:
                yield Spot(record, ("id",), f"nothing uses the {kind} {record.id}", "link it, or remove it")


CHECKS: tuple[Check, ...] = (id_form, same_id, same_name, unused_sign)
