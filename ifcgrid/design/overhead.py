"""What is above a ceiling's mains: what hangers have to get past, and the soffits that carry them.

Services and beams count as upright prisms over their plan silhouettes, which is exact for
lines that go straight up and on the careful side for lines that lean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, LineString

from ifcgrid.design.stretches import Stretch, unite
from ifcgrid.domain import tolerance
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.soffit import SoffitIndex, undersides
from ifcgrid.domain.system import GridSystem

__all__ = ["DEEPEST_BEAM", "Line", "Overhead"]

DEEPEST_BEAM = 1000.0
"""Structure is looked for from this far below a ceiling, in mm: a beam may hang through it."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A stretch of a line along local u (axis 0) or v (axis 1), at a place on the other axis."""

    axis: int
    at: float
    low: float
    high: float

    def points(self, places: Sequence[float]) -> _Floats:
        """Local points (n, 2) at places along it."""
        points = np.full((len(places), 2), self.at)
        points[:, self.axis] = places
        return points

    def area(self, low: float, high: float) -> Geometry:
        """What lies beside it, from `low` to `high` on the other axis; a line where they are equal."""
        one, other = (self.low, low), (self.high, high)
        if self.axis == 1:
            one, other = one[::-1], other[::-1]
        return LineString([one, other]) if low == high else shapely.box(*one, *other)


class Overhead:
    """A zone's services and structure in the axes of its layout; `floor` is the z of the mains' tops."""

    def __init__(
        self,
        zone: Zone,
        system: GridSystem,
        layout: Layout,
        structure: Sequence[Obstacle],
        services: Sequence[Obstacle],
    ) -> None:
        self.layout = layout
        self.floor = zone.level + system.main.height
        self.structure = [s for s in structure if s.top > zone.level]  # the rest stands under the ceiling
        self.outline = layout.frame.shape_to_local(zone.outline)
        self._deepest = zone.level - DEEPEST_BEAM
        self._index = SoffitIndex(self.structure)
        self._low = [s for s in self.structure if s.bottom < self.floor]
        beams = [s for s in self.structure if s.kind is Kind.BEAM]
        self.hurdles = [o for o in (*services, *beams) if o.top > self.floor]
        self._clearance = system.hanging.clearance
        self._radius = system.hanger_diameter / 2
        margin = self._clearance + self._radius
        self._shapes = [self._kept_free(hurdle, margin) for hurdle in self.hurdles]
        self._tree = shapely.STRtree(self._shapes)

    def _kept_free(self, hurdle: Obstacle, margin: float) -> Geometry:
        """Where no hanger may pass a hurdle. One under a beam ends at it; beside it, it passes."""
        local = self.layout.frame.shape_to_local(hurdle.outline)
        around: Geometry = shapely.buffer(local, margin, join_style="mitre")
        return shapely.difference(around, local) if hurdle.kind is Kind.BEAM else around

    def soffits(self, points: _Floats) -> tuple[_Floats, NDArray[np.int64]]:
        """The soffit over local points (n, 2) and whose it is; NaN where structure leaves no room.

        The index is that of `structure`, -1 where none is above.
        """
        if not self.structure:
            return np.full(len(points), np.nan), np.full(len(points), -1, dtype=np.int64)
        places = self.layout.frame.to_world(points)
        top, above = self._index.find(places, self.floor)
        if not self._low:
            return top, above
        low, lowest = self._index.find(places, self._deepest)
        is_blocked = low < self.floor
        return np.where(is_blocked, np.nan, top), np.where(is_blocked, lowest, above)

    def low_stretches(self, line: Line) -> list[Stretch]:
        """Where along a line structure reaches down to the mains, so that nothing can hang there."""
        found: list[Stretch] = []
        for obstacle in self._low:
            if obstacle.mesh is None:
                if obstacle.bottom > self._deepest:
                    shape = self.layout.frame.shape_to_local(obstacle.outline)
                    found += _stretches(shapely.intersection(shape, line.area(line.at, line.at)), line.axis)
                continue
            mesh = undersides(obstacle.mesh)
            local = self.layout.frame.to_local(mesh[:, :, :2].reshape(-1, 2)).reshape(-1, 3, 2)
            found += _below(np.dstack([local, mesh[:, :, 2]]), line, self._deepest, self.floor)
        return unite(s for s in found if s[1] > line.low and s[0] < line.high)

    def inside(self, line: Line) -> list[Stretch]:
        """The stretches of a line that lie in the room."""
        return unite(_stretches(shapely.intersection(self.outline, line.area(line.at, line.at)), line.axis))

    def taken(self, line: Line, along: float = 0.0, aside: float = 0.0) -> list[tuple[Stretch, int]]:
        """Stretches of a line where a hanger that starts there meets a hurdle, and the hurdle.

        `along` and `aside` are how far the hanger leans for each mm that it rises: along the
        line and to the greater side of it. Hurdles above the soffit do not count, and none
        where no soffit is known.
        """
        found: list[tuple[Stretch, int]] = []
        for k in self._near(line, along, aside):
            low, high = self.rise(k)
            # A hair longer, so that what reaches past the ends is not taken to end there.
            sides = sorted((line.at + aside * low, line.at + aside * high))
            far = Line(
                axis=line.axis,
                at=line.at,
                low=line.low + min(along * low, along * high) - tolerance.SHORTEST_MEMBER,
                high=line.high + max(along * low, along * high) + tolerance.SHORTEST_MEMBER,
            )
            shifts = sorted((along * low, along * high))
            cut = shapely.intersection(self._shapes[k], far.area(sides[0], sides[1]))
            found += [((a - shifts[1], b - shifts[0]), k) for a, b in _stretches(cut, line.axis)]
        return self._under_soffits(line, found)

    def met(self, line: Line, clearance: float) -> list[Stretch]:
        """Stretches of a line where a straight hanger comes nearer to a hurdle than a lesser clearance."""
        hair = tolerance.SHORTEST_MEMBER  # as in `taken`
        far = replace(line, low=line.low - hair, high=line.high + hair)
        area, margin = far.area(line.at, line.at), clearance + self._radius
        found = [
            (stretch, k)
            for k in self._near(line, 0.0, 0.0)
            for stretch in _stretches(
                shapely.intersection(self._kept_free(self.hurdles[k], margin), area), line.axis
            )
        ]
        return [s for s, _ in self._under_soffits(line, found)]

    def beside(self, line: Line, place: float) -> tuple[float, tuple[int, ...]]:
        """How near a straight hanger comes to the hurdles in its clearance, in mm, and which they are."""
        spot = Line(axis=line.axis, at=line.at, low=place, high=place)
        hurdles = tuple(sorted({k for (a, b), k in self.taken(spot) if a < place < b}))
        x, y = self.layout.frame.to_world(line.points([place]))[0].tolist()
        point = shapely.Point(x, y)
        gaps = [float(shapely.distance(self.hurdles[k].outline, point)) - self._radius for k in hurdles]
        return min(gaps, default=self._clearance), hurdles

    def rise(self, hurdle: int) -> tuple[float, float]:
        """How far above the mains' tops a hurdle's band begins and ends, clearance included, in mm."""
        body = self.hurdles[hurdle]
        return (
            max(body.bottom - self._clearance - self.floor, 0.0),
            body.top + self._clearance - self.floor,
        )

    def _near(self, line: Line, along: float, aside: float) -> list[int]:
        if not self.hurdles:
            return []
        reach = (
            max((self.rise(k)[1] for k in range(len(self.hurdles))), default=0.0) if along or aside else 0.0
        )
        wide = Line(
            axis=line.axis, at=line.at, low=line.low - abs(along) * reach, high=line.high + abs(along) * reach
        )
        sides = sorted((line.at, line.at + aside * reach))
        near: list[int] = sorted(self._tree.query(wide.area(sides[0], sides[1])).tolist())
        return near

    def _under_soffits(self, line: Line, found: list[tuple[Stretch, int]]) -> list[tuple[Stretch, int]]:
        if not found:
            return found
        places = [
            min(max(place, line.low), line.high) for (a, b), _ in found for place in (a, (a + b) / 2, b)
        ]
        tops = self.soffits(line.points(places))[0].reshape(-1, 3)
        highest = np.where(np.isnan(tops), -np.inf, tops).max(axis=1)
        return [f for f, top in zip(found, highest.tolist(), strict=True) if self.hurdles[f[1]].bottom < top]


