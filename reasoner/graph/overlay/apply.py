"""A clinic's entries laid over the drafts of the shipped records, before any shape or rule is checked.

Everything a clinic writes is checked afterwards exactly as the shipped knowledge is; here it is only put in its place.
Nothing raises for bad content.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from reasoner.graph.draft import Draft, digest_of_entry
from reasoner.graph.overlay.entries import Clinic, ClinicCopy, Entry
from reasoner.graph.overlay.folder import META, PLACE, Header, drafts_of, header_of, meta_problems, signed_of, sources
from reasoner.graph.overlay.merge import laid_over
from reasoner.graph.overlay.stricter import stricter_of
from reasoner.graph.records import Place
from reasoner.problems import Problem, nearest

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["RETIRABLE", "base_of", "lay_over"]

Drafts = dict[str, list[Draft]]
RETIRABLE = ("finding", "option")
_SINGLE = {"policy": "policy", "scales": "scales"}  # kinds without an id: changes: policy


@dataclass
class _Laying:
    header: Header
    copy: ClinicCopy
    region: str
    drafts: Drafts
    problems: list[Problem]
    notes: list[Problem] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    taken: dict[tuple[str, str], str] = field(default_factory=dict)  # shipped entry -> where it is changed


def lay_over(drafts: Drafts, copy: ClinicCopy, region: str, problems: list[Problem]) -> Clinic | None:
    """Lay a clinic's files over the drafts (changed in place); None if clinic.yaml cannot be used."""
    from reasoner.graph.source import parse

    header, found = header_of(copy.files)
    problems += found
    if header is None:
        return None
    laying = _Laying(header, copy, region, drafts, problems)
    read, found = sources(copy.files, region)
    problems += found
    for kind, name, data in read:
        document, found = parse(data, PLACE + name)
        problems += found
        if document is not None and document.value is None:
            problems.append(Problem("Y-BYTES", "the file holds nothing", "remove the file", PLACE + name, 1))
        elif document is not None:
            for draft in drafts_of(document, problems):
                _entry(laying, kind, draft)
    return Clinic(
        header.id, header.name, header.prefix, _digest(copy.files), tuple(laying.entries), tuple(laying.notes)
    )


def _digest(files: Mapping[str, bytes]) -> str:
    total = hashlib.sha256()
    for name in sorted(files):
        total.update(f"{name}\0{len(files[name])}\0".encode())
        total.update(files[name])
    return total.hexdigest()


def _entry(laying: _Laying, kind: str, draft: Draft) -> None:
    """One entry: a patch, something retired, or a new record."""
    place = draft.place
    wrong = meta_problems(draft)
    laying.problems += wrong
    if wrong or f"{place.file}:{place.line}" in laying.copy.leave_out:
        return
    if "changes" in draft.value or "retires" in draft.value:
        _on_shipped(laying, kind, draft)
    else:
        _new(laying, kind, draft)


# ------------------------------------------------------------------------------------------------ on shipped entries


def base_of(drafts: Drafts, kind: str, ident: str, region: str) -> Draft | None:
    """The shipped entry called `ident` now or formerly."""
    own = {"region": region}.get(kind, _SINGLE.get(kind))
    if own is not None:
        return drafts[kind][0] if drafts[kind] and ident == own else None
    for draft in drafts[kind]:
        if draft.value.get("id") == ident:
            return draft
    for draft in drafts[kind]:
        former = draft.value.get("formerly")
        if isinstance(former, list) and ident in former:
            return draft
    return None


def _on_shipped(laying: _Laying, kind: str, draft: Draft) -> None:
    retires = "retires" in draft.value
    key = "retires" if retires else "changes"
    ident: str = draft.value[key]
    place = draft.place
    base = base_of(laying.drafts, kind, ident, laying.region)
    if base is None:
        laying.problems.append(_no_target(laying, kind, key, draft))
        return
    name = str(base.value.get("id", ident))
    before = laying.taken.setdefault((kind, name), f"{place.file}:{place.line}")
    if before != f"{place.file}:{place.line}":
        message = f"{key}: {ident} is changed in {before} too"
        laying.problems.append(Problem("O-TWICE", message, "put the two together", place.file, place.at(key)))
        return
    signed = signed_of(draft.value)
    given, now = draft.value.get("base", ""), digest_of_entry(base.value)
    entry = Entry(key, kind, name, place.file, place.line, (), given, now, signed)  # type: ignore[arg-type]
    if signed is not None and laying.copy.today and signed.until < laying.copy.today:
        message = f"{name}: signed until {signed.until}; the shipped entry holds"
        laying.notes.append(Problem("O-EXPIRED", message, "sign again, or remove it", place.file, place.line, "info"))
        laying.entries.append(_with(entry, expired=True))
        return
    if retires:
        _retire(laying, base, draft, entry)
    else:
        _patch(laying, base, draft, entry)


def _with(entry: Entry, **changes: Any) -> Entry:
    from dataclasses import replace

    return replace(entry, **changes)


