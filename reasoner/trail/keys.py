"""Keys of this user, kept apart from the cases: a copy of the state folder, a pack or a shared folder never holds them.

    <keys>/signing.key      32 random bytes as hex, for `trail sign`
    <keys>/age.key          an age identity, for what is encrypted
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.trail.files import make_folder, read_regular, refusing, write_new

__all__ = ["age_key", "age_key_file", "key_folder", "make_age_key", "signing_key"]

_HEX = re.compile(r"[0-9a-f]{64}\s*", re.ASCII)
_LINE = re.compile(r"AGE-SECRET-KEY-1[0-9A-Z]+", re.ASCII)


def key_folder(env: Mapping[str, str]) -> Path:
    """$REASONER_KEYS, else $XDG_CONFIG_HOME/reasoner, else ~/.config/reasoner."""
    if env.get("REASONER_KEYS"):
        return Path(env["REASONER_KEYS"]).absolute()
    if env.get("XDG_CONFIG_HOME", "").startswith("/"):
        return Path(env["XDG_CONFIG_HOME"]) / "reasoner"
    return Path(env.get("HOME") or "~").expanduser().absolute() / ".config" / "reasoner"


def signing_key(env: Mapping[str, str], *, make: bool = False) -> bytes | None:
    """The key; None if there is none and `make` is not set. InputRefused if it cannot be read, made or is no key."""
    path = key_folder(env) / "signing.key"
    with refusing(path, "use the signing key"):
        if not path.exists():
            if not make:
                return None
            make_folder(path.parent)
            write_new(path, secrets.token_hex(32).encode() + b"\n")
        text = read_regular(path, 1000).decode("ascii", "replace")
    if not _HEX.fullmatch(text):
        raise InputRefused([Problem("T-KEY", "this is not a signing key", "bring it back from a copy", str(path))])
    return bytes.fromhex(text.strip())


def age_key_file(env: Mapping[str, str]) -> Path:
    """Where the age identity is kept, whether there is one or not."""
    return key_folder(env) / "age.key"


def make_age_key(env: Mapping[str, str], identity: str) -> Path:
    """Keep a new age identity; its file. InputRefused if there is one already."""
    path = age_key_file(env)
    with refusing(path, "keep the key"):
        make_folder(path.parent)
        write_new(path, identity.encode() + b"\n")
    return path


def age_key(env: Mapping[str, str], given: Path | None = None) -> str:
    """The age identity in `given`, else the kept one. InputRefused where there is none."""
    path = given or age_key_file(env)
    with refusing(path, "read the age key"):
        text = read_regular(path, 100_000).decode("utf-8", "replace")
    found = _LINE.search(text)
    if found is None:
        hint = "give the file that age-keygen or `reasoner config key` wrote"
        raise InputRefused([Problem("T-KEY", "this is not an age key", hint, str(path))])
    return found[0]
