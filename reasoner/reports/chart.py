"""Progress of the retest signs as one self-contained SVG, with the same numbers in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reasoner.consult.words import number
from reasoner.graph.records import Measure
from reasoner.measures.baseline import value
from reasoner.measures.error import standard_error
from reasoner.reports.document import Figure
from reasoner.reports.dossier import Dossier
from reasoner.visible import markup

__all__ = ["progress_figure"]

_WIDTH, _PANEL, _LEFT, _RIGHT, _TOP, _BOTTOM = 640, 130, 56, 16, 30, 26
_MOST = 3  # panels
_CROWDED = 6  # points; with more, only some visits are labelled, by number, and only the first and last value
_APART = 34.0  # between such labels
_TOLD = 6  # values told in words where there are more: the first and the latest


@dataclass(frozen=True, slots=True)
class _Series:
    record: Measure
    points: tuple[tuple[str, float, str], ...]  # (label below, value, phase)
    error: float | None


def progress_figure(d: Dossier) -> Figure | None:
    """One small panel for each retest sign on the case's side; None while nothing was measured twice."""
    series = [s for sign in d.state.retest_signs if (s := _series(d, sign)) is not None][:_MOST]
    if not series:
        return None
    panels = "".join(_panel(s, n) for n, s in enumerate(series))
    height = _PANEL * len(series)
    alt = "; ".join(_words(s) for s in series)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img" '
        f'aria-label="{markup(alt)}" font-family="inherit" font-size="13">{panels}</svg>'
    )
    return Figure(svg, alt)


def _series(d: Dossier, sign: str) -> _Series | None:
    record = d.knowledge.measures.get(sign)
    if record is None:
        return None
    side = d.state.context.side
    taken = [m for m in d.state.measurements if m.measure == sign and (not record.sided or m.side == side)]
    if len(taken) < 2:
        return None
    points = tuple(
        (f"visit {m.visit} " + ("before" if m.phase == "baseline" else "after"), value(m.values), m.phase)
        for m in taken
    )
    error = standard_error(record, taken[-1].tool, trials=len(taken[-1].values))
    return _Series(record, points, None if error is None else 1.96 * error.value)


def _words(s: _Series) -> str:
    points = [f"{label} {number(v)}" for label, v, _ in s.points]
    told = points if len(points) <= _CROWDED else [points[0], "...", *points[1 - _TOLD :]]
    return f"{s.record.name} ({s.record.unit}): {', '.join(told)}"


def _panel(s: _Series, index: int) -> str:
    top = index * _PANEL
    low, high = _span(s)
    inner = _PANEL - _TOP - _BOTTOM
    xs = _places(len(s.points))

    def y(v: float) -> float:
        return round(top + _TOP + inner * (1 - (v - low) / (high - low)), 1)

    better = "up is better" if s.record.better == "higher" else "down is better"
    parts = [
        f'<text x="4" y="{top + 16}" font-weight="bold">{markup(s.record.name)} ({markup(s.record.unit)}), {better}'
        "</text>",
        *(
            f'<line x1="{_LEFT}" x2="{_WIDTH - _RIGHT}" y1="{y(v)}" y2="{y(v)}" stroke="#999"/>'
            f'<text x="{_LEFT - 6}" y="{y(v) + 4}" text-anchor="end">{number(v)}</text>'
            for v in (low, high)
        ),
        '<polyline fill="none" stroke="#1f4e79" stroke-width="2" points="'
        + " ".join(f"{x},{y(v)}" for x, (_, v, _) in zip(xs, s.points, strict=True)) + '"/>',
    ]
    crowded = len(s.points) > _CROWDED
    for n, (x, (_, v, phase)) in enumerate(zip(xs, s.points, strict=True)):
        if s.error is not None:
            parts.append(
                f'<line x1="{x}" x2="{x}" y1="{y(max(low, v - s.error))}" y2="{y(min(high, v + s.error))}" '
                'stroke="#1f4e79"/>'
            )
        fill, size = "#1f4e79" if phase == "baseline" else "#ffffff", 3 if crowded else 5
        parts.append(f'<circle cx="{x}" cy="{y(v)}" r="{size}" fill="{fill}" stroke="#1f4e79" stroke-width="2"/>')
        if not crowded or n in (0, len(s.points) - 1):
            parts.append(f'<text x="{x + 9}" y="{y(v) - 6}">{number(v)}</text>')
    return "".join([*parts, *_labels(s, xs, top + _PANEL - 8)])


def _labels(s: _Series, xs: Sequence[float], y: float) -> Iterator[str]:
    """What stands below the points: all of it, or the numbers of as many visits as can be read."""
    last = -_APART
    for x, (label, _, phase) in zip(xs, s.points, strict=True):
        if len(s.points) > _CROWDED:
            if phase != "baseline" or x - last < _APART:
                continue
            label = " ".join(label.split()[:2] if last < 0 else label.split()[1:2])
            last = x
        yield f'<text x="{x}" y="{y}" text-anchor="middle" font-size="12">{markup(label)}</text>'


def _span(s: _Series) -> tuple[float, float]:
    if s.record.unit == "0-10":
        return 0.0, 10.0
    spread = s.error or 0.0
    low = min(v for _, v, _ in s.points) - spread
    high = max(v for _, v, _ in s.points) + spread
    return (low, high) if high - low > 1e-9 else (low - 1, high + 1)


def _places(count: int) -> Sequence[float]:
    room = _WIDTH - _LEFT - _RIGHT - 100
    return [round(_LEFT + 50 + (room * n / (count - 1) if count > 1 else room / 2), 1) for n in range(count)]
