"""Old lines read by a newer version: the schema number and the table of steps from one number to the next.

Whoever changes the shape of an event raises `SCHEMA` by one and adds the step from the number before. Lines are
never rewritten: a step works on what was read, after its hash was checked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["SCHEMA", "UPCASTERS", "Upcaster", "upcast"]

SCHEMA = 1

Upcaster = Callable[[str, dict[str, Any]], tuple[str, dict[str, Any]]]
"""(event, payload) as written under schema n -> (event, payload) under schema n + 1."""

UPCASTERS: Mapping[int, Upcaster] = {}


def upcast(
    event: str,
    payload: dict[str, Any],
    schema: int,
    *,
    steps: Mapping[int, Upcaster] = UPCASTERS,
    newest: int = SCHEMA,
) -> tuple[str, dict[str, Any]]:
    """Event and payload in today's shape. ValueError for a schema newer than `newest` or a missing step.

    >>> upcast("noted", {"text": "x"}, 1, steps={1: lambda e, p: (e, {"words": p["text"]})}, newest=2)
    ('noted', {'words': 'x'})
    """
    if schema > newest:
        raise ValueError(f"schema {schema} is newer than this version reads ({newest}); update the tool")
    for number in range(schema, newest):
        if number not in steps:
            raise ValueError(f"schema {number} is no longer read by this version")
        event, payload = steps[number](event, payload)
    return event, payload
