"""The pictures of an alignment drawing: the points with axis and circle, and the two arcs with and without shift."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, hypot, radians, sin

from reasoner.geometry.alignment import Alignment as Measured
from reasoner.geometry.alignment import Landmarks
from reasoner.geometry.arcs import Arcs, Seat
from reasoner.graph.records import Alignment
from reasoner.views import svg
from reasoner.views.alignment import TEACHING

__all__ = ["alignment_svg"]

WIDE, HIGH, PANEL = 820.0, 470.0, 400.0
Point = tuple[float, float]


def alignment_svg(
    record: Alignment, marks: Landmarks, found: Measured, arcs: Arcs, level: Seat, here: Seat | None
) -> str:
    """The drawing as text, front always to the right."""
    shapes = [svg.text(20, 26, f"{record.name}: {found.offset:+.1f} mm", 16), svg.text(20, 46, TEACHING, 12)]
    shapes += _points(record, marks, found)
    shapes += _arcs(record, arcs, level, 450, "no shift")
    shapes += _arcs(record, arcs, here, 640, f"shift {found.offset:+.1f} mm") if here is not None else []
    about = f"{record.dome} centre {found.offset:+.1f} mm from the {record.axis}, radius {found.circle.r:.1f} mm"
    return svg.document(WIDE, HIGH, record.name, about, shapes)


def _points(record: Alignment, marks: Landmarks, found: Measured) -> Iterator[str]:
    """Left: in mm, y down as in the picture, mirrored if the front is on the left."""
    k, f = marks.scale, marks.front

    def mm(p: Point) -> Point:
        return p[0] * k * f, p[1] * k

    shaft, dome = [mm(p) for p in marks.shaft], [mm(p) for p in marks.dome]
    centre, r = (found.circle.x * f, found.circle.y), found.circle.r
    ends = [mm(p) for p in marks.ends] if marks.ends is not None else []
    every = [*shaft, *dome, *ends, (centre[0] - r, centre[1] - r), (centre[0] + r, centre[1] + r)]
    low_x, low_y = min(p[0] for p in every), min(p[1] for p in every)
    size = max(max(p[0] for p in every) - low_x, max(p[1] for p in every) - low_y)
    zoom = (PANEL - 60) / size

    def at(p: Point) -> Point:
        return 30 + (p[0] - low_x) * zoom, 70 + (p[1] - low_y) * zoom

    (ax, ay), (bx, by) = shaft
    length = hypot(bx - ax, by - ay)
    along = ((centre[0] - ax) * (bx - ax) + (centre[1] - ay) * (by - ay)) / length**2
    foot = (ax + along * (bx - ax), ay + along * (by - ay))
    end = (ax + max(along, 1.0) * 1.04 * (bx - ax), ay + max(along, 1.0) * 1.04 * (by - ay))
    yield svg.line(*at(shaft[0]), *at(end), svg.INK, 1.4, "9 3 2 3")
    yield svg.circle(*at(centre), r * zoom, colour=svg.ACCENT)
    yield svg.line(*at(foot), *at(centre), svg.INK, 2.4)
    for p in (*shaft, *dome, *ends):
        yield svg.circle(*at(p), 3, svg.INK)
    for p, label in zip(ends, ("back end", "front end"), strict=False):
        yield svg.text(at(p)[0], at(p)[1] + 16, label, 11, "middle", svg.QUIET)
    yield svg.circle(*at(centre), 3, "#ffffff", svg.ACCENT)
    x, y = at(centre)
    yield svg.text(x + 8, y + 16, f"{found.offset:+.1f} mm", 12)
    yield svg.text(at(shaft[0])[0] + 8, at(shaft[0])[1] + 4, record.axis, 11, colour=svg.QUIET)
    yield svg.text(x, y + r * zoom + 16, record.dome, 11, "middle", svg.QUIET)
    said = "front to the right; bold: distance of the centre from the axis"
    yield svg.text(30, HIGH - 14, said, 11, colour=svg.QUIET)


def _arcs(record: Alignment, arcs: Arcs, seat: Seat, left: float, title: str) -> Iterator[str]:
    """Right: hollow (thick) and round end (thin), y up turned over, the motion left as an angle."""
    zoom = 150 / (2.3 * arcs.socket_radius)
    ox, oy = left + 80, 240.0

    def at(x: float, y: float) -> Point:
        return ox + x * zoom, oy - y * zoom

    def arc(cx: float, cy: float, r: float, start: float, stop: float) -> list[Point]:
        steps = [radians(start + (stop - start) * n / 40) for n in range(41)]
        return [at(cx + r * sin(a), cy + r * cos(a)) for a in steps]

    yield svg.text(ox, 100, title, 12, "middle")
    yield svg.polyline(arc(0, 0, arcs.socket_radius, -arcs.back, arcs.front), svg.INK, 3)
    yield svg.polyline(arc(seat.x, seat.y, arcs.radius, -arcs.dome - 20, arcs.dome), svg.ACCENT, 1.6)
    yield svg.line(*at(0, arcs.socket_radius * 1.25), *at(0, -arcs.radius * 0.3), svg.QUIET, 1, "9 3 2 3")
    yield svg.circle(*at(seat.x, seat.y), 3, "#ffffff", svg.ACCENT)
    lip = at(arcs.socket_radius * sin(radians(arcs.front)), arcs.socket_radius * cos(radians(arcs.front)))
    neck = at(seat.x + arcs.radius * sin(radians(arcs.dome)), seat.y + arcs.radius * cos(radians(arcs.dome)))
    for edge in (lip, neck):
        yield svg.line(*at(seat.x, seat.y), *edge, svg.QUIET, 1, "2 3")
        yield svg.circle(*edge, 3.5, svg.INK)
    yield svg.text(ox, 330, f"{seat.left:.0f} degrees of {record.motion}", 11, "middle")
    yield svg.text(ox, 346, "until the front edges meet", 11, "middle")
    yield svg.text(ox, 366, f"touching over {seat.contact:.0f} degrees", 11, "middle")
