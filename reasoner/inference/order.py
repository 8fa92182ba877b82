"""In which order to sweep the causes, so that few findings are open at once.

First the leaves are peeled off, again and again: a cause that touches one open finding only is folded into that
finding's start, a finding that one cause only still touches is folded into that cause's pair (off, on). What is left
is swept. A finding's digit need only live from the first to the last cause that touches it; causes are taken greedily
by (bits they open - .9 * bits they close), those with the same findings together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import log2

__all__ = ["Fold", "Plan", "Step", "Touch", "plan"]

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
class Fold:
    """A leaf: the cause into the digit's start, or (`into_cause`) the digit into the cause's pair."""

    cause: int
    digit: int
    slot: int
    into_cause: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """Folds in order, then the sweep. `alone`: digits, `free`: causes that nothing is left to meet."""

    folds: tuple[Fold, ...]
    steps: tuple[Step, ...]
    alone: tuple[int, ...]
    free: tuple[int, ...]
    peak_bits: float
    total_size: int  # states kept during the forward sweep, for sizing chunks


@lru_cache(maxsize=512)
def plan(causes: int, parents: tuple[tuple[int, ...], ...], sizes: tuple[int, ...]) -> Plan:
    """The order for `causes` causes and digits with these parents and numbers of levels.

    A tree is peeled to nothing; a ring of three findings is swept with all three open:

    >>> tree = plan(3, ((0, 1), (0,)), (2, 2))
    >>> len(tree.folds), tree.steps, tree.free, tree.peak_bits
    (3, (), (2,), 0.0)
    >>> ring = plan(3, ((0, 1), (1, 2), (0, 2)), (2, 2, 2))
    >>> [s.cause for s in ring.steps], ring.peak_bits
    ([0, 1, 2], 3.0)
    """
    touched: list[dict[int, int]] = [{} for _ in range(causes)]
    for digit, members in enumerate(parents):
        for slot, cause in enumerate(members):
            touched[cause][digit] = slot
    folds, alone, free = _peel(touched, [set(members) for members in parents])
    masks: dict[int, list[int]] = {}
    for cause, links in enumerate(touched):
        if links:
            masks.setdefault(sum(1 << digit for digit in links), []).append(cause)
    steps, peak, total = _steps(_greedy(masks, sizes), masks, touched, sizes)
    return Plan(tuple(folds), steps, alone, free, peak, total)


def _peel(
    touched: list[dict[int, int]], meets: list[set[int]]
) -> tuple[list[Fold], tuple[int, ...], tuple[int, ...]]:
    """Take leaves off until none is left; `touched` keeps what must be swept. Returns folds, lone digits and causes."""
    folds: list[Fold] = []
    folded_causes: set[int] = set()
    folded_digits: set[int] = set()
    before = -1
    while len(folds) != before:
        before = len(folds)
        for digit, members in enumerate(meets):
            if len(members) == 1 and digit not in folded_digits:
                cause = members.pop()
                folds.append(Fold(cause, digit, touched[cause].pop(digit), into_cause=True))
                folded_digits.add(digit)
        for cause, links in enumerate(touched):
            if len(links) == 1:
                digit, slot = links.popitem()
                meets[digit].discard(cause)
                folds.append(Fold(cause, digit, slot, into_cause=False))
                folded_causes.add(cause)
    alone = tuple(d for d, members in enumerate(meets) if not members and d not in folded_digits)
    free = tuple(c for c, links in enumerate(touched) if not links and c not in folded_causes)
    return folds, alone, free


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
    order: list[int], masks: dict[int, list[int]], touched: list[dict[int, int]], sizes: tuple[int, ...]
) -> tuple[tuple[Step, ...], float, int]:
    sequence = [cause for mask in order for cause in masks[mask]]
    last_use = {digit: place for place, cause in enumerate(sequence) for digit in touched[cause]}
    live: list[int] = []
    steps, peak, total, size = [], 0.0, 0, 1

    def look(digit: int, slot: int) -> Touch:
        before = 1
        for other in live[: live.index(digit)]:
            before *= sizes[other]
        return Touch(digit, slot, before, sizes[digit], size // before // sizes[digit])

    for place, cause in enumerate(sequence):
        opens = tuple(digit for digit in touched[cause] if digit not in live)
        for digit in opens:
            live.insert(0, digit)
            total += size
            size *= sizes[digit]
        peak, total = max(peak, log2(size)), total + size
        fires = tuple(look(digit, slot) for digit, slot in touched[cause].items())
        closes = []
        for digit in touched[cause]:
            if last_use[digit] == place:
                closes.append(look(digit, -1))
                live.remove(digit)
                size //= sizes[digit]
        steps.append(Step(cause, opens, fires, tuple(closes)))
    return tuple(steps), peak, total
