"""Two arcs: a hollow above a round end. Where they touch, and how soon their front edges meet, as the end is shifted.

The hollow's centre is the origin, up is y, front is x; angles in degrees from straight up, positive to the front. The
round end has radius r, is shifted by s to the front and pushed up until it touches the hollow (radius R >= r). Bone
only: nothing soft is in this drawing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import acos, asin, atan2, cos, degrees, hypot, pi, radians, sin, sqrt

__all__ = ["Arcs", "Seat", "lip_angle_equal_radii", "seat"]


@dataclass(frozen=True, slots=True)
class Arcs:
    """Radii in mm; the hollow runs from `back` degrees behind the axis to `front` before it, the end to `dome`."""

    socket_radius: float
    radius: float
    front: float
    back: float
    dome: float
    clearance: float  # mm apart at which surfaces still count as touching

    def __post_init__(self) -> None:
        if not (self.radius > 0 and self.socket_radius >= self.radius and self.clearance > 0):
            raise ValueError("the hollow's radius is at least that of the round end, both above zero")
        if not (0 < self.front < 90 and 0 < self.back < 90 and self.front < self.dome < 180):
            raise ValueError("the hollow's edges are within 90 degrees, the round end goes further to the front")


@dataclass(frozen=True, slots=True)
class Seat:
    """Where the end comes to lie. `contact`: degrees of the hollow within the clearance; `left`: degrees of turning to
    the front until the front edges meet; `lost`: how many fewer than with no shift (below zero: more)."""

    x: float
    y: float
    touches_at: float
    contact: float
    left: float
    lost: float


def seat(arcs: Arcs, shift: float) -> Seat:
    """The seat at a shift. ValueError where the end would slip out of the hollow (over half its radius)."""
    if abs(shift) > arcs.radius / 2:
        raise ValueError("shifted by more than half its radius: it no longer lies in the hollow")
    y, at = _touching(arcs, shift)
    lip = _lip(arcs, shift, y)
    level, _ = _touching(arcs, 0.0)
    return Seat(shift, y, at, _contact(arcs, shift, y), arcs.dome - lip, lip - _lip(arcs, 0.0, level))


def lip_angle_equal_radii(radius: float, front: float, shift: float) -> float:
    """Closed form of the front lip's angle from the round end's centre, equal radii, shift to the front: then the end
    touches at that lip, at one radius from its centre, so sin(angle) = sin(front) - shift / radius.

    >>> round(lip_angle_equal_radii(20, 30, 0.0), 9), round(lip_angle_equal_radii(20, 30, 2.0), 4)
    (30.0, 23.5782)
    """
    return degrees(asin(sin(radians(front)) - shift / radius))


def _touching(arcs: Arcs, shift: float) -> tuple[float, float]:
    """(height of the end's centre, angle of the touching point): the highest place where nothing overlaps."""
    slack = arcs.socket_radius - arcs.radius
    front, back = radians(arcs.front), -radians(arcs.back)
    if slack > 0 and abs(shift) <= slack:
        inside = asin(shift / slack)
        if back <= inside <= front:
            return sqrt(slack**2 - shift**2), degrees(inside)
    if slack == 0 and shift == 0:
        return 0.0, 0.0
    edge = front if shift > 0 else back
    across = arcs.socket_radius * sin(edge) - shift
    return arcs.socket_radius * cos(edge) - sqrt(max(0.0, arcs.radius**2 - across**2)), degrees(edge)


def _lip(arcs: Arcs, shift: float, y: float) -> float:
    edge = radians(arcs.front)
    return degrees(atan2(arcs.socket_radius * sin(edge) - shift, arcs.socket_radius * cos(edge) - y))


def _contact(arcs: Arcs, shift: float, y: float) -> float:
    """Degrees of the hollow no further than the clearance from the end: those near the direction of its centre."""
    big, apart, reach = arcs.socket_radius, hypot(shift, y), arcs.radius + arcs.clearance
    whole = arcs.front + arcs.back
    if apart < 1e-12:
        return whole if big <= reach else 0.0
    cosine = (big**2 + apart**2 - reach**2) / (2 * big * apart)
    if cosine >= 1:
        return 0.0
    half = pi if cosine <= -1 else acos(cosine)
    return min(whole, sum(_overlaps(arcs, degrees(atan2(shift, y)), degrees(half))))


def _overlaps(arcs: Arcs, middle: float, half: float) -> Iterator[float]:
    for turn in (-360, 0, 360):
        yield max(0.0, min(arcs.front, middle + half + turn) - max(-arcs.back, middle - half + turn))
