"""The main measure of a case as an SVG drawing: true time along the bottom, error bars, band, goal, line, course."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from reasoner.consult.words import number, of_side
from reasoner.reports.progress import MeasureProgress, Progress
from reasoner.views import svg
from reasoner.views.plot import scale
from reasoner.views.progress import band_of

__all__ = ["progress_svg"]

WIDE, HIGH = 760.0, 430.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 20.0, 62.0, 92.0
Place = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class _Frame:
    """Axis ends, and where a day or a value stands."""

    days: tuple[float, float]
    values: tuple[float, float]
    step: float

    def x(self, day: float) -> float:
        return LEFT + (day - self.days[0]) / (self.days[1] - self.days[0]) * (WIDE - LEFT - RIGHT)

    def y(self, value: float) -> float:
        return TOP + (self.values[1] - value) / (self.values[1] - self.values[0]) * (HIGH - TOP - BOTTOM)


def progress_svg(case: str, progress: Progress, invented: bool) -> str:
    """The drawing as text; with nothing measured it says so."""
    title = f"Progress of {case}" + (" (INVENTED PATIENT)" if invented else "")
    if not progress.measures:
        return svg.document(WIDE, 80, title, "nothing measured yet", [svg.text(20, 40, "nothing was measured yet")])
    one = progress.measures[0]
    name = f"{one.series.record.name}{of_side(one.series.side)}, {one.series.record.unit}"
    frame = _frame(one)
    shapes = [svg.text(LEFT, 26, title, 16), svg.text(LEFT, 46, name, 13)]
    shapes += [*_band(one, frame), *_axes(one, frame), *_course(one, frame), *_line(one, frame), *_goal(one, frame),
               *_points(one, frame), *_key(one)]  # fmt: skip
    first, last = one.series.points[0], one.series.points[-1]
    about = f"{name}: {number(first.before)} at visit {first.visit}, {number(last.before)} at visit {last.visit}"
    return svg.document(WIDE, HIGH, title, about, shapes)


def _frame(one: MeasureProgress) -> _Frame:
    series = one.series
    half = 1.96 * series.error.value if series.error is not None else 0.0
    values = [v for p in series.points for v in (p.before - half, p.before + half, p.after) if v is not None]
    values += [*(band_of(one) or ()), *([one.goal.target] if one.goal is not None else [])]
    end = series.days[-1] + max(one.gap_days, 7.0)
    low, high = min(values), max(values)
    bottom, top, step = scale(low, high)
    return _Frame((-1.0, end), (bottom, top), step)


def _band(one: MeasureProgress, frame: _Frame) -> Iterator[str]:
    band = band_of(one)
    if band is not None:
        top = frame.y(band[1])
        yield svg.rect(LEFT, top, WIDE - LEFT - RIGHT, frame.y(band[0]) - top)
        yield svg.text(WIDE - RIGHT - 4, frame.y(band[0]) - 5, "within error of the first visit", 10, "end", svg.QUIET)


def _axes(one: MeasureProgress, frame: _Frame) -> Iterator[str]:
    bottom = HIGH - BOTTOM
    yield svg.line(LEFT, TOP, LEFT, bottom)
    yield svg.line(LEFT, bottom, WIDE - RIGHT, bottom)
    (low, high), step = frame.values, frame.step
    for n in range(round((high - low) / step) + 1):
        value = low + n * step
        yield svg.line(LEFT - 4, frame.y(value), LEFT, frame.y(value))
        yield svg.text(LEFT - 8, frame.y(value) + 4, f"{value:g}", 11, "end")
    weeks = frame.days[1] / 7
    every = next(s for s in (1, 2, 4, 8, 13, 26, 52, 104, 520) if weeks / s <= 10 or s == 520)
    for week in range(0, int(weeks) + 1, every):
        yield svg.line(frame.x(week * 7), bottom, frame.x(week * 7), bottom + 4)
        yield svg.text(frame.x(week * 7), bottom + 17, str(week), 11, "middle")
    yield svg.text(WIDE - RIGHT, bottom + 33, "weeks since the first visit", 11, "end", svg.QUIET)


def _line(one: MeasureProgress, frame: _Frame) -> Iterator[str]:
    """The fitted line with its prediction range for one new value."""
    if one.line is None or one.series.error is None:
        return
    start, end = one.series.days[0], frame.days[1]
    days = [start + (end - start) * n / 24 for n in range(25)]
    ranges = [one.line.prediction(d, one.series.error.value) for d in days]
    low, high = frame.values
    for edge in (0, 1):
        inside = [(frame.x(d), frame.y(min(high, max(low, r[edge])))) for d, r in zip(days, ranges, strict=True)]
        yield svg.polyline(inside, svg.ACCENT, 0.8, "2 3")
    ends = [(frame.x(d), frame.y(min(high, max(low, one.line.at(d))))) for d in (start, end)]
    yield svg.polyline(ends, svg.ACCENT, 1.4)


def _goal(one: MeasureProgress, frame: _Frame) -> Iterator[str]:
    if one.goal is not None:
        y = frame.y(one.goal.target)
        yield svg.line(LEFT, y, WIDE - RIGHT, y, svg.INK, 1.4, "7 4")
        yield svg.text(LEFT + 6, y - 5, f"goal: {one.goal.name}: {number(one.goal.target)}", 11)


def _course(one: MeasureProgress, frame: _Frame) -> Iterator[str]:
    """Published means that fall on the drawing; only those of the value itself have a place on this axis."""
    for beside in one.courses:
        if beside.course.of != "value":
            continue
        placed = [(beside.start + 7 * w, m) for w, m in zip(beside.course.weeks, beside.course.mean, strict=True)]
        seen = [(d, m) for d, m in placed if _on(frame, d, m)]
        if len(seen) > 1:
            yield svg.polyline([(frame.x(d), frame.y(m)) for d, m in seen], svg.QUIET, 1.2, "1 4")
        for day, mean in seen:
            yield svg.text(frame.x(day), frame.y(mean) + 4, "x", 12, "middle", svg.QUIET)


def _on(frame: _Frame, day: float, value: float) -> bool:
    return frame.days[0] <= day <= frame.days[1] and frame.values[0] <= value <= frame.values[1]


def _points(one: MeasureProgress, frame: _Frame) -> Iterator[str]:
    half = 1.96 * one.series.error.value if one.series.error is not None else 0.0
    for p in one.series.points:
        x, y = frame.x(p.day), frame.y(p.before)
        if half:
            yield svg.line(x, frame.y(p.before - half), x, frame.y(p.before + half), svg.QUIET)
        if p.after is not None:
            yield svg.line(x, y, x + 5, frame.y(p.after), svg.QUIET, 0.8)
            yield svg.text(x + 5, frame.y(p.after) + 4, "+", 14, "middle")
        yield svg.circle(x, y, 3.6, "#ffffff")
        if p.given:
            bottom = HIGH - BOTTOM
            yield svg.path([(x - 4, bottom - 1), (x + 4, bottom - 1), (x, bottom - 9)], svg.INK)


def _key(one: MeasureProgress) -> Iterator[str]:
    y = HIGH - 34
    yield svg.text(LEFT, y, "circle: before treatment, bar 95 % of its error; +: after it; triangle: treated", 11)
    course = "; x: published course" if any(b.course.of == "value" for b in one.courses) else ""
    yield svg.text(LEFT, y + 16, "line with dotted range: where the next value would fall if it went on" + course, 11)
