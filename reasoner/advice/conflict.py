"""When the answers of one side fit no combination of hypotheses well: said, with the answer that fits least."""

from __future__ import annotations

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.advice.records import Conflict
from reasoner.inference.conflict import left_alone, surprise
from reasoner.inference.evidence import Reading
from reasoner.inference.kernel import LIMITS

__all__ = ["BEYOND", "FEWEST", "conflict"]

BEYOND = 2.6  # standard deviations: one or two in a hundred patients whom the network describes are that surprising
FEWEST = 6  # answers; with fewer the measure of surprise is too coarse
_MOST_BITS = 12.0  # live bits up to which one row an answer is quick


def conflict(believed: Beliefs, *, side: str | None) -> Conflict | None:
    """None where the answers fit, are too few, too costly to look at, or impossible altogether (said elsewhere)."""
    counted = [place for place, r in enumerate(believed.evidence.readings) if _counts(r)]
    found = believed.posterior
    if len(counted) < FEWEST or found.impossible or found.approximate or found.peak_bits > min(
        _MOST_BITS, LIMITS.live_bits
    ):
        return None
    all_ = surprise(believed.network, believed.evidence, _counts)
    if all_.z < BEYOND:
        return None
    alone = left_alone(believed.network, believed.evidence)
    worst = counted[int(np.argmin(alone[counted]))]
    name = believed.evidence.readings[worst].name
    return Conflict(name, believed.said.get(name, name), float(alone[worst]), all_.z, side)


def _counts(reading: Reading) -> bool:
    """An answer; what was measured or retested has a density and not a chance."""
    return reading.says != (1.0, 1.0)
