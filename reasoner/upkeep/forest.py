"""A forest plot as plain text (80 columns) and as SVG. Ratios stand on a log axis with ratio labels."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from reasoner.upkeep.pooling import Z975, Pooled, Study
from reasoner.visible import markup

__all__ = ["forest_lines", "forest_svg"]

_NAME, _BAR, _WIDTH = 20, 32, 80
_ROW, _LEFT, _PLOT, _RIGHT = 22, 190, 330, 200


def _span(studies: Sequence[Study], pooled: Pooled) -> tuple[float, float]:
    ends = [s.effect - Z975 * s.se for s in studies] + [s.effect + Z975 * s.se for s in studies]
    ends += [0.0, *pooled.interval]
    low, high = min(ends), max(ends)
    room = high - low or 1.0
    wide = [v for pair in (pooled.hartung_knapp, pooled.prediction) if pair is not None for v in pair]
    # few studies that differ give an interval so wide that nothing else could be told apart: it is cut, with an arrow
    low, high = max(min([low, *wide]), low - room / 3), min(max([high, *wide]), high + room / 3)
    return low - 0.04 * room, high + 0.04 * room


def _shown(value: float, ratio: bool) -> str:
    return f"{exp(value) if ratio else value:.2f}"


def _told(middle: float, ends: tuple[float, float], ratio: bool) -> str:
    return f"{_shown(middle, ratio)} [{_shown(ends[0], ratio)}, {_shown(ends[1], ratio)}]"


def forest_lines(studies: Sequence[Study], pooled: Pooled, *, ratio: bool) -> list[str]:
    """One line a study, then the pooled effect and the prediction interval. Plain ASCII."""
    low, high = _span(studies, pooled)

    def column(value: float) -> int:
        return round((min(max(value, low), high) - low) / (high - low) * (_BAR - 1))

    def bar(ends: tuple[float, float], middle: float | None, line: str, mark: str) -> str:
        cells = [" "] * _BAR
        cells[column(0.0)] = ":"
        for place in range(column(ends[0]), column(ends[1]) + 1):
            cells[place] = line
        if ends[0] < low:
            cells[0] = "<"
        if ends[1] > high:
            cells[-1] = ">"
        if middle is not None:
            cells[column(middle)] = mark
        return "".join(cells)

    lines = []
    for study, weight in zip(studies, pooled.weights, strict=True):
        ends = (study.effect - Z975 * study.se, study.effect + Z975 * study.se)
        told = _told(study.effect, ends, ratio)
        lines.append(
            f"{study.name[:_NAME]:<{_NAME}} {bar(ends, study.effect, '-', 'o')} {told:<20} {weight * 100:3.0f}%"
        )
    ends = pooled.hartung_knapp or pooled.interval
    lines.append(f"{'pooled':<{_NAME}} {bar(ends, pooled.effect, '=', '#')} {_told(pooled.effect, ends, ratio)}")
    if pooled.prediction is not None:
        told = f"[{_shown(pooled.prediction[0], ratio)}, {_shown(pooled.prediction[1], ratio)}]"
        lines.append(f"{'a next study':<{_NAME}} {bar(pooled.prediction, None, '.', '')} {told}")
    return [line.rstrip()[:_WIDTH] for line in lines]


def forest_svg(studies: Sequence[Study], pooled: Pooled, *, ratio: bool, title: str) -> str:
    """The same as a self-contained picture; black on white, readable in print."""
    low, high = _span(studies, pooled)
    height = _ROW * (len(studies) + 5)
    width = _LEFT + _PLOT + _RIGHT

    def across(value: float) -> float:
        return _LEFT + (min(max(value, low), high) - low) / (high - low) * _PLOT

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        'font-family="sans-serif" font-size="12">',
        f"<title>{markup(title)}</title>",
        f'<rect width="{width}" height="{height}" fill="white"/>',
        f'<text x="8" y="16" font-weight="bold">{markup(title)}</text>',
        f'<line x1="{across(0):.1f}" y1="{_ROW}" x2="{across(0):.1f}" y2="{height - _ROW}" stroke="#888"/>',
    ]
    for n, (study, weight) in enumerate(zip(studies, pooled.weights, strict=True), 1):
        y = _ROW * (n + 1)
        ends = (study.effect - Z975 * study.se, study.effect + Z975 * study.se)
        size = 4 + 8 * weight**0.5
        parts += [
            f'<text x="8" y="{y + 4}">{markup(study.name)}</text>',
            f'<line x1="{across(ends[0]):.1f}" y1="{y}" x2="{across(ends[1]):.1f}" y2="{y}" stroke="black"/>',
            f'<rect x="{across(study.effect) - size / 2:.1f}" y="{y - size / 2:.1f}" width="{size:.1f}" '
            f'height="{size:.1f}"/>',
            f'<text x="{_LEFT + _PLOT + 8}" y="{y + 4}">{_told(study.effect, ends, ratio)}  {weight * 100:.0f}%</text>',
        ]
    y = _ROW * (len(studies) + 2)
    ends = pooled.hartung_knapp or pooled.interval
    left, middle, right = across(ends[0]), across(pooled.effect), across(ends[1])
    parts += [
        f'<text x="8" y="{y + 4}" font-weight="bold">pooled</text>',
        f'<polygon points="{left:.1f},{y} {middle:.1f},{y - 6} {right:.1f},{y} {middle:.1f},{y + 6}"/>',
        f'<text x="{_LEFT + _PLOT + 8}" y="{y + 4}" font-weight="bold">{_told(pooled.effect, ends, ratio)}</text>',
    ]
    if pooled.prediction is not None:
        y += _ROW
        one, two = (across(v) for v in pooled.prediction)
        told = ", ".join(_shown(v, ratio) for v in pooled.prediction)
        parts += [
            f'<text x="8" y="{y + 4}">a next study</text>',
            f'<line x1="{one:.1f}" y1="{y}" x2="{two:.1f}" y2="{y}" stroke="black" stroke-dasharray="3 3"/>',
            f'<text x="{_LEFT + _PLOT + 8}" y="{y + 4}">[{told}]</text>',
        ]
        for beyond, at, tip in ((pooled.prediction[0] < low, one, -7), (pooled.prediction[1] > high, two, 7)):
            if beyond:
                parts.append(f'<polygon points="{at + tip:.1f},{y} {at:.1f},{y - 4} {at:.1f},{y + 4}"/>')
    return "\n".join([*parts, "</svg>", ""])
