"""An option's response figures drawn from their intervals, and its value in every draw."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Effect, Measure
from reasoner.inference.draws import stream, triangular
from reasoner.inference.judged import judged
from reasoner.inference.network import Numbers
from reasoner.options.value import Response, beyond_drift, chance_if_hold, chance_if_touch, true_spread

__all__ = ["ResponseDraws", "response_draws", "value_draws"]


@dataclass(frozen=True, eq=False)
class ResponseDraws:
    """The same figures drawn from their intervals, each (count,)."""

    contact_c: Numbers
    target_c: Numbers
    share_if_hold: Numbers
    share_if_touch: Numbers


# they depend on no case, so the last few packs' are kept; records cannot be hashed and are found by identity
_KEPT: deque[tuple[Knowledge, dict[tuple[str, str, int, int, int], ResponseDraws | None]]] = deque(maxlen=4)


def response_draws(
    effect: Effect, knowledge: Knowledge, targets: int, seed: int, name: str, count: int
) -> ResponseDraws | None:
    """Figures of an effect of the option `name` drawn `count` times; None where neither figures nor words are stated.

    `targets`: how many hypotheses it acts on. Drawn once a pack and kept.
    """
    known = next((drawn for pack, drawn in _KEPT if pack is knowledge), None)
    if known is None:
        known = {}
        _KEPT.append((knowledge, known))
    key = (name, effect.sign, targets, seed, count)
    if key not in known:
        known[key] = _response_draws(effect, knowledge, targets, stream(seed, f"option {name}"), count)
    return known[key]


def _response_draws(
    effect: Effect, knowledge: Knowledge, targets: int, rng: np.random.Generator, count: int
) -> ResponseDraws | None:
    """The drawing itself.

    Words and judgements vary within their intervals, and so does the smallest worthwhile change. A trial's gain and SD
    stay as printed: how many took part is not in the record.
    """
    policy, measure = knowledge.policy, knowledge.measures[effect.sign]
    p1, share_hold = chance_if_hold(effect, measure, knowledge)
    if p1 is None:
        return None
    p0, share_touch = chance_if_touch(effect, measure, knowledge)
    large, small = rng.random(count), rng.random(count)
    whole = _worthwhile_draws(measure, knowledge, rng.random(count))
    with_gain = effect.gain is not None and effect.sd is not None and measure.drift is not None
    with_sham = effect.sham is not None and effect.sham_sd is not None and measure.drift is not None
    p1s = np.full(count, p1) if with_gain else _chance_draws(effect.p1, p1, effect.basis, knowledge, large)
    p0s = np.full(count, p0) if with_sham else _chance_draws(effect.p0, p0, effect.basis, knowledge, small)
    p0s = np.maximum(p0s, policy.least_p0)
    contact = np.clip((p0s - policy.contact_leak) / ((1 - policy.contact_leak) * policy.contact_base_rate), 0.0, 0.95)
    target = np.maximum(0.0, 1 - (1 - p1s) / (1 - p0s)) if targets else np.zeros(count)
    hold, touch = np.full(count, share_hold), np.full(count, share_touch)
    if with_gain:
        assert effect.gain is not None
        hold = np.array([beyond_drift(effect.gain, true_spread(effect, measure), measure, w)[1] for w in whole])
    if with_sham:
        assert effect.sham is not None
        assert effect.sham_sd is not None
        touch = np.array([beyond_drift(effect.sham, effect.sham_sd, measure, w)[1] for w in whole])
    return ResponseDraws(contact, target, hold, touch)


def value_draws(figures: Response, drawn: ResponseDraws, silent: Numbers, silent_if_touch: Numbers) -> Numbers:
    """Value in every draw, (count,), from the chances of no response but for the leak."""
    hold = (1 - (1 - figures.leak) * silent) * drawn.share_if_hold
    touch = (1 - (1 - figures.leak) * silent_if_touch) * drawn.share_if_touch
    return figures.weight * hold + (1 - figures.weight) * touch


def _chance_draws(
    stated: str | float | None, value: float, basis: str, knowledge: Knowledge, level: Numbers
) -> Numbers:
    """A chance within its word's range, or within what a judgement may be off by; as it stands if published."""
    if isinstance(stated, str):
        ends: tuple[float, float] | None = knowledge.words[stated][1]
    else:
        ends = judged(knowledge, value, basis if stated is not None else knowledge.policy.basis)
    return np.full(level.shape, value) if ends is None else triangular(np.array(ends), np.array(value), level)


def _worthwhile_draws(measure: Measure, knowledge: Knowledge, level: Numbers) -> list[float | None]:
    if measure.worthwhile is None:
        return [None] * level.size
    value, ends = knowledge.number(measure.worthwhile), knowledge.interval(measure.worthwhile)
    if ends is None:
        return [value] * level.size
    drawn = triangular(np.array([min(ends[0], value), max(ends[1], value)]), np.array(value), level)
    return [float(w) for w in drawn]
