"""The frontier recursion: one sweep over the causes and one back, exact, adding only positive terms.

State: for every live digit the highest level reached so far; value: its joint weight. Forward, cause i:

    open new digits j          a <- start_j (x) a              start_j: the leak and folded causes
    a <- off_i * a + on_i * fire_i(a)
    close finished digits j    a <- sum over levels of weight_j(l) * a[j = l]

Backward runs the transposes, and P(i) = on_i * sum(a_before * unfire_i(b)). Each close rescales a row by its sum s
(log s adds up to log P(evidence)) and the way back divides by the same s, so nothing underflows and no final
division is needed. A row with s = 0 is impossible evidence. Leaves (see `order.py`) are folded before the sweep and
unfolded after it by the same two products, on one digit's vector.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reasoner.inference.firing import Firing, firings, lone
from reasoner.inference.network import Numbers
from reasoner.inference.order import Fold, Plan, Step
from reasoner.inference.rows import Digit, Rows

__all__ = ["Swept", "evidence_log", "sweep"]


@dataclass(frozen=True, eq=False)
class Swept:
    """chance: (n, R); log: (R,), log P(evidence)."""

    chance: Numbers
    log: Numbers


def sweep(rows: Rows, plan: Plan) -> Swept:
    """Marginals and log P(evidence) of every row."""
    work = _Work(
        rows.digits, list(rows.off), list(rows.on), [d.start for d in rows.digits], rows.log.copy(), rows.count
    )
    folded = [_fold(work, fold) for fold in plan.folds]
    kept = _forward(work, plan)
    chance = np.empty((len(work.off), rows.count))
    for cause in plan.free:
        chance[cause] = work.on[cause]
    messages = _backward(work, plan, kept, chance)
    for digit in plan.alone:
        messages[digit] = _alone(work, digit)
    for fold, was in zip(reversed(plan.folds), reversed(folded), strict=True):
        _unfold(work, fold, was, messages, chance, plan.heard)
    return Swept(chance, work.log)


def evidence_log(rows: Rows, plan: Plan) -> Numbers:
    """log P(evidence) of every row, (R,), without the way back: about half the work of `sweep`."""
    work = _Work(
        rows.digits, list(rows.off), list(rows.on), [d.start for d in rows.digits], rows.log.copy(), rows.count
    )
    for fold in plan.folds:
        _fold(work, fold)
    _forward(work, plan, keep=False)
    for digit in plan.alone:
        _alone(work, digit)
    return work.log


@dataclass(eq=False)
class _Work:
    """Pairs (off, on) and starts as they stand while leaves are folded; log collects every factor taken out."""

    digits: tuple[Digit, ...]
    off: list[Numbers]
    on: list[Numbers]
    starts: list[Numbers]
    log: Numbers
    count: int


# ------------------------------------------------------------------------------------------------ leaves


def _fold(work: _Work, fold: Fold) -> tuple[Numbers, Numbers, Numbers]:
    """Fold one leaf; returns what the way back needs: the digit's start before, and its share off and on."""
    digit, start = work.digits[fold.digit], work.starts[fold.digit]
    off, on = work.off[fold.cause], work.on[fold.cause]
    fired = lone(digit, fold.slot, start, back=False)
    if not fold.into_cause:
        work.starts[fold.digit] = off * start + on * fired
        return start, off, on
    share_off, share_on = (start * digit.weights).sum(axis=0), (fired * digit.weights).sum(axis=0)
    off, on = off * share_off, on * share_on
    total = off + on
    work.log += _log(total)
    total = np.where(total > 0, total, 1.0)
    work.off[fold.cause], work.on[fold.cause] = off / total, on / total
    return start, share_off, share_on


def _unfold(
    work: _Work,
    fold: Fold,
    was: tuple[Numbers, Numbers, Numbers],
    messages: dict[int, Numbers],
    chance: Numbers,
    heard: frozenset[int],
) -> None:
    """Undo a fold: the folded cause's marginal, or the folded digit's message from its cause's marginal."""
    digit = work.digits[fold.digit]
    if fold.into_cause:
        _, share_off, share_on = was
        if fold.digit not in heard:
            return
        present = chance[fold.cause]
        silent = (1.0 - present) / np.where(share_off > 0, share_off, np.inf)
        loud = present / np.where(share_on > 0, share_on, np.inf)
        messages[fold.digit] = silent * digit.weights + loud * lone(digit, fold.slot, digit.weights, back=True)
        return
    start, off, on = was
    message = messages[fold.digit]
    lit = on * lone(digit, fold.slot, message, back=True)
    chance[fold.cause] = (start * lit).sum(axis=0)
    messages[fold.digit] = off * message + lit


