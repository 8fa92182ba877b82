"""A record as read from a file, before its shape is checked: its value and where it stands."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from reasoner.graph.records import Place

if TYPE_CHECKING:
    from reasoner.graph.source import FieldPath

__all__ = ["Draft", "digest_of_entry"]


class Draft:
    """A record as read: its value and where it stands."""

    __slots__ = ("place", "value")

    def __init__(self, value: dict[str, Any], file: str, lines: Mapping[FieldPath, int]) -> None:
        self.value = value
        self.place = Place(file, lines.get((), 1), lines)


def digest_of_entry(value: Mapping[str, Any]) -> str:
    """Twelve hex digits over what an entry says; line breaks, comments and the order of keys do not count."""
    told = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(told.encode()).hexdigest()[:12]
