"""The frontier recursion: one sweep over the causes and one back, exact, adding only positive terms.

State: for every live digit the highest level reached so far; value: its joint weight. Forward, cause i:

    open new digits j          a <- start_j (x) a              start_j: leak and folded single causes
    a <- off_i * a + on_i * fire_i(a)
    close finished digits j    a <- sum over levels of weight_j(l) * a[j = l]

Backward runs the transposes, and P(i) = on_i * sum(a_before * unfire_i(b)). Each close rescales a row by its sum s
(log s adds up to log P(evidence)) and the way back divides by the same s, so nothing underflows and no final
division is needed. A row with s = 0 is impossible evidence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reasoner.inference.network import Numbers
from reasoner.inference.order import Plan, Step
from reasoner.inference.rows import Digit, Rows

__all__ = ["Swept", "fire", "sweep", "unfire"]


@dataclass(frozen=True, eq=False)
class Swept:
    """chance: (n, R); log: (R,), log P(evidence); impossible: (R,)."""

    chance: Numbers
    log: Numbers


def sweep(rows: Rows, plan: Plan) -> Swept:
    """Marginals and log P(evidence) of every row."""
    chance = np.empty((rows.off.shape[0], rows.count))
    log = rows.log.copy()
    starts, chains = _starts(rows, plan)
    kept = _forward(rows, plan, starts, log)
    messages = _backward(rows, plan, starts, kept, chance)
    for digit in plan.alone:
        messages[digit] = _alone(rows.digits[digit], starts[digit], log)
    for digit, singles in enumerate(plan.singles):
        _unfold(rows, rows.digits[digit], singles, chains[digit], messages[digit], chance)
    for cause in plan.free:
        chance[cause] = rows.on[cause]
    return Swept(chance, log)


# ------------------------------------------------------------------------------------------------ one digit


def fire(state: Numbers, stay: Numbers, push: Numbers) -> None:
    """Push a digit up in place. state: (before, K, after, R); stay, push: (K, R or 1).

    A digit at l stays with stay(l) and goes from any lower level to l with push(l).
    """
    levels = state.shape[1]
    if levels == 2:
        risen = state[:, 0] * push[1]
        state[:, 1] += risen
        state[:, 0] *= stay[0]
        return
    below = state[:, 0].copy()
    state[:, 0] *= stay[0]
    for level in range(1, levels):
        risen = below * push[level]
        if level < levels - 1:
            below += state[:, level]
            state[:, level] *= stay[level]
        state[:, level] += risen


def unfire(state: Numbers, stay: Numbers, push: Numbers) -> None:
    """The transpose of `fire`, in place."""
    levels = state.shape[1]
    above = state[:, levels - 1] * push[levels - 1]
    for level in range(levels - 2, -1, -1):
        share = state[:, level] * push[level] if level else None
        state[:, level] *= stay[level]
        state[:, level] += above
        if share is not None:
            above += share


# ------------------------------------------------------------------------------------------------ forward


def _starts(rows: Rows, plan: Plan) -> tuple[list[Numbers], list[list[Numbers]]]:
    """For each digit its start (K, R or 1) with single causes folded in, and the stages before each of them."""
    starts, chains = [], []
    for digit, singles in zip(rows.digits, plan.singles, strict=True):
        stage, stages = digit.start, []
        for cause, slot in singles:
            stages.append(stage)
            stage = _mix(rows, digit, cause, slot, stage, back=False)
        starts.append(stage)
        chains.append(stages)
    return starts, chains


def _mix(rows: Rows, digit: Digit, cause: int, slot: int, vector: Numbers, *, back: bool) -> Numbers:
    """off * vector + on * fired vector, for one digit's own vector (K, R or 1)."""
    off, on = rows.off[cause], rows.on[cause]
    wide = max(vector.shape[-1], digit.stay.shape[-1])
    moved = np.array(np.broadcast_to(vector, (vector.shape[0], wide)))[None, :, None, :]
    (unfire if back else fire)(moved, digit.stay[slot], digit.push[slot])
    return np.asarray(off * vector + on * moved[0, :, 0, :])


@dataclass(frozen=True, eq=False)
class _Kept:
    """What the way back needs of one step: states before each opening, the state before the cause, the scale."""

    opening: list[Numbers]
    before: Numbers
    scale: Numbers | None


