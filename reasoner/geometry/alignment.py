"""Axis, circle and signed offset from landmark points on a side view, with the interval from click error alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, fsum, hypot
from random import Random

from reasoner.geometry.circle import Circle, arc_degrees, fit_circle

__all__ = ["Alignment", "Interval", "Landmarks", "align", "bootstrap"]

Point = tuple[float, float]
UPRIGHT = 0.5  # the axis may lean by up to 60 degrees; beyond it front and back cannot be told from left and right


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Points in picture units, `scale` mm a unit, `front` +1 where the front is to the right of the picture, else -1.

    `ends`: back and front end of the lower bone, for the share of its length behind the axis; None: not given.
    """

    shaft: tuple[Point, Point]  # upper, lower
    dome: tuple[Point, ...]
    scale: float
    front: int
    ends: tuple[Point, Point] | None = None


@dataclass(frozen=True, slots=True)
class Alignment:
    """In mm: circle and offset (positive: the centre lies before the axis). `share`: 0..1, None without the ends."""

    circle: Circle
    offset: float
    ratio: float  # offset / radius
    arc: float  # degrees that the dome points span
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Interval:
    """95 % ranges over repeated clicks; `failed`: share of them without a circle; `stable`: the numbers can be used."""

    offset: tuple[float, float]
    ratio: tuple[float, float]
    radius: tuple[float, float]
    share: tuple[float, float] | None
    failed: float
    stable: bool


def align(marks: Landmarks) -> Alignment:
    """Numbers of one set of clicks. ValueError, in plain words, where they cannot be had."""
    (ux, uy), (lx, ly) = marks.shaft
    length = hypot(lx - ux, ly - uy)
    if length == 0:
        raise ValueError("the two shaft points are the same")
    across = ((ly - uy) / length, -(lx - ux) / length)  # at a right angle to the axis
    if abs(across[0]) < UPRIGHT:
        raise ValueError("the shaft lies across the picture: turn the picture upright first")
    if across[0] * marks.front < 0:
        across = (-across[0], -across[1])
    fitted = fit_circle(marks.dome)
    k = marks.scale
    circle = Circle(fitted.x * k, fitted.y * k, fitted.r * k, fitted.rms * k)
    offset = _before((fitted.x, fitted.y), marks.shaft[0], across) * k
    share = None
    if marks.ends is not None:
        back, front = (_before(p, marks.shaft[0], across) for p in marks.ends)
        if front <= back:
            raise ValueError("the front end does not lie before the back end: check which side is front")
        share = -back / (front - back)
    return Alignment(circle, offset, offset / circle.r, arc_degrees(marks.dome, fitted), share)


def bootstrap(marks: Landmarks, click_sd: float, random: Random, draws: int = 1000) -> Interval:
    """Every point clicked again with a normal error of `click_sd` mm each way. ValueError as `align`.

    Unstable: over one in twenty draws gives no circle, or the radius range is wider than half its middle.
    """
    if not click_sd > 0 or draws < 20:
        raise ValueError("repeated clicks need an error above zero and 20 draws or more")
    sd = click_sd / marks.scale
    made: list[Alignment] = []
    for _ in range(draws):
        try:
            made.append(align(_clicked(marks, sd, random)))
        except ValueError:
            continue
    failed = 1 - len(made) / draws
    if len(made) < 20:
        raise ValueError("repeated clicks give no circle: more points, further apart")
    shares = [m.share for m in made if m.share is not None]
    radius = _range([m.circle.r for m in made])
    middle = fsum(radius) / 2
    return Interval(
        _range([m.offset for m in made]), _range([m.ratio for m in made]), radius, _range(shares) if shares else None,
        failed, failed <= 0.05 and radius[1] - radius[0] <= middle / 2,
    )


def _before(point: Point, start: Point, across: Point) -> float:
    return (point[0] - start[0]) * across[0] + (point[1] - start[1]) * across[1]


def _clicked(marks: Landmarks, sd: float, random: Random) -> Landmarks:
    def again(p: Point) -> Point:
        return p[0] + random.gauss(0, sd), p[1] + random.gauss(0, sd)

    ends = (again(marks.ends[0]), again(marks.ends[1])) if marks.ends is not None else None
    shaft = (again(marks.shaft[0]), again(marks.shaft[1]))
    return replace(marks, shaft=shaft, dome=tuple(again(p) for p in marks.dome), ends=ends)


def _range(values: Sequence[float]) -> tuple[float, float]:
    """2.5 and 97.5 percentiles, outwards to the next value."""
    ordered = sorted(values)
    low = int(0.025 * (len(ordered) - 1))
    return ordered[low], ordered[min(len(ordered) - 1, ceil(0.975 * (len(ordered) - 1)))]
