"""Reading a clinic's folder: its files, its clinic.yaml, and its entries as drafts with what they mean to do."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reasoner.graph.draft import Draft
from reasoner.graph.files import MOST_BYTES, kind_of, names_in, not_read
from reasoner.graph.overlay.entries import SignedOff
from reasoner.problems import Problem, nearest
from reasoner.reading import read_regular

if TYPE_CHECKING:
    from reasoner.graph.source import Document

__all__ = [
    "CLINIC_FILE",
    "META",
    "PLACE",
    "Header",
    "drafts_of",
    "header_of",
    "meta_problems",
    "read_folder",
    "run_out",
    "signed_of",
    "sources",
]

CLINIC_FILE = "clinic.yaml"
PLACE = "clinic/"  # how the folder's files are named beside the shipped ones
META = ("changes", "retires", "base", "signed_off", "reason", "instead")
_SIGNED = ("roles", "date", "until", "reason")
_PREFIX = re.compile(r"[a-z]{2,6}\Z")
_DATE = re.compile(r"20\d\d-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])\Z")
_UNTIL = re.compile(rb"""\buntil:\s*["']?(20\d\d-\d\d-\d\d)""")
_MOST_YEARS = 2


@dataclass(frozen=True, slots=True)
class Header:
    """clinic.yaml"""

    id: str
    name: str
    prefix: str


def read_folder(folder: Path) -> tuple[dict[str, bytes], list[Problem]]:
    """Every file of a clinic's folder by relative name; what does not belong there is a problem."""
    if not folder.is_dir():
        return {}, [Problem("F-MISSING", "there is no such folder", "reasoner knowledge start DIR", str(folder))]
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    regions = sorted(p.name for p in folder.iterdir() if p.is_dir() and not p.name.startswith((".", "__")))
    for region in regions or [""]:
        for name in names_in(folder, region, problems):
            _read_one(folder, name, region, files, problems)
    return files, list(dict.fromkeys(problems))


def _read_one(folder: Path, name: str, region: str, files: dict[str, bytes], problems: list[Problem]) -> None:
    if name in files:
        return
    kind, problem = ("clinic", None) if name == CLINIC_FILE else kind_of(name, region)
    if problem is not None:
        problems.append(problem)
    elif kind:
        try:
            files[name] = read_regular(folder / name, MOST_BYTES)
        except OSError as error:
            problems.append(not_read(error, name))


def run_out(files: Mapping[str, bytes], today: str) -> list[str]:
    """Days until which something was signed for, and which have passed: with them what holds has changed."""
    days = {m.decode() for data in files.values() for m in _UNTIL.findall(data)}
    return sorted(day for day in days if today and day < today)


def sources(files: Mapping[str, bytes], region: str) -> tuple[list[tuple[str, str, bytes]], list[Problem]]:
    """(kind, name, bytes) of the files that bear on one region, by name; clinic.yaml is left out."""
    found, problems = [], []
    for name in sorted(files):
        if name == CLINIC_FILE or ("/" in name and name.split("/")[0] != region):
            continue
        kind, problem = kind_of(name, region)
        if problem is not None:
            problems.append(problem)
        elif kind:
            found.append((kind, name, files[name]))
    return found, problems


def header_of(files: Mapping[str, bytes]) -> tuple[Header | None, list[Problem]]:
    """What clinic.yaml says; None if it cannot be used."""
    from reasoner.graph.source import parse

    example = "write {clinic: north, name: North Clinic, prefix: nc}"
    if CLINIC_FILE not in files:
        return None, [Problem("O-CLINIC", "this file is needed and not there", example, PLACE + CLINIC_FILE)]
    document, problems = parse(files[CLINIC_FILE], PLACE + CLINIC_FILE)
    if document is None or problems:
        return None, problems
    value = document.value
    if not isinstance(value, dict):
        return None, [Problem("O-CLINIC", "found no key: value lines", example, document.file, 1)]
    for key in value:
        if key not in ("clinic", "name", "prefix"):
            near = nearest(key, ("clinic", "name", "prefix"), 1)
            hint = f"write {near[0]}" if near else "keys: clinic, name, prefix"
            problems.append(Problem("O-CLINIC", f"{key}: no such key", hint, document.file, document.lines[key,]))
    for key in ("clinic", "name", "prefix"):
        if not isinstance(value.get(key), str):
            line = document.lines.get((key,), document.lines.get((), 1))
            problems.append(Problem("O-CLINIC", f"{key}: is missing or not text", example, document.file, line))
        elif key == "prefix" and not _PREFIX.match(value[key]):
            line = document.lines[key,]
            hint = "two to six small letters, for example nc"
            problems.append(Problem("O-CLINIC", f"prefix: found {value[key][:40]}", hint, document.file, line))
    return (None if problems else Header(value["clinic"], value["name"], value["prefix"])), problems


