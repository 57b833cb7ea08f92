"""Plan geometry of the demo buildings: outlines with arcs, areas, turned frames, balanced runs."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = [
    "Arc",
    "Outline",
    "Place",
    "Point",
    "area_mm2",
    "balanced_border",
    "cell_centre",
    "inches",
    "moved",
    "rect",
    "vertices",
]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular edge between its two neighbours in an outline, through this point."""

    through: Point


Outline = tuple[Point | Arc, ...]
"""Counter-clockwise, not closed, in mm; `Arc` stands between the vertices it joins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A turned frame in plan: origin in mm, angle counter-clockwise in degrees."""

    x: float = 0.0
    y: float = 0.0
    angle_deg: float = 0.0

    def to_world(self, point: Point) -> Point:
        """The building's coordinates of a point of this frame."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        u, v = point
        return (self.x + c * u - s * v, self.y + s * u + c * v)


def rect(x0: float, y0: float, x1: float, y1: float) -> Outline:
    """A rectangle from its lower left and upper right corners."""
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def moved(outline: Outline, dx: float, dy: float) -> Outline:
    """The same outline elsewhere."""
    return tuple(
        Arc((p.through[0] + dx, p.through[1] + dy)) if isinstance(p, Arc) else (p[0] + dx, p[1] + dy)
        for p in outline
    )


def inches(outline: Outline) -> Outline:
    """An outline given in inches, in mm."""
    return tuple((p[0] * 25.4, p[1] * 25.4) for p in vertices(outline))


def vertices(outline: Outline) -> tuple[Point, ...]:
    """The vertices without the points on arcs."""
    return tuple(p for p in outline if not isinstance(p, Arc))


def _centre(a: Point, b: Point, c: Point) -> Point:
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    d = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    aa, bb, cc = ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy
    return (
        (aa * (by - cy) + bb * (cy - ay) + cc * (ay - by)) / d,
        (aa * (cx - bx) + bb * (ax - cx) + cc * (bx - ax)) / d,
    )


def _segment(a: Point, through: Point, b: Point) -> float:
    """Signed area between the chord a-b and its arc; positive where the arc bulges outward."""
    x, y = _centre(a, through, b)
    radius = math.hypot(a[0] - x, a[1] - y)
    start, mid, end = (math.atan2(p[1] - y, p[0] - x) for p in (a, through, b))
    turn = (end - start) % (2 * math.pi)
    if (mid - start) % (2 * math.pi) > turn:
        turn -= 2 * math.pi
    return radius * radius * (turn - math.sin(turn)) / 2


def area_mm2(outline: Outline) -> float:
    """The exact area of an outline, arcs included."""
    corners = vertices(outline)
    total = 0.0
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
        total += (x0 * y1 - x1 * y0) / 2
    for i, p in enumerate(outline):
        if isinstance(p, Arc):
            before, after = outline[i - 1], outline[(i + 1) % len(outline)]
            assert not isinstance(before, Arc)
            assert not isinstance(after, Arc)
            total += _segment(before, p.through, after)
    return total


def balanced_border(length: float, module: float) -> float:
    """The border of the balanced layout of a run: (r + m) / 2, or a whole module where r = 0.

    With r = L mod m; the half-tile rule of US Navy NAVEDTRA 14044, Builder, p. 7-23.
    """
    if length < module:
        return length
    rest = math.fmod(length, module)
    if rest < 0.01 or module - rest < 0.01:
        return module
    return (rest + module) / 2


def cell_centre(length: float, module: float, cell: int) -> float:
    """The middle of a cell of a balanced run; cell 0 is the border, 1 the next ..."""
    return balanced_border(length, module) + (cell - 0.5) * module
