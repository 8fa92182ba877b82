"""The base digest of a patch, filled in by the tool: which shipped entry it was written against.

What the entry said then is kept beside the folder's files (`.base/`, which the loader passes over), so that a later
version can be shown beside it. Files are changed line by line: comments and the order of lines stay.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reasoner.graph.draft import Draft, digest_of_entry
from reasoner.graph.overlay.entries import Entry
from reasoner.graph.overlay.folder import CLINIC_FILE, PLACE, drafts_of, sources

__all__ = ["Stamped", "kept_base", "restamped", "stamped"]

Shipped = Mapping[tuple[str, str, str], dict[str, Any]]


@dataclass(slots=True)
class Stamped:
    """One file of the folder with base digests filled in, and the shipped entries to keep beside it."""

    name: str
    ids: list[str] = field(default_factory=list)
    writes: dict[str, bytes] = field(default_factory=dict)


def stamped(files: Mapping[str, bytes], shipped: Shipped) -> Iterator[Stamped]:
    """The files in which a patch of a shipped entry has no base digest yet, with it filled in."""
    regions = dict.fromkeys(region for region, _, _ in shipped)
    for name in sorted(files):
        if name == CLINIC_FILE:
            continue
        change = Stamped(name)
        for region in regions:
            for kind, _, _ in sources({name: files[name]}, region)[0]:
                _fill_in(change, files[name], kind, region, shipped)
        if change.ids:
            yield change


def _fill_in(change: Stamped, data: bytes, kind: str, region: str, shipped: Shipped) -> None:
    from reasoner.graph.source import parse

    document, problems = parse(data, PLACE + change.name)
    if document is None or problems:
        return
    lines = change.writes.get(change.name, data).decode().splitlines(keepends=True)
    for draft in reversed(drafts_of(document, [])):  # from the end, so that line numbers stay true
        key = "retires" if "retires" in draft.value else "changes"
        target = draft.value.get(key)
        if "base" in draft.value or not isinstance(target, str):
            continue
        ident = _named(shipped, region, kind, target)
        if ident is None or ident in change.ids:
            continue
        base = shipped[region, kind, ident]
        digest = digest_of_entry(base)
        if _write_in(lines, draft, key, digest):
            change.ids.append(ident)
            told = json.dumps(base, indent=1, ensure_ascii=False).encode()
            change.writes[_base_name(region, kind, ident, digest)] = told
    if change.ids:
        change.writes[change.name] = "".join(lines).encode()


def _named(shipped: Shipped, region: str, kind: str, target: str) -> str | None:
    if kind == "region":
        return target if target == region else None
    if (region, kind, target) in shipped:
        return target
    former = (i for (r, k, i), v in shipped.items() if (r, k) == (region, kind) and target in v.get("formerly", ()))
    return next(former, None)


def _write_in(lines: list[str], draft: Draft, key: str, digest: str) -> bool:
    """Put the digest behind the target: on a line of its own, or within the braces of a one-line entry."""
    number = draft.place.at(key) - 1
    line = lines[number]
    found = re.search(rf"\b{key}:\s*[^,}}#\n]*", line)
    if found is None:
        return False
    if "{" in line[: found.start()]:
        end = found.start() + len(found.group().rstrip())
        lines[number] = f'{line[:end]}, base: "{digest}"{line[end:]}'
    else:
        ending = "\r\n" if line.endswith("\r\n") else "\n"
        lines[number] = line if line.endswith("\n") else line + ending
        lines.insert(number + 1, f'{" " * found.start()}base: "{digest}"{ending}')
    return True


def restamped(data: bytes, entry: Entry) -> bytes:
    """A file with the base digest of one entry set to the shipped entry as it is now."""
    lines = data.decode().splitlines(keepends=True)
    start = entry.line - 1
    for number in range(max(0, start), len(lines)):
        if entry.base in lines[number]:
            lines[number] = lines[number].replace(entry.base, entry.base_now, 1)
            break
    return "".join(lines).encode()


def _base_name(region: str, kind: str, ident: str, digest: str) -> str:
    return f".base/{region}.{kind}.{ident}.{digest}.json"


def kept_base(folder: Path, entry: Entry) -> dict[str, Any]:
    """What the shipped entry said when the patch was written, under whichever id; empty where that was not kept."""
    for path in sorted((folder / ".base").glob(f"*.{entry.kind}.*.{entry.base}.json")):
        try:
            value = json.loads(path.read_bytes())
        except (OSError, ValueError, RecursionError):
            continue
        return value if isinstance(value, dict) else {}
    return {}
