"""Brace sets: how they are spread, where they stand, which way their wires go and what they bear."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.extent import find_parts, find_walls
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
    "wire_turns",
]

_Floats = NDArray[np.float64]


def brace_keys(case: Case, braces: Braces) -> list[str]:
    """Full keys of the sets, in array order."""
    return [
        case.part(f"brace/{j}/{i}") for j, i in zip(braces.line.tolist(), braces.column.tolist(), strict=True)
    ]


def spacings(case: Case, braces: Braces) -> tuple[_Floats, _Floats]:
    """Greatest spacing in each part and direction, in mm, and a local point of that part.

    Along an axis the spacing is the widest gap between the places at which sets stand, so
    sets that are staggered by a cell count by their rows.
    """
    values, points = [], []
    for part in find_parts(case):
        inside = shapely.covers(shapely.buffer(part, tolerance.LENGTH), shapely.points(braces.point))
        at = braces.point[np.asarray(inside, dtype=bool)]
        spot = part.representative_point()
        for axis, module in ((0, case.ceiling.layout.along), (1, case.ceiling.layout.across)):
            if len(at) == 0:
                values.append(np.nan)
            else:
                rows = np.unique(np.rint(at[:, axis] / module)) * module
                values.append(float(np.diff(rows).max(initial=0.0)))
            points.append((spot.x, spot.y))
    return np.array(values), np.array(points).reshape(-1, 2)


def first_from_walls(case: Case, braces: Braces) -> tuple[_Floats, _Floats]:
    """Distance from each wall to the nearest set, in mm, and the middle of that wall."""
    walls = find_walls(case)
    sets = shapely.multipoints(braces.point)
    near = [float(shapely.distance(wall, sets)) for wall in walls]
    middles = [wall.interpolate(0.5, normalized=True) for wall in walls]
    return np.array(near), np.array([(p.x, p.y) for p in middles]).reshape(-1, 2)


def node_distances(case: Case, braces: Braces) -> _Floats:
    """Distance (n,) of each set from the nearest crossing of a main line and a cross-tee line, in mm."""
    module = np.array([case.ceiling.layout.along, case.ceiling.layout.across])
    node = np.rint(braces.point / module) * module
    away: _Floats = np.hypot(*(braces.point - node).T)
    return away


def _bottoms(case: Case, braces: Braces) -> _Floats:
    z = case.ceiling.zone.level + case.ceiling.system.main.height
    return np.column_stack([braces.point, np.full(len(braces), z)])


def wire_angles(case: Case, braces: Braces) -> _Floats:
    """Angle (n, 4) of the splay wires from the ceiling's plane in degrees; NaN where a top is not known."""
    step = braces.wire_top - _bottoms(case, braces)[:, None]
    angles: _Floats = np.degrees(np.arctan2(step[..., 2], np.hypot(step[..., 0], step[..., 1])))
    return angles


def wire_turns(case: Case, braces: Braces) -> _Floats:
    """How far (n,) the four wires of a set are from standing at right angles in plan, in degrees."""
    step = braces.wire_top - _bottoms(case, braces)[:, None]
    turn = np.sort(np.degrees(np.arctan2(step[..., 1], step[..., 0])) % 360.0, axis=1)
    between = np.diff(turn, axis=1, append=turn[:, :1] + 360.0)
    off: _Floats = np.abs(between - 90.0).max(axis=1, initial=0.0)
    return off


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
