"""Encryption in the open age format (age-encryption.org/v1), through the package pyrage, which is optional.

Whole files only, so that appending to an open trail stays as simple and as durable as it is: packs, and closed cases.
The format authenticates every byte and the end: a changed or shortened file is refused, never read in part.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reasoner.problems import InputRefused, Problem, one_line

__all__ = ["decrypted", "encrypted", "is_encrypted", "new_identity", "recipient_of"]

_START = b"age-encryption.org/v1\n"


def is_encrypted(raw: bytes) -> bool:
    """Does it begin as an age file does?"""
    return raw.startswith(_START)


def encrypted(raw: bytes, recipients: Sequence[str]) -> bytes:
    """`raw` for any one of the recipients (age1...). InputRefused for one that is none, or without the package."""
    pyrage = _pyrage()
    try:
        keys = [pyrage.x25519.Recipient.from_str(one.strip()) for one in recipients]
    except pyrage.RecipientError as error:
        hint = "write what `reasoner config key` or age-keygen printed: age1..."
        raise InputRefused([Problem("T-AGE", f"not an age recipient ({one_line(str(error))})", hint)]) from error
    return bytes(pyrage.encrypt(raw, keys))


def decrypted(raw: bytes, identity: str, name: str) -> bytes:
    """What was encrypted. InputRefused for another key, a changed byte or a missing end: then nothing is given."""
    pyrage = _pyrage()
    try:
        return bytes(pyrage.decrypt(raw, [pyrage.x25519.Identity.from_str(identity)]))
    except pyrage.IdentityError as error:
        raise InputRefused([Problem("T-KEY", "this is not an age key", "", name)]) from error
    except pyrage.DecryptError as error:
        message = f"it cannot be decrypted: another key, or changed or cut short ({one_line(str(error))})"
        raise InputRefused([Problem("T-AGE", message, "give its key: --key KEYFILE, or bring a copy", name)]) from error


def new_identity() -> tuple[str, str]:
    """(secret identity, recipient to give away)."""
    made = _pyrage().x25519.Identity.generate()
    return str(made), str(made.to_public())


def recipient_of(identity: str) -> str:
    """What to give away so that others can encrypt for this identity. InputRefused if it is none."""
    pyrage = _pyrage()
    try:
        return str(pyrage.x25519.Identity.from_str(identity).to_public())
    except pyrage.IdentityError as error:
        raise InputRefused([Problem("T-KEY", "this is not an age key", "bring it back from a copy")]) from error


def _pyrage() -> Any:
    try:
        import pyrage
    except ImportError as error:
        hint = "pip install 'ankle-reasoner[encrypt]'"
        raise InputRefused([Problem("T-AGE", "encryption needs the package pyrage", hint)]) from error
    return pyrage
