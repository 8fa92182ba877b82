"""Studies to pool, from what papers print: an interval, a standard error, SD and n, or counts. Conversions are said.

The file: `scale: plain | ratio | lr_pos | lr_neg`, `unit:`, and `studies:` with name and one of `value + ci`,
`value + se`, `value + sd + n`, `value + p (+ n)`, `treated: [events, n]` with `control: [events, n]`, or
`tp, fn, fp, tn`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from reasoner.measures.distributions import t_quantile
from reasoner.problems import Problem, nearest
from reasoner.upkeep.pooling import Z975, Study

if TYPE_CHECKING:
    from reasoner.graph.source import Document

__all__ = ["SCALES", "Studies", "read_studies", "se_from_p"]

SCALES = ("plain", "ratio", "lr_pos", "lr_neg")
_KEYS = ("name", "value", "ci", "se", "sd", "n", "p", "treated", "control", "tp", "fn", "fp", "tn")
_FINEST, _COARSEST = 1e-4, 1e6  # of a standard error, and of it or an effect: beyond it arithmetic gives out
_LOPSIDED = 0.2  # how far the point may lie from the middle of its interval, in half-widths


@dataclass(frozen=True, slots=True)
class Studies:
    """What to pool, on the pooling scale (a log for ratios), and how each number was come by."""

    studies: tuple[Study, ...]
    scale: str
    unit: str = ""
    said: tuple[str, ...] = ()

    @property
    def is_ratio(self) -> bool:
        """Pooled as a logarithm."""
        return self.scale != "plain"


class _Refused(Exception):
    def __init__(self, message: str, hint: str, key: str = "name") -> None:
        super().__init__(message)
        self.message, self.hint, self.key = message, hint, key


def read_studies(document: Document) -> tuple[Studies | None, list[Problem]]:
    """The studies of a parsed file, or every problem in it."""
    value, problems = document.value, list[Problem]()

    def say(message: str, hint: str, *path: str | int) -> None:
        where = tuple(path)
        while where and where not in document.lines:
            where = where[:-1]
        problems.append(Problem("P-STUDY", message, hint, document.file, document.lines.get(where, 1)))

    if not isinstance(value, dict) or not isinstance(value.get("studies"), list):
        say("found no studies:", "write studies: and one `- {name: ..., value: ..., se: ...}` a line")
        return None, problems
    for key in set(value) - {"scale", "unit", "studies", "note"}:
        say(f"{key}: no such key", "keys: scale, unit, studies, note", key)
    scale = value.get("scale", "plain")
    if scale not in SCALES:
        near = nearest(str(scale), SCALES, 1)
        say(f"scale: found {scale}", f"write {near[0]}" if near else "write one of " + ", ".join(SCALES), "scale")
        return None, problems
    found, said = [], []
    for n, one in enumerate(value["studies"]):
        try:
            study, how = _study(one, scale, n)
        except _Refused as refused:
            say(refused.message, refused.hint, "studies", n, refused.key)
        else:
            found.append(study)
            said.append(f"{study.name}: {how}")
    if len(found) < 2 and not problems:
        say("pooling needs two studies or more", "add a study", "studies")
    if found and (min(s.se for s in found) < _FINEST or max(max(s.se, abs(s.effect)) for s in found) > _COARSEST):
        say("a number far outside what is ever measured", "check units and decimal points", "studies")
    names = [s.name for s in found]
    for name in {x for x in names if names.count(x) > 1}:
        say(f"{name} stands twice", "one entry a study; two papers on the same people count once", "studies")
    return (None if problems else Studies(tuple(found), scale, str(value.get("unit", "")), tuple(said))), problems


def _study(one: Any, scale: str, n: int) -> tuple[Study, str]:
    if not isinstance(one, dict) or not isinstance(one.get("name"), str):
        raise _Refused(f"study {n + 1}: name: is missing", "write name: first author and year")
    name = one["name"]
    for key in one:
        if key not in _KEYS:
            near = nearest(key, _KEYS, 1)
            hint = f"write {near[0]}" if near else "keys: " + ", ".join(_KEYS)
            raise _Refused(f"{name}: {key}: no such key", hint, key)
    if "tp" in one or scale in ("lr_pos", "lr_neg"):
        return _ratio_of_counts(name, one, scale)
    if "treated" in one or "control" in one:
        return _risk_ratio(name, one, scale)
    return _stated(name, one, scale)


def _stated(name: str, one: dict[str, Any], scale: str) -> tuple[Study, str]:
    value = _number(name, one, "value")
    if value is None:
        hint = "add value: the point estimate; the middle of an interval is not it for ratios"
        raise _Refused(
            f"{name}: an interval without its point" if "ci" in one else f"{name}: value: is missing", hint, "ci"
        )
    ratio = scale == "ratio"
    if ratio and value <= 0:
        raise _Refused(
            f"{name}: value: a ratio is above 0, found {value:g}", "write the ratio, not its logarithm", "value"
        )
    point = log(value) if ratio else value
    if "ci" in one:
        low, high = _pair(name, one, "ci")
        if not low < value < high:
            raise _Refused(f"{name}: ci: [{low:g}, {high:g}] does not hold {value:g}", "low first, around value", "ci")
        if ratio and low <= 0:
            raise _Refused(f"{name}: ci: a ratio is above 0", "check the lower end", "ci")
        ends = (log(low), log(high)) if ratio else (low, high)
        half = (ends[1] - ends[0]) / 2
        if abs(point - (ends[0] + ends[1]) / 2) > _LOPSIDED * half:
            where = "on the log scale " if ratio else ""
            hint = "check scale: (ratio or plain), and the numbers"
            raise _Refused(f"{name}: value: {value:g} is not near the middle of its interval {where}", hint, "ci")
        return Study(name, point, half / Z975), f"SE = half the 95 % interval / 1.96 = {half / Z975:.4g}"
    if "se" in one:
        se = _positive(name, one, "se")
        n = one.get("n")
        if isinstance(n, int) and not ratio and "sd" in one:
            sd = _positive(name, one, "sd")
            if abs(se - sd) < 1e-9:
                raise _Refused(f"{name}: se: is the SD", f"SE = SD / sqrt(n) = {sd / sqrt(n):.3g}", "se")
        return Study(name, point, se), "SE as printed"
    if "sd" in one:
        sd, count = _positive(name, one, "sd"), one.get("n")
        if not isinstance(count, int) or count < 2:
            raise _Refused(f"{name}: n: an SD needs its number of people", "add n:", "sd")
        se = sd / sqrt(count)
        return Study(name, point, se), f"SE = SD / sqrt(n) = {sd:g} / sqrt({count}) = {se:.4g}"
    if "p" in one:
        p, count = _positive(name, one, "p"), one.get("n")
        if p >= 1 or point == 0:
            message = f"{name}: p: no SE follows from a p of {p:g} and a value of {value:g}"
            raise _Refused(message, "add ci: or se:", "p")
        se, how = se_from_p(point, p, count if isinstance(count, int) and not ratio else None)
        return Study(name, point, se), how
    raise _Refused(f"{name}: found no interval, SE, SD or p", "add ci: [low, high], se:, sd: and n:, or p:", "value")


def se_from_p(point: float, p: float, people: int | None) -> tuple[float, str]:
    """SE of a difference from its two-sided p, and how: point / t with people - 2 degrees of freedom, else point / z.

    As in the Cochrane Handbook for Systematic Reviews, version 5.1, 7.7.3.3. Wants 0 < p < 1 and a point that is not 0.
    """
    few = people is not None and people > 3
    t = t_quantile(1 - p / 2, float(people - 2)) if people is not None and few else NormalDist().inv_cdf(1 - p / 2)
    letter = f"t({people - 2})" if people is not None and few else "z"
    se = abs(point) / t
    return se, f"SE = {abs(point):.4g} / {letter} of p {p:g} = {abs(point):.4g} / {t:.3g} = {se:.4g}"


def _risk_ratio(name: str, one: dict[str, Any], scale: str) -> tuple[Study, str]:
    if scale != "ratio":
        raise _Refused(f"{name}: counts give a ratio", "write scale: ratio", "treated")
    (a, n1), (c, n2) = _pair(name, one, "treated"), _pair(name, one, "control")
    if not (0 < a <= n1 and 0 < c <= n2):
        hint = "write [events, people]; with no event in a group this way of pooling does not work"
        raise _Refused(f"{name}: counts do not fit: {a:g} of {n1:g}, {c:g} of {n2:g}", hint, "treated")
    se = sqrt(1 / a - 1 / n1 + 1 / c - 1 / n2)
    return Study(name, log((a / n1) / (c / n2)), se), f"risk ratio {(a / n1) / (c / n2):.3g}, SE of its log {se:.4g}"


def _ratio_of_counts(name: str, one: dict[str, Any], scale: str) -> tuple[Study, str]:
    """Likelihood ratio from a two by two table; a half is added to every cell where one is empty (Simel 1991)."""
    if scale not in ("lr_pos", "lr_neg"):
        raise _Refused(f"{name}: tp, fn, fp, tn give a likelihood ratio", "write scale: lr_pos or lr_neg", "tp")
    cells = []
    for key in ("tp", "fn", "fp", "tn"):
        count = one.get(key)
        if not isinstance(count, (int, float)) or isinstance(count, bool) or count < 0:
            raise _Refused(f"{name}: {key}: found no count", "write tp, fn, fp and tn", key)
        cells.append(float(count))
    if 0 in cells:
        cells = [c + 0.5 for c in cells]
    tp, fn, fp, tn = cells
    ill, well = tp + fn, fp + tn
    top, bottom = (tp, fp) if scale == "lr_pos" else (fn, tn)
    ratio = (top / ill) / (bottom / well)
    if (scale == "lr_pos") != (ratio > 1):
        hint = "are fp and tn, or the two ratios, exchanged?"
        raise _Refused(f"{name}: {scale}: comes out as {ratio:.3g}, on the wrong side of 1", hint, "tp")
    se = sqrt(1 / top - 1 / ill + 1 / bottom - 1 / well)
    return Study(name, log(ratio), se), f"ratio {ratio:.3g}, SE of its log {se:.4g}"


def _number(name: str, one: dict[str, Any], key: str) -> float | None:
    value = one.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _Refused(f"{name}: {key}: found {value}", "write a plain number such as 1.5", key)
    return float(value)


def _positive(name: str, one: dict[str, Any], key: str) -> float:
    value = _number(name, one, key)
    if value is None or value <= 0:
        raise _Refused(f"{name}: {key}: found {value}", "write a number above 0", key)
    return value


def _pair(name: str, one: dict[str, Any], key: str) -> tuple[float, float]:
    value = one.get(key)
    fits = isinstance(value, list) and len(value) == 2
    if not fits or not all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in value):  # type: ignore[union-attr]
        raise _Refused(f"{name}: {key}: found no two numbers", f"write {key}: [a, b]", key)
    assert isinstance(value, list)
    return float(value[0]), float(value[1])
