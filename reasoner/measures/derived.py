"""Measures that are worked out from others: `a - b`, a sum or difference of measure ids."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import fsum

from reasoner.measures.error import ErrorUsed, combined_error

__all__ = ["derived_error", "derived_value", "terms"]

_TERM = re.compile(r"\s*([+-]?)\s*([a-z][a-z0-9_]*)")


def terms(expression: str) -> tuple[tuple[int, str], ...]:
    """The parts with their signs. ValueError if it is not a sum or difference of ids.

    >>> terms("bent - straight")
    ((1, 'bent'), (-1, 'straight'))
    """
    parts: list[tuple[int, str]] = []
    at = 0
    rest = expression.rstrip()
    while at < len(rest):
        match = _TERM.match(rest, at)
        if match is None or (parts and not match[1]):
            raise ValueError(f"not a sum or difference of measures: {expression!r}")
        parts.append((-1 if match[1] == "-" else 1, match[2]))
        at = match.end()
    if not parts:
        raise ValueError("nothing to derive from")
    return tuple(parts)


def derived_value(expression: str, values: Mapping[str, float]) -> float | None:
    """The derived value of one side; None while a part is not measured."""
    parts = terms(expression)
    if any(name not in values for _, name in parts):
        return None
    return fsum(sign * values[name] for sign, name in parts)


def derived_error(expression: str, errors: Mapping[str, ErrorUsed | None]) -> ErrorUsed | None:
    """Its error: root of the summed squares of the parts' errors; None while one of them is not known."""
    return combined_error(*(errors.get(name) for _, name in terms(expression)))
