"""The least-squares circle through points: an algebraic start, then the geometric distances themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, fsum, hypot, isfinite, pi, sqrt

__all__ = ["Circle", "arc_degrees", "fit_circle"]

Point = tuple[float, float]
_STEPS, _CLOSE = 60, 1e-12
_STRAIGHT = 1e-5  # spread across the points over spread along them: below it they lie on a line


@dataclass(frozen=True, slots=True)
class Circle:
    """Centre and radius; `rms`: root mean square distance of the points from it. In the points' own unit."""

    x: float
    y: float
    r: float
    rms: float


def fit_circle(points: Sequence[Point]) -> Circle:
    """The circle with the least sum of squared distances. ValueError for under three different points or a line.

    Start: Kasa's linear fit, exact for points on a circle; then damped Gauss-Newton steps on the distances.

    >>> c = fit_circle([(1, 0), (0, 1), (-1, 0), (0, -1)])
    >>> round(abs(c.x) + abs(c.y), 9), round(c.r, 9)
    (0.0, 1.0)
    """
    if len(set(points)) < 3:
        raise ValueError(f"{len(set(points))} different points; a circle needs three or more")
    if not all(isfinite(v) for p in points for v in p):
        raise ValueError("points need finite numbers")
    n = len(points)
    mx, my = fsum(p[0] for p in points) / n, fsum(p[1] for p in points) / n
    size = sqrt(fsum((x - mx) ** 2 + (y - my) ** 2 for x, y in points) / n)
    scaled = [((x - mx) / size, (y - my) / size) for x, y in points]
    a, b = _start(scaled)
    a, b, r, cost = _refined(scaled, a, b)
    return Circle(mx + a * size, my + b * size, r * size, sqrt(cost / n) * size)


def arc_degrees(points: Sequence[Point], circle: Circle) -> float:
    """Degrees of the circle that the points span: the whole turn less the widest gap between neighbours."""
    angles = sorted(atan2(y - circle.y, x - circle.x) for x, y in points)
    gaps = [b - a for a, b in zip(angles, [*angles[1:], angles[0] + 2 * pi], strict=True)]
    return (2 * pi - max(gaps)) * 180 / pi


def _start(points: Sequence[Point]) -> Point:
    """Centre of the circle with x^2 + y^2 = 2ax + 2by + c in least squares; points are centred and scaled."""
    sxx = fsum(x * x for x, _ in points)
    syy = fsum(y * y for _, y in points)
    sxy = fsum(x * y for x, y in points)
    det = sxx * syy - sxy * sxy
    if det <= (_STRAIGHT * (sxx + syy)) ** 2:
        raise ValueError("the points lie on a straight line")
    px = fsum(x * (x * x + y * y) for x, y in points) / 2
    py = fsum(y * (x * x + y * y) for x, y in points) / 2
    return (px * syy - py * sxy) / det, (py * sxx - px * sxy) / det


def _refined(points: Sequence[Point], a: float, b: float) -> tuple[float, float, float, float]:
    """(a, b, r, sum of squared distances). For any centre the best radius is the mean distance, so two unknowns."""
    n, damping = len(points), 1e-3
    r, cost = _radius_and_cost(points, a, b)
    for _ in range(_STEPS):
        units = [((x - a) / d, (y - b) / d, d) for x, y in points if (d := hypot(x - a, y - b)) > 0]
        ux, uy = fsum(u[0] for u in units) / n, fsum(u[1] for u in units) / n
        jxx = fsum((u[0] - ux) ** 2 for u in units)
        jyy = fsum((u[1] - uy) ** 2 for u in units)
        jxy = fsum((u[0] - ux) * (u[1] - uy) for u in units)
        gx = fsum((u[0] - ux) * (u[2] - r) for u in units)
        gy = fsum((u[1] - uy) * (u[2] - r) for u in units)
        while True:
            dxx, dyy = jxx * (1 + damping), jyy * (1 + damping)
            det = dxx * dyy - jxy * jxy
            if det <= 0:
                return a, b, r, cost
            da, db = (gx * dyy - gy * jxy) / det, (gy * dxx - gx * jxy) / det
            r2, cost2 = _radius_and_cost(points, a + da, b + db)
            if cost2 <= cost:
                break
            damping *= 10
            if damping > 1e12:
                return a, b, r, cost
        small = hypot(da, db) <= _CLOSE * max(1.0, r)
        a, b, r, cost, damping = a + da, b + db, r2, cost2, damping / 10
        if small:
            break
    return a, b, r, cost


def _radius_and_cost(points: Sequence[Point], a: float, b: float) -> tuple[float, float]:
    distances = [hypot(x - a, y - b) for x, y in points]
    r = fsum(distances) / len(distances)
    return r, fsum((d - r) ** 2 for d in distances)
