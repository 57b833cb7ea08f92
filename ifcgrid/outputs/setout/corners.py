"""The corners of a room by its walls' letters, the angles there, and the two diagonals to measure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.setout.wall import Wall

__all__ = ["Corner", "Diagonal", "find_corners", "find_diagonals"]

_MOST_CORNERS = 80
"""Of rooms with more corners, those with the longest walls are tried for diagonals."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corner:
    """Where two walls of the outer ring meet: its name by their letters, its place (local).

    `angle_deg` is the angle inside the room, None where a curve meets it.
    """

    name: str
    point: NDArray[np.float64]
    angle_deg: float | None

    @property
    def is_square(self) -> bool:
        """Whether the angle is a right one, or a right one from outside."""
        return (
            self.angle_deg is None
            or min(abs(self.angle_deg - 90.0), abs(self.angle_deg - 270.0)) <= tolerance.ANGLE_DEG
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Diagonal:
    """A line through the room from corner to corner."""

    start: Corner
    end: Corner

    @property
    def length(self) -> float:
        """In mm."""
        return float(np.hypot(*(self.end.point - self.start.point)))


def find_corners(walls: Sequence[Wall]) -> tuple[Corner, ...]:
    """The corners of the outer ring in its order, the first one between the last and the first wall."""
    ring = [wall for wall in walls if wall.ring == 0]
    if len(ring) < 2:
        return ()
    corners = []
    sign = _turning(ring)
    for before, after in zip([ring[-1], *ring[:-1]], ring, strict=True):
        angle = None
        if not before.is_curve and not after.is_curve:
            (ax, ay), (bx, by) = before.inward, after.inward
            turn = math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by))
            angle = 180.0 - sign * turn
        corners.append(Corner(name=f"{before.letter}/{after.letter}", point=after.points[0], angle_deg=angle))
    return tuple(corners)


def _turning(ring: Sequence[Wall]) -> float:
    """1 when the walls go round counter-clockwise, else -1."""
    x, y = np.vstack([wall.points[:-1] for wall in ring]).T
    return 1.0 if float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) >= 0 else -1.0


def find_diagonals(ceiling: Ceiling, walls: Sequence[Wall]) -> tuple[Diagonal, ...]:
    """The two diagonals of the room that a tape can be stretched along, the longest first.

    The second is the longest one that crosses the first; where none does, the longest that
    shares no corner with it. A room with fewer than four corners has none.
    """
    corners = find_corners(walls)
    if len(corners) > _MOST_CORNERS:
        reach = {wall.letter: wall.length for wall in walls}
        longest = sorted(corners, key=lambda c: -min(reach[letter] for letter in c.name.split("/")))
        kept = set(map(id, longest[:_MOST_CORNERS]))
        corners = tuple(corner for corner in corners if id(corner) in kept)
    if len(corners) < 4:
        return ()
    pairs = [
        (a, b)
        for a, b in combinations(range(len(corners)), 2)
        if b - a > 1 and (a, b) != (0, len(corners) - 1)
    ]
    points = np.array([corner.point for corner in corners])
    lines = shapely.linestrings(points[np.array(pairs)])
    room = ceiling.layout.frame.shape_to_local(ceiling.zone.outline).buffer(tolerance.SHORTEST_EDGE)
    shapely.prepare(room)
    inside = [
        (pair, line)
        for pair, line, is_in in zip(pairs, lines, shapely.covers(room, lines), strict=True)
        if is_in
    ]
    return _pick(corners, sorted(inside, key=lambda found: (-round(found[1].length, 2), found[0])))


def _pick(
    corners: Sequence[Corner], inside: Sequence[tuple[tuple[int, int], shapely.LineString]]
) -> tuple[Diagonal, ...]:
    if not inside:
        return ()
    first, line = inside[0]
    apart = [found for found in inside[1:] if not set(found[0]) & set(first)]
    crossing = [found for found in apart if found[1].crosses(line)]
    chosen = [first, *(found[0] for found in (crossing or apart)[:1])]
    return tuple(Diagonal(start=corners[a], end=corners[b]) for a, b in chosen)
