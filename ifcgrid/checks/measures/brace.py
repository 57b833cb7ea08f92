"""Brace sets: how they are spread, where they stand, which way their wires go and what they bear."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.extent import find_parts
from ifcgrid.domain import tolerance
from ifcgrid.domain.hanging import Braces
from ifcgrid.domain.obstacle import SERVICES
from ifcgrid.domain.segments import gaps_between, triangles_of

__all__ = [
    "brace_keys",
    "find_clearances",
    "first_from_walls",
    "force_on_wires",
    "node_distances",
    "spacings",
    "wire_angles",
]

_Floats = NDArray[np.float64]


def brace_keys(case: Case, braces: Braces) -> list[str]:
    """Full keys of the sets, in array order."""
    return [
        case.part(f"brace/{j}/{i}") for j, i in zip(braces.line.tolist(), braces.column.tolist(), strict=True)
    ]


def spacings(case: Case, braces: Braces) -> tuple[_Floats, _Floats]:
    """Spacing (n,) of the sets of each part in mm, and a local point in it; NaN where it has none.

    Twice the greatest distance of any place of the part from its nearest set, along the
    mains or across them: in a regular grid whose first sets are half a spacing from the
    walls this is the spacing, and in any other it is the spacing of the widest gap.
    """
    return _by_part(case, braces, lambda part, sets: 2 * _reach(part, sets))


def first_from_walls(case: Case, braces: Braces, spacing: float) -> tuple[_Floats, _Floats]:
    """Distance (n,) from the walls to the first sets of each part in mm, and a local point in it.

    The least e for which sets that hold half a spacing all round also hold what lies
    within half a spacing less e beyond the walls.
    """

    def measure(part: Polygon, sets: _Floats) -> float:
        held = _squares(sets, spacing / 2)

        def is_held(end: float) -> bool:
            grown = shapely.buffer(part, spacing / 2 - end, join_style="mitre", cap_style="square")
            return bool(shapely.difference(grown, held).area <= tolerance.AREA)

        return _least(is_held, 2 * float(np.abs(part.bounds).max()) + spacing)

    return _by_part(case, braces, measure)


def _by_part(
    case: Case, braces: Braces, measure: Callable[[Polygon, _Floats], float]
) -> tuple[_Floats, _Floats]:
    values, points = [], []
    for part in find_parts(case):
        near = shapely.buffer(part, tolerance.SHORTEST_EDGE)
        inside = np.asarray(shapely.covers(near, shapely.points(braces.point)), dtype=bool)
        values.append(measure(part, braces.point[inside]) if inside.any() else np.nan)
        spot = part.representative_point()
        points.append((spot.x, spot.y))
    return np.array(values, dtype=float), np.array(points, dtype=float)


def _squares(sets: _Floats, half: float) -> Geometry:
    low, high = sets - half, sets + half
    squares: Geometry = shapely.union_all(shapely.box(*low.T, *high.T))
    return squares


def _reach(part: Polygon, sets: _Floats) -> float:
    """How far any place of a part is from its nearest set, along either axis."""

    def is_held(half: float) -> bool:
        return bool(shapely.difference(part, _squares(sets, half)).area <= tolerance.AREA)

    return _least(is_held, float(np.ptp(np.array(part.bounds).reshape(2, 2), axis=0).max()) * 2)


def _least(holds: Callable[[float], bool], most: float) -> float:
    """The least number at which something holds that holds at every greater one, by halving."""
    low, high = 0.0, most
    while high - low > tolerance.LENGTH / 4:
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def node_distances(case: Case, braces: Braces) -> _Floats:
    """Distance (n,) of each set from the nearest crossing of a main line and a cross-tee line, in mm."""
    layout = case.ceiling.layout
    u, v = braces.point.T
    line = np.rint(v / layout.across).astype(np.int64)
    offsets = np.array(layout.row_offsets)
    # Where rows are shifted, tees come to a main from both sides at different places.
    shifts = [offsets[(line + side) % len(offsets)] for side in (-1, 0)]
    aside = [np.abs((u - s) - np.rint((u - s) / layout.along) * layout.along) for s in shifts]
    away: _Floats = np.hypot(np.minimum(*aside), v - line * layout.across)
    return away


def _bottoms(case: Case, braces: Braces) -> _Floats:
    z = case.ceiling.zone.level + case.ceiling.system.main.height
    return np.column_stack([braces.point, np.full(len(braces), z)])


def wire_angles(case: Case, braces: Braces) -> _Floats:
    """Angle (n, 4) of the splay wires from the ceiling's plane in degrees; NaN where a top is not known."""
    step = braces.wire_top - _bottoms(case, braces)[:, None]
    angles: _Floats = np.degrees(np.arctan2(step[..., 2], np.hypot(step[..., 0], step[..., 1])))
    return angles


def find_clearances(case: Case, braces: Braces) -> _Floats:
    """Distance (n,) from the splay wires of each set to the nearest duct, pipe, tray or equipment, in mm."""
    clear = np.full(len(braces), np.inf)
    foot = _bottoms(case, braces)
    world = case.ceiling.layout.frame.to_world
    services = [o for o in case.obstacles if o.kind in SERVICES]
    for k in range(len(braces)):
        tops = braces.wire_top[k][~np.isnan(braces.wire_top[k]).any(axis=1)]
        for top in tops:
            ends = np.array([foot[k], top])
            start, end = np.column_stack([world(ends[:, :2]), ends[:, 2]])
            for service in services:
                faces = triangles_of(service)
                gap = gaps_between(
                    np.broadcast_to(start, (len(faces), 3)), np.broadcast_to(end, (len(faces), 3)), faces
                )
                clear[k] = min(clear[k], float(gap.min(initial=np.inf)))
    return clear


def force_on_wires(case: Case, braces: Braces, share: float, least: float) -> tuple[_Floats, _Floats]:
    """Force and wire tension (n,) of each set, in N, for a horizontal force of `share` of the weight.

    Each set takes the part of the ceiling that is nearest to it; the weight is at least
    `least` N/mm2. One wire takes the force alone along each axis of the ceiling, at its own
    angle; the greatest of both axes and directions counts. NaN where a wire's top is not known.
    """
    areas = _tributary(case, braces)
    weight = max(case.loads.weight_n / case.outline.area, least)
    force = share * weight * areas
    step = braces.wire_top - _bottoms(case, braces)[:, None]
    size = np.linalg.norm(step, axis=2)
    worst = np.zeros(len(braces))
    for direction in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        pull = (step[..., 0] * direction[0] + step[..., 1] * direction[1]) / size
        # Of the wires that pull this way, the one that pulls best takes the force alone.
        best = np.max(pull, axis=1)
        worst = np.maximum(worst, np.where(best > 0, 1 / np.where(best > 0, best, 1), np.inf))
        worst = np.where(np.isnan(best), np.nan, worst)
    return force, force * worst


def _tributary(case: Case, braces: Braces) -> _Floats:
    """The part (n,) of the ceiling's area nearest to each set, in mm2."""
    if len(braces) == 1:
        return np.array([case.outline.area])
    cells = shapely.voronoi_polygons(shapely.multipoints(braces.point), extend_to=case.outline)
    parts = shapely.get_parts(cells)
    tree = shapely.STRtree(parts)
    point, cell = tree.query(shapely.points(braces.point), predicate="intersects")
    areas = np.zeros(len(braces))
    areas[point] = shapely.area(shapely.intersection(parts[cell], case.outline))
    return areas
