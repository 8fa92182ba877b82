"""Words the tool never prints, and the tables of reasoning that belong to no region."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack
from reasoner.graph.source import FieldPath

__all__ = ["BANNED", "CHECKS"]

BANNED = re.compile(r"\b(safe|safely|cleared|settled|ruled\s+out|confirmed)\b", re.IGNORECASE)
# not printed as the tool's own words: how a publication calls itself
_QUOTED = ("citation", "place", "evidence")


@rule("K-BANNED")
def banned_word(pack: Pack) -> Iterator[Spot]:
    """A text the tool may print uses a word that promises too much.

    The tool never says safe, cleared, settled, ruled out or confirmed: it says what was asked, what was answered and
    what that does not exclude. Write "criteria not met on these answers", "established", "shut out", "eases".
    """
    shared = (("scales", pack.knowledge.scales), ("policy", pack.knowledge.policy))
    suspects = {name for name, data in pack.knowledge.files.items() if _suspect(data)}
    for _, record in (*pack.every(), *shared):
        if record.place.file not in suspects:
            continue
        for path, text in _texts(record, ()):
            found = BANNED.search(text)
            if found:
                field = ".".join(p for p in path if isinstance(p, str))
                hint = "say what is known, and what is not excluded"
                yield Spot(record, path, f"{field}: found {found.group()}", hint)


def _suspect(data: bytes) -> bool:
    """A quick look at a whole file, so that only a few are gone through text by text."""
    lower = data.lower()
    return any(word in lower for word in (b"safe", b"cleared", b"settled", b"ruled", b"confirmed"))


def _texts(value: Any, path: FieldPath) -> Iterator[tuple[FieldPath, str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _texts(item, (*path, key))
    elif isinstance(value, (tuple, list)):
        for n, item in enumerate(value):
            yield from _texts(item, (*path, n))
    elif dataclasses.is_dataclass(value):
        for spec in dataclasses.fields(value):
            if spec.name not in _QUOTED:
                yield from _texts(getattr(value, spec.name), (*path, spec.name))


@rule("K-POLICY")
def policy_complete(pack: Pack) -> Iterator[Spot]:
    """policy.yaml lacks a weight or a floor, or has one outside 0 to 1.

    certainty_weight has high, moderate, low and very_low, never rising; leak_floor has told, seen, tested, measured.
    """
    policy = pack.knowledge.policy
    for name, needed in (
        ("certainty_weight", ("high", "moderate", "low", "very_low")),
        ("leak_floor", ("told", "seen", "tested", "measured")),
    ):
        table: dict[str, float] = getattr(policy, name)
        missing = [n for n in needed if n not in table]
        if missing:
            yield Spot(policy, (name,), f"{name}: {', '.join(missing)} is missing", "add it")
        for key, value in table.items():
            if not 0 <= value <= 1:
                yield Spot(policy, (name, key), f"{name}.{key}: found {value:g}", "write 0 to 1")
    weights = [policy.certainty_weight.get(n) for n in ("high", "moderate", "low", "very_low")]
    known = [w for w in weights if w is not None]
    if known != sorted(known, reverse=True):
        yield Spot(policy, ("certainty_weight",), "certainty_weight: a lower certainty weighs more", "order them")


CHECKS: tuple[Check, ...] = (banned_word, policy_complete)
