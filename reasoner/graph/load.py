"""Load one region: files -> strict YAML -> validated records -> checks -> Knowledge. The only module with pydantic.

Nothing raises for bad content: all problems are collected and sorted by file and line. What reads and validates is
imported only when there is something to read: knowledge kept from before needs neither yaml nor pydantic.
"""

from __future__ import annotations

import gc
import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache, lru_cache
from importlib.resources import files as package_files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import reasoner
from reasoner.graph import records
from reasoner.graph.cache import keep, kept
from reasoner.graph.draft import Draft
from reasoner.graph.files import FOLDERS, SourceFile, collect, first_region, regions
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Clinic, ClinicCopy
from reasoner.graph.pack import FIELDS, Pack
from reasoner.graph.shape import field_names, required_names, reworded
from reasoner.problems import Problem

if TYPE_CHECKING:
    from pydantic import TypeAdapter

    from reasoner.graph.source import Document, FieldPath

__all__ = ["content_digest", "default_folder", "digest_of", "load", "shipped_entries"]

_CLASSES: Mapping[str, type] = {
    "finding": records.Finding,
    "group": records.Group,
    "masking": records.Masking,
    "hypothesis": records.Hypothesis,
    "measure": records.Measure,
    "option": records.OptionRecord,
    "load_class": records.LoadClass,
    "protocol": records.Protocol,
    "screen": records.Screen,
    "evidence": records.Evidence,
    "alignment": records.Alignment,
    "region": records.Region,
    "policy": records.Policy,
    "scales": records.Scales,
}
_SINGLE = ("region", "policy", "scales")


def default_folder() -> Path:
    """The shipped knowledge: inside an installed package, or beside the package in a working tree."""
    package = Path(str(package_files("reasoner")))
    shipped = package / "_knowledge"
    return shipped if shipped.is_dir() else package.parent / "knowledge"


def load(
    folder: Path, region: str = "", cache: Path | None = None, clinic: ClinicCopy | None = None
) -> tuple[Knowledge | None, list[Problem]]:
    """Load and check one region of a knowledge folder (none named: its first), a clinic's files laid over it if given.

    Returns the knowledge, or None if any problem is an error, and all problems sorted by file and line. `cache`: a file
    in an existing folder of the user's own, where knowledge without any problem is kept for the next time.
    A note among the problems says that what was kept there is damaged.
    What a clinic's entries came to stands in `clinic` of the knowledge, its notes included.
    """
    with collector_paused():
        region = region or first_region(folder)
        sources, problems = collect(folder, region)
        if cache is None or problems:
            return _read(sources, problems, region, clinic)
        files = _all_files(sources, clinic)
        known, said = kept(cache, digest_of(files), files)
        if known is not None:
            return known, said
        knowledge, problems = _read(sources, problems, region, clinic)
        if knowledge is not None and not problems:
            keep(cache, knowledge)
        return knowledge, said + problems


def content_digest(folder: Path, region: str, clinic: ClinicCopy | None = None) -> str:
    """The digest that knowledge of these files has or would have; empty where strays stand among them."""
    sources, problems = collect(folder, region)
    return "" if problems else digest_of(_all_files(sources, clinic))


def _all_files(sources: list[SourceFile], clinic: ClinicCopy | None) -> dict[str, bytes]:
    """Every file by name; a clinic's under `clinic/`, with what else decides which of its entries hold."""
    files = {s.name: s.data for s in sources}
    if clinic is not None:
        from reasoner.graph.overlay.folder import PLACE, run_out

        files |= {PLACE + name: data for name, data in clinic.files.items()}
        held = (*run_out(clinic.files, clinic.today), *sorted(clinic.leave_out))
        if held:
            files[PLACE + ".left_out"] = "\n".join(held).encode()
    return files


def shipped_entries(folder: Path) -> dict[tuple[str, str, str], dict[str, Any]]:
    """(region, kind, id) -> what each entry of a folder says, shapes unchecked. What cannot be read is left out.

    policy and scales have their kind as id; they stand under every region.
    """
    found: dict[tuple[str, str, str], dict[str, Any]] = {}
    for region in regions(folder):
        for source in collect(folder, region)[0]:
            for draft in _drafts(source)[0]:
                ident = source.kind if source.kind in ("policy", "scales") else str(draft.value.get("id"))
                found.setdefault((region, source.kind, ident), draft.value)
    return found


