"""What a cause that is present does to the digits it touches: each is pushed up to the level the cause reaches.

On one digit that is a lower triangular matrix whose columns agree below the diagonal (`Digit.moves`). Where all rows
share them, and few states are open, the matrices of several digits are multiplied out (Kronecker product) and fired at
once; else digit by digit. Both only add positive terms.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from reasoner.inference.network import Numbers
from reasoner.inference.order import Group, Plan
from reasoner.inference.rows import Digit

__all__ = ["Firing", "firings", "lone"]

# states * rows up to which matrices pay: on larger ones numpy's BLAS starts threads, and firing one by one is as quick
_MATRIX_STATES = 1 << 14


@dataclass(eq=False, slots=True)
class Firing:
    """One step's cause upon its digits. matrices: one a group, (size, size); None: digit by digit."""

    groups: tuple[Group, ...]
    matrices: Sequence[Numbers | None]
    digits: Sequence[Digit]

    def forth(self, state: Numbers) -> Numbers:
        """A new state (S, R), fired."""
        return self._through(state, back=False)

    def back(self, state: Numbers) -> Numbers:
        """A new state (S, R) by the transpose of `forth`."""
        return self._through(state, back=True)

    def _through(self, state: Numbers, *, back: bool) -> Numbers:
        shape, given = state.shape, state
        for group, matrix in zip(self.groups, self.matrices, strict=True):
            if matrix is not None:
                seen = state.reshape(group.before, matrix.shape[0], -1)
                state = np.matmul(matrix.T if back else matrix, seen).reshape(shape)
                continue
            if state is given:
                state = state.copy()
            before = group.before
            for levels, digit, slot in zip(group.levels, group.digits, group.slots, strict=True):
                view = state.reshape(before, levels, -1, shape[-1])
                (_unfire if back else _fire)(view, self.digits[digit].moves[slot])
                before *= levels
        return state


def firings(plan: Plan, digits: Sequence[Digit], rows: int) -> Iterator[Firing]:
    """What each step's cause does, to so many rows."""
    groups = [group for step in plan.steps for group in step.groups]
    small = rows * 2**plan.peak_bits <= _MATRIX_STATES
    made = _matrices(groups, digits) if small else [None] * len(groups)
    first = 0
    for step in plan.steps:
        end = first + len(step.groups)
        yield Firing(step.groups, made[first:end], digits)
        first = end


def _matrices(groups: Sequence[Group], digits: Sequence[Digit]) -> list[Numbers | None]:
    """Each group's digits as one matrix, None where rows differ. Groups of one shape are worked out together."""
    made: list[Numbers | None] = [None] * len(groups)
    vary = {k for k, digit in enumerate(digits) if digit.moves.shape[3] != 1}
    alike: dict[tuple[int, ...], list[int]] = {}
    for place, group in enumerate(groups):
        if vary.isdisjoint(group.digits):
            alike.setdefault(group.levels, []).append(place)
    tables = _tables(digits)
    for levels, places in alike.items():
        whole = np.ones((len(places), 1, 1))
        for at, each in enumerate(levels):
            table, first = tables[each]
            one = table[[first[groups[place].digits[at]] + groups[place].slots[at] for place in places]]
            size = whole.shape[1] * each
            whole = (whole[:, :, None, :, None] * one[:, None, :, None, :]).reshape(-1, size, size)
        for place, matrix in zip(places, whole, strict=True):
            made[place] = matrix
    return made


def _tables(digits: Sequence[Digit]) -> dict[int, tuple[Numbers, dict[int, int]]]:
    """Levels -> moves of all such digits that rows share, (.., K, K), and where in it each digit's begin."""
    found: dict[int, tuple[list[Numbers], dict[int, int]]] = {}
    for k, digit in enumerate(digits):
        _, levels, _, rows = digit.moves.shape
        if rows == 1:
            parts, first = found.setdefault(levels, ([], {}))
            first[k] = sum(map(len, parts))
            parts.append(digit.moves[:, :, :, 0])
    return {levels: (np.concatenate(parts), first) for levels, (parts, first) in found.items()}


def lone(digit: Digit, slot: int, vector: Numbers, *, back: bool) -> Numbers:
    """A digit's own vector (K, R or 1) fired, or `back`: by the transpose."""
    moves = digit.moves[slot]
    wide = max(vector.shape[-1], moves.shape[-1])
    state = np.array(np.broadcast_to(vector, (vector.shape[0], wide)))[None, :, None, :]
    (_unfire if back else _fire)(state, moves)
    return np.asarray(state[0, :, 0, :])


def _fire(state: Numbers, moves: Numbers) -> None:
    """Push a digit up in place. state: (before, K, after, R); moves: (K, K, R or 1)."""
    levels = state.shape[1]
    if levels == 2:
        risen = state[:, 0] * moves[1, 0]
        state[:, 1] += risen
        state[:, 0] *= moves[0, 0]
        return
    below = state[:, 0].copy()
    state[:, 0] *= moves[0, 0]
    for level in range(1, levels):
        risen = below * moves[level, 0]
        if level < levels - 1:
            below += state[:, level]
            state[:, level] *= moves[level, level]
        state[:, level] += risen


def _unfire(state: Numbers, moves: Numbers) -> None:
    """The transpose of `_fire`, in place."""
    levels = state.shape[1]
    above = state[:, levels - 1] * moves[levels - 1, 0]
    for level in range(levels - 2, -1, -1):
        share = state[:, level] * moves[level, 0] if level else None
        state[:, level] *= moves[level, level]
        state[:, level] += above
        if share is not None:
            above += share
