"""Published courses of recovery beside a patient's own: where people like these were at this time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from reasoner.facts.facts import Facts
from reasoner.graph.records import Course
from reasoner.measures.baseline import value
from reasoner.reports.series import Series

__all__ = ["CourseBeside", "courses_beside", "expected"]


@dataclass(frozen=True, slots=True)
class CourseBeside:
    """A course that fits the setting. `expected`: its mean at the latest value's time (None: outside its weeks).

    `own`: the patient's number of the same kind (the value, or how far short of the other side; None: not measured).
    `start`: day of the course's anchor on the series' own time axis.
    """

    course: Course
    weeks: float
    expected: float | None
    own: float | None
    start: float


def expected(course: Course, weeks: float) -> float | None:
    """The course's mean at a time, straight between its weeks; None before its first or after its last.

    >>> c = Course(name="c", settings=(), counted_from="injury", weeks=(0, 2, 4), mean=(-6, 7, 11), basis="practice")
    >>> expected(c, 1), expected(c, 4), expected(c, 9)
    (0.5, 11.0, None)
    """
    if not course.weeks or not course.weeks[0] <= weeks <= course.weeks[-1]:
        return None
    for (w0, m0), (w1, m1) in pairwise(zip(course.weeks, course.mean, strict=True)):
        if weeks <= w1:
            return m0 + (m1 - m0) * (weeks - w0) / (w1 - w0)
    return course.mean[0]


def courses_beside(facts: Facts, series: Series) -> Iterator[CourseBeside]:
    """Courses of this setting whose anchor is known. `facts.now` is the time of the latest value."""
    setting = facts.state.context.setting or "not_stated"
    for course in series.record.courses:
        if course.settings and setting not in course.settings:
            continue
        _, days = facts.days_since(course.counted_from)
        if days is None:
            continue
        weeks = days / 7
        own = series.points[-1].before if course.of == "value" else _short_of_other(facts, series)
        yield CourseBeside(course, weeks, expected(course, weeks), own, series.points[-1].day - days)


def _short_of_other(facts: Facts, series: Series) -> float | None:
    other = {"left": "right", "right": "left"}.get(series.side)
    seen = [m for m in facts.state.measurements if m.measure == series.record.id and m.side == other and m.values]
    if not seen:
        return None
    sign = 1 if series.record.better == "higher" else -1
    return sign * (value(seen[-1].values) - series.points[-1].before)