def _alone(work: _Work, digit: int) -> Numbers:
    """A digit that no cause is left to touch: its share of P(evidence) is taken here; returns its message."""
    weights = work.digits[digit].weights
    whole = (work.starts[digit] * weights).sum(axis=0)
    work.log += _log(whole)
    return np.asarray(weights / np.where(whole > 0, whole, 1.0))


def _log(value: Numbers) -> Numbers:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(value))


# ------------------------------------------------------------------------------------------------ forward


@dataclass(eq=False, slots=True)
class _Kept:
    """What the way back needs of one step: states before each opening, the state before the cause, the scale."""

    opening: list[Numbers]
    before: Numbers
    fire: Firing
    scale: Numbers | None


def _forward(work: _Work, plan: Plan, *, keep: bool = True) -> list[_Kept]:
    """The sweep; `keep`: what the way back needs is returned."""
    state = np.ones((1, work.count))
    kept = []
    for step, fire in zip(plan.steps, firings(plan, work.digits, work.count), strict=True):
        opening = []
        if step.turn is not None:
            state = _turned(state, step.turn.shape, step.turn.axes)
        for digit in step.opens:
            opening.append(state)
            state = (work.starts[digit][:, None, :] * state[None]).reshape(-1, work.count)
        before, scale = state, None
        state = fire.forth(before)
        state *= work.on[step.cause]
        state += before * work.off[step.cause]
        if step.closes:
            state = _close(work, step, state)
            scale = state.sum(axis=0)
            work.log += _log(scale)
            scale[scale == 0] = 1.0
            state /= scale
        if keep:
            kept.append(_Kept(opening, before, fire, scale))
    return kept


def _turned(state: Numbers, shape: tuple[int, ...], axes: tuple[int, ...]) -> Numbers:
    """The state (S, R) with the axes it is seen to have in another order."""
    count = state.shape[-1]
    return state.reshape(*shape, count).transpose(*axes, len(axes)).reshape(-1, count)


def _close(work: _Work, step: Step, state: Numbers) -> Numbers:
    for closing in step.closes:
        weights = work.digits[closing.digit].weights
        view = state.reshape(closing.before, len(weights), -1, work.count)
        shrunk = view[:, 0] * weights[0]
        for level in range(1, len(weights)):
            shrunk += view[:, level] * weights[level]
        state = shrunk.reshape(-1, work.count)
    return state


# ------------------------------------------------------------------------------------------------ backward


def _backward(work: _Work, plan: Plan, kept: list[_Kept], chance: Numbers) -> dict[int, Numbers]:
    """Fill in the marginals of the swept causes; return the messages (K, R) of opened digits that are heard."""
    state = np.ones((1, work.count))
    messages: dict[int, Numbers] = {}
    for step, was in zip(reversed(plan.steps), reversed(kept), strict=True):
        if was.scale is not None:
            state = state / was.scale
        for closing in reversed(step.closes):
            weights = work.digits[closing.digit].weights
            view = state.reshape(closing.before, 1, -1, work.count)
            state = (view * weights[None, :, None, :]).reshape(-1, work.count)
        moved = was.fire.back(state)
        moved *= work.on[step.cause]
        chance[step.cause] = _dot(was.before, moved)
        state = state * work.off[step.cause]
        state += moved
        for digit, opened in zip(reversed(step.opens), reversed(was.opening), strict=True):
            start = work.starts[digit]
            levels = state.reshape(start.shape[0], -1, work.count)
            if digit in plan.heard:
                messages[digit] = np.stack([_dot(opened, part) for part in levels])
            state = levels[0] * start[0]
            for level in range(1, start.shape[0]):
                state += levels[level] * start[level]
        if step.turn is not None:
            state = _turned(state, step.turn.turned, step.turn.back)
    return messages


def _dot(left: Numbers, right: Numbers) -> Numbers:
    """Sum over states, row by row."""
    if left.shape[1] == 1:
        return np.asarray(np.dot(left.T, right)[0])
    return np.asarray(np.einsum("sr,sr->r", left, right))
