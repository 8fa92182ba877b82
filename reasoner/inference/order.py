"""In which order to sweep the causes, so that few findings are open at once.

First the leaves are peeled off, again and again: a cause that touches one open finding only is folded into that
finding's start, a finding that one cause only still touches is folded into that cause's pair (off, on). What is left
is swept. A finding's digit need only live from the first to the last cause that touches it; causes are taken greedily
by (bits they open - .9 * bits they close), those with the same findings together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import log2, prod
from typing import NamedTuple

__all__ = ["Closing", "Fold", "Group", "Plan", "Step", "Turn", "plan"]

_CLOSING_CREDIT = 0.9
_GROUP_STATES = 16  # most states of the digits fired by one matrix; 8 and 32 were no quicker


class Group(NamedTuple):
    """Digits fired together, neighbours in the state: the state seen as (before, levels of each.., what follows).

    `slots`: place of the cause among each digit's parents.
    """

    before: int
    levels: tuple[int, ...]
    digits: tuple[int, ...]
    slots: tuple[int, ...]


class Closing(NamedTuple):
    """A digit closed, the state seen as (before, its levels, what follows)."""

    digit: int
    before: int


class Turn(NamedTuple):
    """The state's axes put in another order: seen as `shape`, transposed by `axes`; and back again."""

    shape: tuple[int, ...]
    axes: tuple[int, ...]
    turned: tuple[int, ...]
    back: tuple[int, ...]


class Step(NamedTuple):
    """One cause: the digits it fires come to the front (`turn`; None: they are there), those it opens first of all.

    Then it fires them, group by group, and some are closed.
    """

    cause: int
    turn: Turn | None
    opens: tuple[int, ...]
    groups: tuple[Group, ...]
    closes: tuple[Closing, ...]


class Fold(NamedTuple):
    """A leaf: the cause into the digit's start, or (`into_cause`) the digit into the cause's pair."""

    cause: int
    digit: int
    slot: int
    into_cause: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """Folds in order, then the sweep. `alone`: digits, `free`: causes that nothing is left to meet.

    `heard`: digits whose message the way back needs, for the causes folded into them.
    """

    folds: tuple[Fold, ...]
    steps: tuple[Step, ...]
    alone: tuple[int, ...]
    free: tuple[int, ...]
    heard: frozenset[int]
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
    heard = frozenset(fold.digit for fold in folds if not fold.into_cause)
    return Plan(tuple(folds), steps, alone, free, heard, peak, total)


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

    def cost(mask: int) -> float:
        opened, closed = mask & ~live, mask & last
        return sum(
            each * ((opened & digits).bit_count() - _CLOSING_CREDIT * (closed & digits).bit_count())
            for digits, each in scales
        )

    def alike(mask: int) -> float:  # the same, less a scale, for digits of one size: the usual case, and quicker
        return (mask & ~live).bit_count() - _CLOSING_CREDIT * (mask & last).bit_count()

    key = cost if len(scales) > 1 else alike
    left, live, order = list(masks), 0, []
    uses = {1 << digit: sum(mask >> digit & 1 for mask in left) for digit in range(len(sizes))}
    last = sum(bit for bit, count in uses.items() if count == 1)
    while left:
        mask = min(left, key=key)
        left.remove(mask)
        order.append(mask)
        live |= mask
        for bit in uses:
            if mask & bit:
                uses[bit] -= 1
                if uses[bit] == 1:
                    last |= bit
                elif not uses[bit]:
                    last &= ~bit
                    live &= ~bit
    return order


def _steps(
    order: list[int], masks: dict[int, list[int]], touched: list[dict[int, int]], sizes: tuple[int, ...]
) -> tuple[tuple[Step, ...], float, int]:
    sequence = [cause for mask in order for cause in masks[mask]]
    coming: dict[int, list[int]] = {}  # digit -> places of the causes that still touch it, the next one last
    for place in reversed(range(len(sequence))):
        for digit in touched[sequence[place]]:
            coming.setdefault(digit, []).append(place)
    following = {digit: places.pop() for digit, places in coming.items()}
    live: list[int] = []
    steps, peak, total, size = [], 1, 0, 1
    for cause in sequence:
        slots = touched[cause]
        for digit in slots:
            following[digit] = coming[digit].pop() if coming[digit] else -1
        known = [digit for digit in live if digit in slots]
        rest = [digit for digit in live if digit not in slots]
        wanted = live
        if live[: len(known)] != known:  # soonest needed first: the next turn then moves long runs
            wanted = [*sorted(known, key=following.__getitem__), *sorted(rest, key=following.__getitem__)]
        turn = _turn(live, wanted, sizes)
        known = wanted[: len(known)]
        opens = tuple(digit for digit in slots if digit not in known)
        for digit in opens:
            total += size
            size *= sizes[digit]
        front = [*reversed(opens), *known]
        live = [*reversed(opens), *wanted]
        peak, total = max(peak, size), total + size
        groups = _groups(front, slots, sizes)
        closes = []
        for digit in front:
            if following[digit] < 0:
                before = prod(sizes[other] for other in live[: live.index(digit)])
                closes.append(Closing(digit, before))
                live.remove(digit)
                size //= sizes[digit]
        steps.append(Step(cause, turn, opens, groups, tuple(closes)))
    return tuple(steps), log2(peak), total


def _turn(live: list[int], wanted: list[int], sizes: tuple[int, ...]) -> Turn | None:
    """From one order of the live digits to another; digits that stay neighbours are moved as one axis."""
    if live == wanted:
        return None
    place = {digit: k for k, digit in enumerate(live)}
    first: list[int] = []  # place where a run of neighbours begins, runs in the order wanted
    turned: list[int] = []
    following = -1
    for digit in wanted:
        at = place[digit]
        if at == following:
            turned[-1] *= sizes[digit]
        else:
            first.append(at)
            turned.append(sizes[digit])
        following = at + 1
    runs = range(len(first))
    back = sorted(runs, key=first.__getitem__)
    return Turn(
        tuple([turned[run] for run in back]), tuple(sorted(runs, key=back.__getitem__)), tuple(turned), tuple(back)
    )


def _groups(front: list[int], slots: dict[int, int], sizes: tuple[int, ...]) -> tuple[Group, ...]:
    """The digits at the front, as many to a group as one matrix is good for."""
    ends: list[tuple[int, int]] = []  # (states before, first digit) of each group
    before, states = 1, _GROUP_STATES
    for k, digit in enumerate(front):
        if states * sizes[digit] > _GROUP_STATES:
            ends.append((before, k))
            states = 1
        states *= sizes[digit]
        before *= sizes[digit]
    groups = []
    for (ahead, first), (_, end) in pairwise([*ends, (before, len(front))]):
        digits = front[first:end]
        levels, places = tuple([sizes[d] for d in digits]), tuple([slots[d] for d in digits])
        groups.append(Group(ahead, levels, tuple(digits), places))
    return tuple(groups)
