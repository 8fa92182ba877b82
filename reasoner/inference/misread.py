"""In which level a measured number will be found, given the level the true value is in: the error of measuring.

With the true value D of people measured in this setting as N(mean, sd^2) and a reading d = D + N(0, se^2),

    P(d in level j | D in level l) = average over D in level l of [Phi((t_{j+1} - D)/se) - Phi((t_j - D)/se)]

For what a measure is worth before it is taken; a number once taken is weighed by `graded.level_weights`.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import inf
from statistics import NormalDist

import numpy as np

from reasoner.inference.network import Numbers

__all__ = ["reading_table"]

_POINTS = 200  # equally likely values of D a level
_CLIP = 1e-12


@lru_cache(maxsize=256)
def reading_table(cuts: tuple[float, ...], mean: float, sd: float, se: float) -> Numbers:
    """(K, K): row = level the reading is in, column = level the true value is in; columns sum to 1.

    One cut at the mean, error as large as the spread: d and D correlate by 1/sqrt(2), and two normals that correlate
    by r are on the same side of their means in 1/2 + asin(r)/pi = .75 (Sheppard 1899).

    >>> reading_table((0.0,), 0.0, 1.0, 1.0).round(3).tolist()
    [[0.75, 0.25], [0.25, 0.75]]
    """
    true, error = NormalDist(mean, sd), NormalDist(0.0, se)
    ends = (-inf, *cuts, inf)
    columns = []
    for low, high in pairwise(ends):
        start, stop = true.cdf(low), true.cdf(high)
        shares = start + (stop - start) * (np.arange(_POINTS) + 0.5) / _POINTS
        values = [true.inv_cdf(min(max(float(p), _CLIP), 1 - _CLIP)) for p in shares]
        below = [np.mean([error.cdf(cut - value) for value in values]) for cut in cuts]
        columns.append(np.diff([0.0, *below, 1.0]))
    return np.array(columns).T
