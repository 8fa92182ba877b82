"""In which order to sweep the causes, so that few findings are open at once.

A finding's digit need only live from the first to the last cause that touches it. Causes are taken greedily by
(bits they open - .9 * bits they close). Causes with the same findings are taken together; a cause that touches one
open finding only is folded into that finding's start, one that touches none keeps its own odds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import log2

__all__ = ["Plan", "Step", "Touch", "plan"]

_CLOSING_CREDIT = 0.9


@dataclass(frozen=True, slots=True)
class Touch:
    """One digit of the state at one moment: the state seen as (before, levels, after)."""

    digit: int
    slot: int  # place of the cause among the digit's parents; -1 when closing
    before: int
    levels: int
    after: int


@dataclass(frozen=True, slots=True)
class Step:
    """One cause: digits it opens (newest becomes the first axis), digits it fires, digits closed after it."""

    cause: int
    opens: tuple[int, ...]
    fires: tuple[Touch, ...]
    closes: tuple[Touch, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole sweep. `singles[j]`: (cause, slot) folded into digit j; `alone`: digits no shared cause touches."""

    steps: tuple[Step, ...]
    singles: tuple[tuple[tuple[int, int], ...], ...]
    alone: tuple[int, ...]
    free: tuple[int, ...]
    peak_bits: float
    total_size: int  # states kept during the forward sweep, for sizing chunks


@lru_cache(maxsize=512)
def plan(causes: int, parents: tuple[tuple[int, ...], ...], sizes: tuple[int, ...]) -> Plan:
    """The order for `causes` causes and digits with these parents and numbers of levels.

    Two findings with one shared cause: the second cause is folded, the third is free.

    >>> p = plan(3, ((0, 1), (0,)), (2, 2))
    >>> [s.cause for s in p.steps], p.singles, p.free, p.peak_bits
    ([0], (((1, 1),), ()), (2,), 2.0)
    """
    touched: list[list[tuple[int, int]]] = [[] for _ in range(causes)]
    for digit, members in enumerate(parents):
        for slot, cause in enumerate(members):
            touched[cause].append((digit, slot))
    singles: list[list[tuple[int, int]]] = [[] for _ in parents]
    for cause, links in enumerate(touched):
        if len(links) == 1:
            singles[links[0][0]].append((cause, links[0][1]))
    masks: dict[int, list[int]] = {}
    for cause, links in enumerate(touched):
        if len(links) > 1:
            masks.setdefault(sum(1 << digit for digit, _ in links), []).append(cause)
    steps, peak, total = _steps(_greedy(masks, sizes), masks, touched, sizes)
    shared = 0
    for mask in masks:
        shared |= mask
    return Plan(
        steps,
        tuple(tuple(s) for s in singles),
        tuple(digit for digit in range(len(parents)) if not shared >> digit & 1),
        tuple(cause for cause, links in enumerate(touched) if not links),
        peak,
        total,
    )


def _greedy(masks: dict[int, list[int]], sizes: tuple[int, ...]) -> list[int]:
    """The masks in the order chosen."""
    by_size: dict[int, int] = {}
    for digit, size in enumerate(sizes):
        by_size[size] = by_size.get(size, 0) | 1 << digit
    scales = [(digits, log2(size)) for size, digits in by_size.items()]

    def bits(mask: int) -> float:
        return sum((mask & digits).bit_count() * each for digits, each in scales)

    left, live, order = list(masks), 0, []
    uses = [sum(mask >> digit & 1 for mask in left) for digit in range(len(sizes))]
    last = sum(1 << digit for digit, count in enumerate(uses) if count == 1)
    while left:
        mask = min(left, key=lambda m: bits(m & ~live) - _CLOSING_CREDIT * bits(m & last))
        left.remove(mask)
        order.append(mask)
        live |= mask
        for digit in range(len(sizes)):
            if mask >> digit & 1:
                uses[digit] -= 1
                last = last | 1 << digit if uses[digit] == 1 else last & ~(1 << digit)
        live &= sum(1 << digit for digit, count in enumerate(uses) if count > 0)
    return order


def _steps(
    order: list[int], masks: dict[int, list[int]], touched: list[list[tuple[int, int]]], sizes: tuple[int, ...]
) -> tuple[tuple[Step, ...], float, int]:
    sequence = [cause for mask in order for cause in masks[mask]]
    last_use = {digit: place for place, cause in enumerate(sequence) for digit, _ in touched[cause]}
    live: list[int] = []
    steps, peak, total, size = [], 0.0, 0, 1

    def look(digit: int, slot: int) -> Touch:
        before = 1
        for other in live[: live.index(digit)]:
            before *= sizes[other]
        return Touch(digit, slot, before, sizes[digit], size // before // sizes[digit])

    for place, cause in enumerate(sequence):
        opens = tuple(digit for digit, _ in touched[cause] if digit not in live)
        for digit in opens:
            live.insert(0, digit)
            total += size
            size *= sizes[digit]
        peak, total = max(peak, log2(size)), total + size
        fires = tuple(look(digit, slot) for digit, slot in touched[cause])
        closes = []
        for digit, _ in touched[cause]:
            if last_use[digit] == place:
                closes.append(look(digit, -1))
                live.remove(digit)
                size //= sizes[digit]
        steps.append(Step(cause, opens, fires, tuple(closes)))
    return tuple(steps), peak, total