def _forward(rows: Rows, plan: Plan, starts: list[Numbers], log: Numbers) -> list[_Kept]:
    state = np.ones((1, rows.count))
    kept = []
    for step in plan.steps:
        opening = []
        for digit in step.opens:
            opening.append(state)
            state = (starts[digit][:, None, :] * state[None]).reshape(-1, rows.count)
        before, scale = state, None
        state = before * rows.on[step.cause]
        for touch in step.fires:
            digit_ = rows.digits[touch.digit]
            view = state.reshape(touch.before, touch.levels, touch.after, rows.count)
            fire(view, digit_.stay[touch.slot], digit_.push[touch.slot])
        state += before * rows.off[step.cause]
        if step.closes:
            state = _close(rows, step, state)
            scale = state.sum(axis=0)
            with np.errstate(divide="ignore"):
                log += np.log(scale)
            scale[scale == 0] = 1.0
            state /= scale
        kept.append(_Kept(opening, before, scale))
    return kept


def _close(rows: Rows, step: Step, state: Numbers) -> Numbers:
    for touch in step.closes:
        weights = rows.digits[touch.digit].weights
        view = state.reshape(touch.before, touch.levels, touch.after, rows.count)
        shrunk = view[:, 0] * weights[0]
        for level in range(1, touch.levels):
            shrunk += view[:, level] * weights[level]
        state = shrunk.reshape(-1, rows.count)
    return state


# ------------------------------------------------------------------------------------------------ backward


def _backward(
    rows: Rows, plan: Plan, starts: list[Numbers], kept: list[_Kept], chance: Numbers
) -> dict[int, Numbers]:
    """Fill in the marginals of the shared causes; return for each opened digit its message (K, R)."""
    state = np.ones((1, rows.count))
    messages: dict[int, Numbers] = {}
    for step, was in zip(reversed(plan.steps), reversed(kept), strict=True):
        if was.scale is not None:
            state = state / was.scale
        for touch in reversed(step.closes):
            weights = rows.digits[touch.digit].weights
            view = state.reshape(touch.before, 1, touch.after, rows.count)
            state = (view * weights[None, :, None, :]).reshape(-1, rows.count)
        moved = state * rows.on[step.cause]
        for touch in step.fires:
            digit = rows.digits[touch.digit]
            view = moved.reshape(touch.before, touch.levels, touch.after, rows.count)
            unfire(view, digit.stay[touch.slot], digit.push[touch.slot])
        chance[step.cause] = _dot(was.before, moved)
        state = state * rows.off[step.cause]
        state += moved
        for digit_, opened in zip(reversed(step.opens), reversed(was.opening), strict=True):
            levels = starts[digit_].shape[0]
            view = state.reshape(levels, -1, rows.count)
            messages[digit_] = np.stack([_dot(opened, view[level]) for level in range(levels)])
            state = view[0] * starts[digit_][0]
            for level in range(1, levels):
                state += view[level] * starts[digit_][level]
    return messages


def _dot(left: Numbers, right: Numbers) -> Numbers:
    """Sum over states, row by row."""
    return np.asarray(np.einsum("sr,sr->r", left, right))


def _alone(digit: Digit, start: Numbers, log: Numbers) -> Numbers:
    """A digit no shared cause touches: its share of P(evidence) is taken here; returns its message."""
    whole = (start * digit.weights).sum(axis=0)
    with np.errstate(divide="ignore"):
        log += np.log(whole)
    return np.asarray(digit.weights / np.where(whole > 0, whole, 1.0))


def _unfold(
    rows: Rows,
    digit: Digit,
    singles: tuple[tuple[int, int], ...],
    stages: list[Numbers],
    message: Numbers,
    chance: Numbers,
) -> None:
    """Marginals of the causes folded into one digit's start."""
    for (cause, slot), stage in zip(reversed(singles), reversed(stages), strict=True):
        wide = max(message.shape[-1], digit.stay.shape[-1])
        moved = np.array(np.broadcast_to(message, (message.shape[0], wide)))[None, :, None, :]
        unfire(moved, digit.stay[slot], digit.push[slot])
        present = rows.on[cause] * moved[0, :, 0, :]
        chance[cause] = (stage * present).sum(axis=0)
        message = rows.off[cause] * message + present
