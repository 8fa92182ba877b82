"""Every entry of a clinic's folder that makes something looser needs a signature; which entry did it is found out.

Pure: `load` is given, so that one entry at a time can be laid over the shipped knowledge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.entries import Entry
from reasoner.problems import Problem
from reasoner.upkeep.looser import Looser, looser
from reasoner.upkeep.states import Made, made_states

__all__ = ["Judged", "guard"]

Load = Callable[[frozenset[str]], Knowledge | None]  # entries (file:line) left out -> the knowledge without them
_MOST_TOLD = 3


@dataclass(frozen=True, slots=True)
class Judged:
    """Problems (looser and not signed for), and what is looser and signed for."""

    problems: tuple[Problem, ...]
    signed: tuple[tuple[Entry, tuple[Looser, ...]], ...]


def guard(base: Knowledge, ours: Knowledge, load: Load, stored: Iterable[Made] = ()) -> Judged:
    """Judge a clinic's folder by effect over made-up and stored states."""
    if ours.clinic is None:
        return Judged((), ())
    states = (*made_states(base, ours), *stored)
    found = looser(base, ours, states)
    if not found:
        return Judged((), ())
    return _judged(found, _blamed(found, base, ours, load, states), ours.clinic.entries)


def _blamed(
    found: list[Looser], base: Knowledge, ours: Knowledge, load: Load, states: tuple[Made, ...]
) -> dict[Entry, list[Looser]]:
    """Entry -> what it loosens. One entry alone over the shipped knowledge; if that does not load, all but that one."""
    assert ours.clinic is not None
    entries = [e for e in ours.clinic.entries if not e.expired]
    wanted = {f.where for f in found}
    few = tuple(m for m in states if m.words in wanted)
    blamed: dict[Entry, list[Looser]] = {}
    for entry in entries:
        others = frozenset(_key(e) for e in entries if e is not entry)
        alone = load(others)
        if alone is not None:
            told = looser(base, alone, few)
        else:
            without = load(frozenset({_key(entry)}))
            left = {(f.route, f.id) for f in looser(base, without, few)} if without is not None else set()
            told = [f for f in found if (f.route, f.id) not in left]
        if told:
            blamed[entry] = told
    return blamed


def _key(entry: Entry) -> str:
    return f"{entry.file}:{entry.line}"


def _judged(found: list[Looser], blamed: dict[Entry, list[Looser]], entries: tuple[Entry, ...]) -> Judged:
    problems, signed = [], []
    for entry, told in blamed.items():
        if entry.signed is not None:
            signed.append((entry, tuple(told)))
        else:
            problems.append(_problem(entry, told))
    explained = {(f.route, f.id) for told in blamed.values() for f in told}
    rest = [f for f in found if (f.route, f.id) not in explained]
    if rest and entries:
        problems.append(_problem(entries[0], rest, "together with other entries, "))
    return Judged(tuple(problems), tuple(signed))


def _problem(entry: Entry, told: list[Looser], how: str = "") -> Problem:
    said = "; ".join(str(t) for t in told[:_MOST_TOLD])
    more = f"; and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    message = f"{how}{entry.id} is looser than shipped: {said}{more}"
    hint = "make it as strict, or add signed_off: {roles: [lead physio], date: ..., until: ..., reason: ...}"
    return Problem("O-LOOSER", message, hint, entry.file, entry.line)
