"""The ceiling as a whole: its parts and their sizes, its weight, how the grid ends at the walls."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from ifcgrid.checks.case import Case
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role

__all__ = ["area_weight", "find_parts", "find_walls", "long_over_short", "wall_gaps"]


def find_parts(case: Case) -> list[Polygon]:
    """What separation joints part the ceiling into, local; the whole where there are none."""
    if not case.ceiling.joints:
        return [case.outline]
    cuts = [_lengthened(joint.start, joint.end) for joint in case.ceiling.joints]
    lines = shapely.union_all([case.outline.boundary, *cuts])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    inside = [p for p in faces.tolist() if case.outline.contains(p.representative_point())]
    return sorted(inside or [case.outline], key=lambda p: p.bounds)


def _lengthened(start: tuple[float, float], end: tuple[float, float]) -> LineString:
    """A joint that reaches a hair past its ends, so that it cuts the outline it ends at."""
    a, b = np.array(start), np.array(end)
    reach = (b - a) / max(float(np.hypot(*(b - a))), tolerance.LENGTH) * tolerance.SHORTEST_EDGE
    return LineString([a - reach, b + reach])


def long_over_short(part: Polygon) -> float:
    """Long over short side of the smallest rectangle round a part."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(part))[:3]
    sides = sorted(float(np.hypot(*(b - a))) for a, b in pairwise(corners))
    return sides[1] / max(sides[0], tolerance.LENGTH)


def area_weight(case: Case) -> float:
    """Weight of the ceiling with all that it carries, over its area, in N/mm2."""
    return case.loads.weight_n / case.outline.area


def find_walls(case: Case) -> list[LineString]:
    """The edges of the outline, local."""
    rings = (case.outline.exterior, *case.outline.interiors)
    return [LineString(pair) for ring in rings for pair in pairwise(ring.coords)]


def wall_gaps(case: Case) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Ends on a wall angle: their members (n,), local places (n, 2) and gaps (n,) to the wall in mm."""
    members = case.ceiling.members
    chosen = np.flatnonzero(members.role != Role.WALL_ANGLE)
    member = np.concatenate([chosen, chosen])
    point = np.concatenate([members.start[chosen], members.end[chosen]])
    gap = np.asarray(shapely.distance(case.outline.boundary, shapely.points(point)))
    at_wall = gap <= case.ceiling.system.angle.face + tolerance.LENGTH
    return member[at_wall], point[at_wall], gap[at_wall]