def _no_target(laying: _Laying, kind: str, key: str, draft: Draft) -> Problem:
    ident, place = draft.value[key], draft.place
    own = {"region": laying.region}.get(kind, _SINGLE.get(kind))
    if own is not None:
        return Problem("O-TARGET", f"{key}: this file can only change {own}", f"write {own}", place.file, place.at(key))
    for other, drafts in laying.drafts.items():
        if other != kind and any(d.value.get("id") == ident for d in drafts):
            message = f"{key}: {ident} is a {other.replace('_', ' ')}, not a {kind.replace('_', ' ')}"
            return Problem("O-TARGET", message, "move the file to that folder", place.file, place.at(key))
    near = nearest(ident, [str(d.value.get("id")) for d in laying.drafts[kind]])
    hint = f"did you mean {' or '.join(near)}?" if near else "a new entry has id:, not changes:"
    message = f"{key}: nothing shipped is called {ident[:60]}"
    return Problem("O-TARGET", message, hint, place.file, place.at(key))


def _patch(laying: _Laying, base: Draft, draft: Draft, entry: Entry) -> None:
    place = draft.place
    patch = {k: v for k, v in draft.value.items() if k not in META}
    if not patch:
        hint = "name what changes below it"
        laying.problems.append(
            Problem("O-EMPTY", f"changes: {entry.id}: found no change", hint, place.file, place.line)
        )
        return
    result = laid_over(base.value, patch)
    for wrong in result.wrong:
        level = "info" if wrong.code == "O-SAME" else "error"
        problem = Problem(wrong.code, wrong.message, wrong.hint, place.file, place.at(*wrong.path), level)
        (laying.notes if level == "info" else laying.problems).append(problem)
    value: Any = result.value
    told: tuple[str, ...] = ()
    if entry.moved:
        value, told = stricter_of(entry.kind, base.value, result.value)
        laying.notes.append(_moved(entry, told))
    made = Draft(value, base.place.file, base.place.lines)
    made.place = _place(base.place, draft.place, result.origin)
    _put(laying.drafts, entry.kind, base, made)
    laying.entries.append(_with(entry, fields=tuple(result.changed), stricter=told))


def _moved(entry: Entry, told: tuple[str, ...]) -> Problem:
    message = f"{entry.id}: the shipped entry has changed since this was written"
    if told:
        message += f"; the stricter of both holds for {', '.join(told)}"
    return Problem("O-MOVED", message, f"reasoner knowledge review {entry.id}", entry.file, entry.line, "info")


def _place(base: Place, ours: Place, origin: Mapping[FieldPath, FieldPath]) -> Place:
    """Where each field stands: in the clinic's file if it comes from there."""
    over: dict[FieldPath, tuple[str, int]] = dict(base.overlaid)
    for path, by in origin.items():
        for inner, line in ours.lines.items():
            if inner[: len(by)] == by:
                over[(*path, *inner[len(by) :])] = (ours.file, line)
        over.setdefault(path, (ours.file, ours.at(*by)))
    return Place(base.file, base.line, base.lines, over)


def _put(drafts: Drafts, kind: str, old: Draft, new: Draft) -> None:
    drafts[kind][drafts[kind].index(old)] = new


# ------------------------------------------------------------------------------------------------ retired and new


def _retire(laying: _Laying, base: Draft, draft: Draft, entry: Entry) -> None:
    place = draft.place
    if entry.kind not in RETIRABLE:
        word = entry.kind.replace("_", " ")
        message = f"retires: a {word} is not retired"
        hint = "change it instead: changes: " + entry.id
        laying.problems.append(Problem("O-RETIRE", message, hint, place.file, place.at("retires")))
        return
    value = {**base.value, "retired": draft.value["reason"]}
    if "instead" in draft.value:
        value["instead"] = draft.value["instead"]
    made = Draft(value, base.place.file, base.place.lines)
    made.place = _place(base.place, place, {("retired",): ("reason",), ("instead",): ("instead",)})
    _put(laying.drafts, entry.kind, base, made)
    laying.entries.append(_with(entry, fields=("retired",)))


def _new(laying: _Laying, kind: str, draft: Draft) -> None:
    place = draft.place
    value = {k: v for k, v in draft.value.items() if k not in META}
    ident = value.get("id")
    if kind in (*_SINGLE, "region"):
        own = {"region": laying.region}.get(kind, kind)
        hint = f"write changes: {own}, then what changes"
        laying.problems.append(
            Problem("O-META", "this file only changes the shipped one", hint, place.file, place.line)
        )
        return
    if isinstance(ident, str):
        if base_of(laying.drafts, kind, ident, laying.region) is not None:
            message = f"id: {ident} is a shipped entry"
            hint = f"to change it write changes: {ident}"
            laying.problems.append(Problem("O-PREFIX", message, hint, place.file, place.at("id")))
            return
        if not ident.startswith((f"{laying.header.prefix}_", f"{laying.header.prefix}-")):
            near = f"{laying.header.prefix}_{ident}"
            message = f"id: {ident[:60]} does not begin with {laying.header.prefix}_"
            laying.problems.append(Problem("O-PREFIX", message, f"write {near[:60]}", place.file, place.at("id")))
            return
    signed = signed_of(draft.value)
    entry = Entry("adds", kind, str(ident), place.file, place.line, tuple(_keys(value)), signed=signed)
    if signed is not None and laying.copy.today and signed.until < laying.copy.today:
        message = f"{ident}: signed until {signed.until}; it is left out"
        laying.notes.append(Problem("O-EXPIRED", message, "sign again, or remove it", place.file, place.line, "info"))
        laying.entries.append(_with(entry, expired=True))
        return
    made = Draft(value, place.file, place.lines)
    made.place = place
    laying.drafts[kind].append(made)
    laying.entries.append(entry)


def _keys(value: Mapping[str, Any]) -> Iterator[str]:
    return (key for key in value if key != "id")
