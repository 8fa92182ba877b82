"""A closed trail signed with a key that is kept elsewhere: who could rewrite trail and anchor still cannot sign them.

    <case>.signed   count and hash of the end, by whom and when, which key, an HMAC-SHA256 over all of that, and the
                    plain hash of the record, by which a damaged one is told from one signed with another key

The key is the signer's own (`keys.py`) and is not in the state folder, in a shared one, or in a pack.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from reasoner.problems import Problem
from reasoner.trail.files import read_regular, refusing, sync_folder, write_whole
from reasoner.trail.line import BadLine, Entry, parse_json, sha256

__all__ = ["check_signature", "sign", "signature_file"]

_KEYS = ("count", "hash", "by", "at", "key")


def signature_file(trail: Path) -> Path:
    """Where the signature of a trail lies."""
    return trail.with_suffix(".signed")


def sign(trail: Path, entries: Sequence[Entry], key: bytes, *, by: str, at: datetime) -> str:
    """Sign the end as it is, in place of an earlier signature; the short name of the key."""
    told: dict[str, object] = {
        "count": len(entries), "hash": entries[-1].hash, "by": by, "at": at.isoformat(timespec="seconds"),
        "key": _name(key),
    }  # fmt: skip
    path = signature_file(trail)
    with refusing(path, "write the signature"):
        write_whole(path, _bytes({**told, "mac": _mac(told, key)}))
        sync_folder(path.parent)
    return _name(key)


def check_signature(trail: Path, entries: Sequence[Entry], key: bytes | None) -> list[Problem]:
    """What the signature says of these lines: nothing where there is none. Level `info` where it is as it should be."""
    path = signature_file(trail)
    if not path.exists():
        return []
    try:
        with refusing(path, "read the signature"):
            raw = read_regular(path, 10_000)
        told = parse_json(raw)
        if _bytes({k: told[k] for k in (*_KEYS, "mac")}) != raw:
            raise BadLine("bytes other than as written")
        count, digest, by, at, name, mac = (told[k] for k in (*_KEYS, "mac"))
    except (BadLine, KeyError, TypeError):
        return [_wrong("the signature cannot be read", path)]
    if key is None or name != _name(key):
        message = f"signed by {by} with the key {name}, which is not here: the signature was not looked at"
        return [Problem("T-SIGN", message, file=str(path), level="info")]
    if not isinstance(mac, str) or not hmac.compare_digest(_mac(told, key), mac):
        return [_wrong("the signature does not fit: it, or what it signs, was changed", path)]
    held = next((e for e in entries if e.seq == count), None)
    if held is None or held.hash != digest:
        return [_wrong(f"line {count} is not the one that was signed by {by} on {at[:10]}", path)]
    more = f"; {len(entries) - count} lines came later" if len(entries) > count else ""
    message = f"signed to line {count} by {by} on {at[:10]}, key {name}{more}"
    return [Problem("T-SIGN", message, file=str(path), level="info")]


def _wrong(message: str, path: Path) -> Problem:
    return Problem("T-SIGN", message, "compare with a copy", file=str(path))


def _bytes(told: dict[str, object]) -> bytes:
    return json.dumps({**told, "own": sha256(json.dumps(told).encode())}).encode() + b"\n"


def _mac(told: dict[str, object], key: bytes) -> str:
    text = json.dumps([told[k] for k in _KEYS])
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest()


def _name(key: bytes) -> str:
    return hashlib.sha256(b"name of a signing key" + key).hexdigest()[:12]