def _stretches(shape: Geometry, axis: int) -> list[Stretch]:
    """The extents along an axis of the parts of a shape."""
    bounds = shapely.bounds(shapely.get_parts(shape))
    bounds = bounds[~np.isnan(bounds[:, 0])]
    return [(float(a), float(b)) for a, b in bounds[:, [axis, axis + 2]]]


def _below(mesh: _Floats, line: Line, deepest: float, floor: float) -> list[Stretch]:
    """Where along a line triangles (n, 3, 3) lie between two heights."""
    side = mesh[:, :, 1 - line.axis] - line.at
    mesh = mesh[(side.min(axis=1) <= 0) & (side.max(axis=1) >= 0) & (mesh[:, :, 2].min(axis=1) < floor)]
    found: list[Stretch] = []
    for corners in mesh:
        places: list[tuple[float, float]] = []
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            a, b = start[1 - line.axis] - line.at, end[1 - line.axis] - line.at
            if (a <= 0) != (b <= 0):
                point = start + a / (a - b) * (end - start)
                places.append((float(point[line.axis]), float(point[2])))
        if len(places) == 2:
            found += _clip(sorted(places), deepest, floor)
    return found


def _clip(ends: list[tuple[float, float]], deepest: float, floor: float) -> list[Stretch]:
    """What of a straight piece, given as two (place, height), lies between two heights."""
    (p, low), (q, high) = ends
    shares = [0.0, 1.0]
    if abs(high - low) > tolerance.LENGTH:
        at = sorted(((deepest - low) / (high - low), (floor - low) / (high - low)))
        shares = [max(at[0], 0.0), min(at[1], 1.0)]
    elif not deepest < low < floor:
        return []
    return [(p + shares[0] * (q - p), p + shares[1] * (q - p))] if shares[0] < shares[1] else []
