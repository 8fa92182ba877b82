"""Pooling of studies by inverse variance: fixed and random effects, heterogeneity, prediction interval, leave-one-out.

Pure numbers. Formulas: DerSimonian and Laird 1986; Paule and Mandel 1982 (the generalised Q equals k - 1); restricted
maximum likelihood by Fisher scoring (Viechtbauer 2005); the interval of Hartung and Knapp 2001 (t with k - 1 degrees
of freedom), never narrower than the usual one (Knapp and Hartung 2003); prediction interval with t and k - 2
(Higgins, Thompson and Spiegelhalter 2009); I^2 of Higgins and Thompson 2002.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum, inf, sqrt
from typing import Literal

from reasoner.measures.distributions import t_quantile

__all__ = ["METHODS", "Method", "Pooled", "Study", "leave_one_out", "pool", "tau2_of"]

Method = Literal["fixed", "dl", "pm", "reml"]
Z975 = 1.959963984540054
_STEPS, _CLOSE = 200, 1e-13


@dataclass(frozen=True, slots=True)
class Study:
    """One study: an effect on the pooling scale (a log for ratios) and its standard error."""

    name: str
    effect: float
    se: float

    @property
    def variance(self) -> float:
        """Sampling variance."""
        return self.se**2


@dataclass(frozen=True, slots=True)
class Pooled:
    """What pooling gives, on the pooling scale. `prediction` is None below three studies and for a fixed effect."""

    method: Method
    effect: float
    se: float
    interval: tuple[float, float]
    hartung_knapp: tuple[float, float] | None
    prediction: tuple[float, float] | None
    tau2: float
    q: float
    df: int
    i2: float  # share of the variance between studies, 0..1
    weights: tuple[float, ...]  # sum to 1, in the order of the studies


def pool(studies: Sequence[Study], method: Method = "reml") -> Pooled:
    """Pool two studies or more. ValueError for fewer, or for a standard error that is not above 0."""
    _check(studies)
    tau2 = tau2_of(studies, method)
    raw = [1 / (s.variance + tau2) for s in studies]
    total = fsum(raw)
    effect = fsum(w * s.effect for w, s in zip(raw, studies, strict=True)) / total
    se = sqrt(1 / total)
    q, df = _q(studies), len(studies) - 1
    wide = _hartung_knapp(studies, raw, effect, se) if method != "fixed" else None
    return Pooled(
        method=method,
        effect=effect,
        se=se,
        interval=(effect - Z975 * se, effect + Z975 * se),
        hartung_knapp=wide,
        prediction=_prediction(effect, se, tau2, len(studies)) if method != "fixed" else None,
        tau2=tau2,
        q=q,
        df=df,
        i2=max(0.0, (q - df) / q) if q > 0 else 0.0,
        weights=tuple(w / total for w in raw),
    )


def _check(studies: Sequence[Study]) -> None:
    if len(studies) < 2:
        raise ValueError("pooling needs two studies or more")
    for study in studies:
        if not 0 < study.se < inf or not -inf < study.effect < inf:
            raise ValueError(f"{study.name}: the standard error must be above 0")


def tau2_of(studies: Sequence[Study], method: Method) -> float:
    """Variance between studies by one of the methods; 0 for a fixed effect."""
    return METHODS[method](studies)


def _mean(studies: Sequence[Study], tau2: float) -> float:
    raw = [1 / (s.variance + tau2) for s in studies]
    return fsum(w * s.effect for w, s in zip(raw, studies, strict=True)) / fsum(raw)


def _q(studies: Sequence[Study], tau2: float = 0.0) -> float:
    """The generalised Q at a between-study variance; Cochran's Q at 0."""
    mean = _mean(studies, tau2)
    return fsum((s.effect - mean) ** 2 / (s.variance + tau2) for s in studies)


def _dersimonian_laird(studies: Sequence[Study]) -> float:
    raw = [1 / s.variance for s in studies]
    spread = fsum(raw) - fsum(w * w for w in raw) / fsum(raw)
    return max(0.0, (_q(studies) - (len(studies) - 1)) / spread)


def _paule_mandel(studies: Sequence[Study]) -> float:
    """Q falls as tau^2 rises, so the root is bracketed and halved."""
    df = len(studies) - 1
    if _q(studies) <= df:
        return 0.0
    low, high = 0.0, 1.0
    while _q(studies, high) > df:
        high *= 2
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if _q(studies, middle) > df else (low, middle)
        if high - low <= _CLOSE * high:
            break
    return (low + high) / 2


def _reml(studies: Sequence[Study]) -> float:
    tau2 = _dersimonian_laird(studies)
    for _ in range(_STEPS):
        raw = [1 / (s.variance + tau2) for s in studies]
        total, squares, cubes = fsum(raw), fsum(w**2 for w in raw), fsum(w**3 for w in raw)
        mean = _mean(studies, tau2)
        rest = fsum((w * (s.effect - mean)) ** 2 for w, s in zip(raw, studies, strict=True))
        trace = squares - 2 * cubes / total + (squares / total) ** 2  # of P P, P the REML projection
        step = (rest - (total - squares / total)) / trace
        new = max(0.0, tau2 + step)
        if abs(new - tau2) <= _CLOSE * max(1.0, tau2):
            return new
        tau2 = new
    return tau2


METHODS: Mapping[Method, Callable[[Sequence[Study]], float]] = {
    "fixed": lambda studies: 0.0,
    "dl": _dersimonian_laird,
    "pm": _paule_mandel,
    "reml": _reml,
}


def _hartung_knapp(studies: Sequence[Study], raw: list[float], effect: float, se: float) -> tuple[float, float]:
    df = len(studies) - 1
    spread = fsum(w * (s.effect - effect) ** 2 for w, s in zip(raw, studies, strict=True)) / df
    half = t_quantile(0.975, df) * se * max(1.0, sqrt(spread))
    return effect - half, effect + half


def _prediction(effect: float, se: float, tau2: float, count: int) -> tuple[float, float] | None:
    if count < 3:
        return None
    half = t_quantile(0.975, count - 2) * sqrt(tau2 + se**2)
    return effect - half, effect + half


def leave_one_out(studies: Sequence[Study], method: Method = "reml") -> tuple[tuple[str, Pooled], ...]:
    """(name left out, pooled without it), in order; empty below three studies."""
    if len(studies) < 3:
        return ()
    return tuple((s.name, pool([o for o in studies if o is not s], method)) for s in studies)