def drafts_of(document: Document, problems: list[Problem]) -> list[Draft]:
    """The entries of one file: one mapping, or a list of mappings."""
    value, lines = document.value, document.lines
    if isinstance(value, dict):
        return [Draft(value, document.file, lines)]
    drafts = []
    for n, item in enumerate(value if isinstance(value, list) else []):
        if isinstance(item, dict):
            own = {path[1:]: line for path, line in lines.items() if path and path[0] == n}
            drafts.append(Draft(item, document.file, own))
    if not drafts:
        hint = "write an entry: changes: some_id, then what changes"
        problems.append(Problem("S-RECORD", "found no key: value lines", hint, document.file, lines.get((), 1)))
    return drafts


def meta_problems(draft: Draft) -> list[Problem]:
    """What is wrong with changes:, retires:, base:, signed_off:, reason: and instead: of one entry."""
    value, place = draft.value, draft.place
    found: list[Problem] = []

    def say(code: str, key: str, message: str, hint: str) -> None:
        found.append(Problem(code, message, hint, place.file, place.at(key)))

    if "changes" in value and "retires" in value:
        say("O-META", "retires", "found changes: and retires: in one entry", "keep one of them")
    for key in ("changes", "retires", "base", "reason", "instead"):
        if key in value and not isinstance(value[key], str):
            say(
                "O-META",
                key,
                f"{key}: found {_kind_word(value[key])}",
                "write an id" if key != "reason" else "write text",
            )
    if "retires" in value:
        if not value.get("reason"):
            say("O-META", "retires", "reason: is missing", "add reason: why it is not used here")
        for key in set(value) - {"retires", "base", "signed_off", "reason", "instead"}:
            say("O-META", key, f"{key}: does not belong to an entry that retires", "remove it")
    elif "changes" not in value:
        for key in ("base", "reason", "instead"):
            if key in value:
                say("O-META", key, f"{key}: belongs to changes: or retires:", "remove it")
    elif "id" in value:
        say("O-META", "id", "id: the shipped id stays", "leave it out; a renamed entry of your own keeps formerly:")
    if "signed_off" in value:
        found += _signed_problems(draft)
    return found


def _signed_problems(draft: Draft) -> list[Problem]:
    signed, place = draft.value["signed_off"], draft.place
    example = "write {roles: [lead physio], date: 2026-03-01, until: 2027-03-01, reason: ...}"

    def one(message: str, hint: str, *path: str) -> Problem:
        return Problem("O-SIGNED", message, hint, place.file, place.at("signed_off", *path))

    if not isinstance(signed, dict):
        return [one("signed_off: found no key: value lines", example)]
    extra = [one(f"signed_off: no such key: {k}", "keys: " + ", ".join(_SIGNED), k) for k in signed if k not in _SIGNED]
    roles = signed.get("roles")
    if not (isinstance(roles, list) and roles and all(isinstance(r, str) and r for r in roles)):
        extra.append(one("signed_off.roles: found no list of roles", "write [lead physio, surgeon]", "roles"))
    for key in ("date", "until"):
        if not (isinstance(signed.get(key), str) and _DATE.match(signed[key])):
            extra.append(one(f"signed_off.{key}: found no date", "write year-month-day: 2026-03-01", key))
    if not (isinstance(signed.get("reason"), str) and signed["reason"].strip()):
        extra.append(one("signed_off.reason: is missing", "say why it may be looser here", "reason"))
    if not extra:
        start, end = signed["date"], signed["until"]
        if end <= start:
            extra.append(one(f"signed_off.until: {end} is not after {start}", "write a later date", "until"))
        elif end > f"{int(start[:4]) + _MOST_YEARS}{start[4:]}":
            extra.append(one(f"signed_off.until: {end} is more than two years on", "write an earlier date", "until"))
    return extra


def signed_of(value: Mapping[str, Any]) -> SignedOff | None:
    """The signature of an entry whose form has been checked."""
    signed = value.get("signed_off")
    if not isinstance(signed, dict):
        return None
    return SignedOff(tuple(signed["roles"]), signed["date"], signed["until"], signed["reason"])


def _kind_word(value: Any) -> str:
    return "a list" if isinstance(value, list) else "a mapping" if isinstance(value, dict) else str(value)
