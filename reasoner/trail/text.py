"""Free text of a line, beside the trail: chained by salted hashes, so that it can be removed and the chain holds.

One file a line: {"name":{"salt":"...","text":"..."}}. The line holds sha256(salt, name, text). A hash of short words
could be guessed; with a salt that goes when the words go, it cannot. Removed words leave {"name":{"removed":true}}.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeGuard

from reasoner.trail.files import make_folder, read_regular, sync_folder, write_new, write_whole
from reasoner.trail.line import BadLine, Entry, parse_json, sha256

__all__ = ["CHANGED", "MAX_TEXT", "MISSING", "REMOVED", "discard", "file_of", "new_salt", "remove", "resolve",
           "resolve_file", "seal", "store"]  # fmt: skip

MAX_TEXT = 1_000_000  # bytes of one line's texts together
REMOVED = "[text removed]"
MISSING = "[text missing]"
CHANGED = "[text changed since it was written; not shown]"


def new_salt() -> str:
    """128 random bits as hex."""
    return secrets.token_hex(16)


def text_hash(salt: str, name: str, text: str) -> str:
    """What the line holds in place of the words. The parts are told apart by their JSON brackets."""
    return sha256(json.dumps([salt, name, text]).encode())


def file_of(folder: Path, seq: int) -> Path:
    """The file of the texts of line `seq`."""
    return folder / f"{seq:06d}.json"


def seal(texts: Mapping[str, str], salt: Callable[[], str] = new_salt) -> tuple[dict[str, str], bytes]:
    """(name -> hash for the line, bytes of the file). BadLine for words that could not be read back."""
    kept = {name: {"salt": salt(), "text": text} for name, text in texts.items()}
    try:
        data = _bytes(kept)
    except UnicodeEncodeError as error:
        raise BadLine("a character that is not text") from error
    if len(data) > MAX_TEXT:
        raise BadLine(f"more than {MAX_TEXT} bytes of text in one step")
    parse_json(data)
    return {name: text_hash(part["salt"], name, part["text"]) for name, part in kept.items()}, data


def _bytes(kept: Mapping[str, Any]) -> bytes:
    return json.dumps(kept, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def store(folder: Path, seq: int, data: bytes) -> None:
    """Write the texts of line `seq` durably. What an earlier, unrecorded try left under that number is replaced."""
    make_folder(folder)
    write_new(file_of(folder, seq), data, replace=True)


def discard(folder: Path, seq: int) -> None:
    """Remove what an unrecorded try left for line `seq`, so that it cannot pass for that line's text."""
    with suppress(FileNotFoundError):
        file_of(folder, seq).unlink()
        sync_folder(folder)


def remove(folder: Path, entry: Entry, names: Iterable[str]) -> None:
    """Take words out for good: a new file without them replaces the old one, and copies a sync made of it go.

    Copies made elsewhere are not reached.
    """
    path = file_of(folder, entry.seq)
    kept = _read(path)
    copies = [p for p in folder.glob(f"{entry.seq:06d}*") if p != path and not resolve_file(p, entry)[2]]
    for name in names:
        kept[name] = {"removed": True}
    write_whole(path, _bytes(kept))
    for copy in copies:
        copy.unlink()
    sync_folder(folder)


def _read(path: Path) -> dict[str, Any]:
    raw = read_regular(path, MAX_TEXT)
    kept = parse_json(raw)
    if not isinstance(kept, dict) or _bytes(kept) != raw:
        raise BadLine("bytes other than as written")
    return kept


def resolve(folder: Path, entry: Entry) -> tuple[dict[str, str], list[str], list[str]]:
    """(name -> words or a marker, names that were removed, what is wrong in words) for one line's texts."""
    return resolve_file(file_of(folder, entry.seq), entry)


def resolve_file(path: Path, entry: Entry) -> tuple[dict[str, str], list[str], list[str]]:
    """The same from a file of any name."""
    names = entry.text_hashes
    try:
        kept = _read(path)
    except FileNotFoundError:
        return dict.fromkeys(names, MISSING), [], [f"its text is missing ({path.name})"]
    except BadLine as error:
        return dict.fromkeys(names, CHANGED), [], [f"its text was changed ({path.name}: {error})"]
    texts: dict[str, str] = {}
    removed: list[str] = []
    wrong: list[str] = [] if kept.keys() == names.keys() else [f"its texts are others than recorded ({path.name})"]
    for name, digest in names.items():
        part = kept.get(name)
        if part == {"removed": True}:
            texts[name] = REMOVED
            removed.append(name)
        elif _is_part(part) and text_hash(part["salt"], name, part["text"]) == digest:
            texts[name] = part["text"]
        else:
            texts[name] = CHANGED
            wrong.append(f"its text {name!r} was changed ({path.name})")
    return texts, removed, wrong


def _is_part(part: Any) -> TypeGuard[dict[str, str]]:
    whole = isinstance(part, dict) and part.keys() == {"salt", "text"}
    return whole and all(isinstance(value, str) for value in part.values())
