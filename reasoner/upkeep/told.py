"""A pooled result in words: every interval with what it means, and what would change if one study were left out."""

from __future__ import annotations

from math import exp
from typing import Any

from reasoner.upkeep.pooling import Pooled
from reasoner.upkeep.studies import Studies

__all__ = ["pooled_lines", "pooled_plain"]

_NAMES = {
    "fixed": "fixed effect",
    "dl": "random effects, DerSimonian-Laird",
    "pm": "random effects, Paule-Mandel",
    "reml": "random effects, restricted maximum likelihood",
}


def _value(studies: Studies, value: float) -> float:
    return exp(value) if studies.is_ratio else value


def _ends(studies: Studies, ends: tuple[float, float] | None) -> list[float] | None:
    return None if ends is None else [_value(studies, e) for e in ends]


def pooled_lines(studies: Studies, found: Pooled, without: tuple[tuple[str, Pooled], ...]) -> list[str]:
    """For a screen, under the forest plot."""
    unit = f" {studies.unit}" if studies.unit else ""

    def told(ends: tuple[float, float]) -> str:
        return f"{_value(studies, ends[0]):.3g} to {_value(studies, ends[1]):.3g}{unit}"

    lines = ["", f"{_NAMES[found.method]}, {len(found.weights)} studies: {_value(studies, found.effect):.3g}{unit}"]
    lines.append(f"  95 % interval                     {told(found.interval)}")
    if found.hartung_knapp is not None:
        lines.append(f"  95 % interval, Hartung-Knapp      {told(found.hartung_knapp)}")
    if found.prediction is not None:
        lines.append(f"  where a next study would lie      {told(found.prediction)}")
    lines.append(f"  Q {found.q:.2f} on {found.df}, I2 {found.i2 * 100:.0f} %, tau2 {found.tau2:.4g}")
    if found.i2 > 0.5:
        lines.append("  The studies differ by more than chance: ask why before using one number.")
    for name, one in without:
        lines.append(f"  without {name[:24]:<24} {_value(studies, one.effect):.3g} ({told(one.interval)})")
    lines += ["", "How each number was come by:", *(f"  {said}" for said in studies.said)]
    lines += ["", "Filed nowhere. To let it count: reasoner knowledge add evidence"]
    return lines


def pooled_plain(studies: Studies, found: Pooled, without: tuple[tuple[str, Pooled], ...]) -> dict[str, Any]:
    """As plain data, on the scale of the file."""
    return {
        "method": found.method,
        "scale": studies.scale,
        "unit": studies.unit,
        "effect": _value(studies, found.effect),
        "interval": _ends(studies, found.interval),
        "hartung_knapp": _ends(studies, found.hartung_knapp),
        "prediction": _ends(studies, found.prediction),
        "tau2": found.tau2,
        "q": found.q,
        "df": found.df,
        "i2": found.i2,
        "without": {name: _value(studies, one.effect) for name, one in without},
    }