def _read(
    sources: list[SourceFile], problems: list[Problem], region: str, clinic: ClinicCopy | None
) -> tuple[Knowledge | None, list[Problem]]:
    """The knowledge in these files, read and checked."""
    from reasoner.graph.checks import check

    pack = _pack(sources, problems, region, clinic)
    if pack is not None:
        problems += check(pack)
    problems = _once_a_line(problems)
    if pack is None or any(p.level == "error" for p in problems):
        return None, problems
    return pack.knowledge, problems


@contextmanager
def collector_paused() -> Iterator[None]:
    """Pause the garbage collector: loading makes many small objects and drops none (a third of the time)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def digest_of(files: Mapping[str, bytes]) -> str:
    """SHA-256 (hex) over sorted names, their bytes and the engine's version. Independent of the folder's place."""
    total = hashlib.sha256(f"reasoner {reasoner.__version__}\n".encode())
    for name in sorted(files):
        total.update(f"{name}\0{len(files[name])}\0".encode())
        total.update(files[name])
    return total.hexdigest()


def _pack(
    sources: list[SourceFile], problems: list[Problem], region: str, copy: ClinicCopy | None
) -> Pack | None:
    """Parse and validate; None when the region, policy or scales are unusable. Adds to `problems`."""
    drafts: dict[str, list[Draft]] = {kind: [] for kind in _CLASSES}
    for source in sources:
        read, found = _drafts(source)
        drafts[source.kind] += read
        problems += found
    clinic: Clinic | None = None
    if copy is not None:
        from reasoner.graph.overlay.apply import lay_over

        clinic = lay_over(drafts, copy, region, problems)
    made: dict[str, list[Any]] = {}
    broken: dict[str, frozenset[str]] = {}
    for kind, of_kind in drafts.items():
        records_of_kind, broken[kind], found = _validated(kind, tuple(of_kind))
        made[kind] = list(records_of_kind)
        problems += found
    if not all(made[kind] for kind in _SINGLE):
        return None
    files = _all_files(sources, copy)
    parts: dict[str, Any] = {FIELDS[kind]: _by_id(made[kind]) for kind in FIELDS}
    parts |= {kind: made[kind][0] for kind in _SINGLE}
    knowledge = Knowledge(**parts, digest=digest_of(files), files=files, clinic=clinic)
    return Pack(knowledge, {kind: tuple(made[kind]) for kind in FIELDS}, broken)


def _by_id(made: list[Any]) -> dict[str, Any]:
    table: dict[str, Any] = {}
    for record in made:
        table.setdefault(record.id, record)
    return table


@lru_cache(maxsize=4096)  # to judge a clinic's folder the same files are loaded several times over
def _drafts(source: SourceFile) -> tuple[tuple[Draft, ...], tuple[Problem, ...]]:
    """The records of one file, and what the reader says. Never changed: what is laid over takes their place."""
    from reasoner.graph.source import parse

    document, found = parse(source.data, source.name)
    problems = list(found)
    drafts = _split(source.kind, document, problems) if document is not None else []
    return tuple(drafts), tuple(problems)


def _split(kind: str, document: Document, problems: list[Problem]) -> list[Draft]:
    """One mapping, or a list of mappings."""
    value, lines, file = document.value, document.lines, document.file
    folder = next((f for f, k in FOLDERS.items() if k == kind), "")
    if value is None:
        problems.append(Problem("Y-BYTES", "the file holds nothing", "write a record, or remove the file", file, 1))
        return []
    if isinstance(value, dict) and set(value) <= {folder, kind} and folder:
        hint = "start the file with the record, or with a list of records"
        problems.append(Problem("S-RECORD", f"found the key {next(iter(value), '{}')}", hint, file, lines[()]))
        return []
    if isinstance(value, dict):
        return [Draft(value, file, lines)]
    if not isinstance(value, list) or kind in _SINGLE:
        problems.append(Problem("S-RECORD", "found no key: value lines", SHAPE_HINT, file, lines.get((), 1)))
        return []
    own: list[dict[FieldPath, int]] = [{} for _ in value]
    for path, line in lines.items():
        if path:
            own[path[0]][path[1:]] = line  # type: ignore[index]  # the first step into a list is an index
    drafts = []
    for item, item_lines in zip(value, own, strict=True):
        if isinstance(item, dict):
            drafts.append(Draft(item, file, item_lines))
        else:
            problems.append(Problem("S-RECORD", "found no key: value lines", SHAPE_HINT, file, item_lines[()]))
    return drafts


SHAPE_HINT = "write a record: id: some_id, then its other keys"


# ------------------------------------------------------------------------------------------------ validation


@cache
def _adapter(kind: str) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter

    of_kind: Any = _CLASSES[kind]
    return TypeAdapter(list[of_kind])


@lru_cache(maxsize=32)  # by the very drafts: a change of one kind leaves the records of the others
def _validated(
    kind: str, given: tuple[Draft, ...]
) -> tuple[tuple[Any, ...], frozenset[str], tuple[Problem, ...]]:
    """Records of one kind, the ids of those whose shape is wrong, and how. Strict: JSON types must fit as they are."""
    from pydantic import ValidationError

    problems: list[Problem] = []
    drafts = [d for d in given if not _place_given(d, problems)]
    broken: set[str] = set()
    try:
        made = _adapter(kind).validate_json(json.dumps([d.value for d in drafts]))
    except ValidationError as error:
        by_index: dict[int, list[dict[str, Any]]] = {}
        for one in error.errors(include_url=False):
            by_index.setdefault(int(one["loc"][0]), []).append({**one, "loc": one["loc"][1:]})
        for index, errors in by_index.items():
            problems += _shape_problems(kind, drafts[index], errors)
            broken.add(str(drafts[index].value.get("id", "")))
        drafts = [d for n, d in enumerate(drafts) if n not in by_index]
        made = _adapter(kind).validate_json(json.dumps([d.value for d in drafts]))
    for record, draft in zip(made, drafts, strict=True):
        object.__setattr__(record, "place", draft.place)  # frozen for everyone but the loader
    return tuple(made), frozenset(broken), tuple(problems)


def _place_given(draft: Draft, problems: list[Problem]) -> bool:
    """`place` is a field of the records but not a key of the files."""
    if "place" not in draft.value:
        return False
    problems.append(Problem("S-KEY", "place: no such key", "remove it", draft.place.file, draft.place.at("place")))
    return True


def _shape_problems(kind: str, draft: Draft, errors: list[dict[str, Any]]) -> list[Problem]:
    other = _other_kind(kind, draft.value) if len(errors) > 1 else None
    place = draft.place
    if other:
        folder = next(f for f, k in FOLDERS.items() if k == other)
        one, own = (f"{'an' if k[0] in 'aeiou' else 'a'} {k.replace('_', ' ')}" for k in (other, kind))
        message = f"this entry has the shape of {one}, not of {own}"
        return [Problem("S-KIND", message, f"move it to {folder}/", place.file, place.line)]
    return [
        Problem(c.code, c.message, c.hint, *place.blame(*c.path))
        for c in reworded(_CLASSES[kind], draft.value, errors)
    ]


def _other_kind(kind: str, value: Mapping[str, Any]) -> str | None:
    """The kind whose keys these are, if they are not this kind's."""
    if set(value) <= set(field_names(_CLASSES[kind])):
        return None
    for other in FOLDERS.values():
        cls = _CLASSES[other]
        if other != kind and set(required_names(cls)) <= set(value) <= set(field_names(cls)):
            return other
    return None


def _once_a_line(problems: list[Problem]) -> list[Problem]:
    """Sorted, without what follows from something the reader already refused on the same line."""
    read = {(p.file, p.line) for p in problems if p.code.startswith("Y-") and p.line}
    kept = [p for p in problems if p.code.startswith("Y-") or (p.file, p.line) not in read]
    return sorted(dict.fromkeys(kept), key=lambda p: (p.file, p.line, p.code, p.message))
