"""Quantiles of the t, F and chi-square distributions, for intervals. Plain arithmetic: no package is needed for it.

Incomplete beta by its continued fraction and incomplete gamma by series (Abramowitz & Stegun 26.5.8, 6.5.29);
quantiles by bisection, to about twelve digits.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, fsum, isfinite, lgamma, log, sqrt

__all__ = ["chi2_quantile", "f_quantile", "t_quantile"]

_STEPS, _TINY, _CLOSE = 500, 1e-300, 1e-15


def t_quantile(p: float, df: float) -> float:
    """Quantile of Student's t.

    >>> round(t_quantile(0.975, 10), 3)  # any printed table: 2.228
    2.228
    """
    _check(p, df)
    if p < 0.5:
        return -t_quantile(1 - p, df)
    if p == 0.5:
        return 0.0
    x = _bisect(lambda x: _beta(df / 2, 0.5, x), 2 * (1 - p), 0.0, 1.0)
    return sqrt(df * (1 - x) / x)


def f_quantile(p: float, df1: float, df2: float) -> float:
    """Quantile of F with df1 and df2 degrees of freedom.

    >>> round(f_quantile(0.95, 5, 10), 2)  # any printed table: 3.33
    3.33
    """
    _check(p, df1, df2)
    x = _bisect(lambda x: _beta(df1 / 2, df2 / 2, x), p, 0.0, 1.0)
    return df2 * x / (df1 * (1 - x))


def chi2_quantile(p: float, df: float) -> float:
    """Quantile of chi-square.

    >>> round(chi2_quantile(0.95, 3), 3)  # any printed table: 7.815
    7.815
    """
    _check(p, df)
    high = df + 1.0
    while _gamma(df / 2, high / 2) < p:
        high *= 2
    return _bisect(lambda x: _gamma(df / 2, x / 2), p, 0.0, high)


def _check(p: float, *dfs: float) -> None:
    if not 0 < p < 1 or any(not (isfinite(df) and df > 0) for df in dfs):
        raise ValueError("a quantile needs a chance between 0 and 1 and degrees of freedom above 0")


def _bisect(rising: Callable[[float], float], target: float, low: float, high: float) -> float:
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if rising(middle) < target else (low, middle)
    return (low + high) / 2


def _beta(a: float, b: float, x: float) -> float:
    """Regularized incomplete beta I_x(a, b)."""
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    front = exp(fsum((lgamma(a + b), -lgamma(a), -lgamma(b), a * log(x), b * log(1 - x))))
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(a, b, x) / a
    return 1 - front * _fraction(b, a, 1 - x) / b


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction of the incomplete beta, evaluated forwards (Lentz)."""
    c, d = 1.0, 1 / _away(1 - (a + b) * x / (a + 1))
    total = d
    for m in range(1, _STEPS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for part in (even, odd):
            d, c = 1 / _away(1 + part * d), _away(1 + part / c)
            total *= d * c
        if abs(d * c - 1) < _CLOSE:
            break
    return total


def _away(number: float) -> float:
    return number if abs(number) > _TINY else _TINY


def _gamma(a: float, x: float) -> float:
    """Regularized lower incomplete gamma P(a, x), by its series (every term positive)."""
    if x <= 0:
        return 0.0
    term = total = 1 / a
    n = a
    while term > total * 1e-17:
        n += 1
        term *= x / n
        total += term
    return min(1.0, total * exp(a * log(x) - x - lgamma(a)))
