"""True shapes of obstacles: what of a mesh lies in a height band, and where a vertical line meets it.

A closed body is bounded by its triangles, so the part of it between two heights is
bounded by the triangles clipped to them; where a body fills the whole band without a
face in it, its silhouette stands for it.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.solid import is_convex

__all__ = ["band_outline", "heights_at", "heights_over"]


def _clip(
    triangles: NDArray[np.float64], low: float, high: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Corners (m, 3) of the parts of triangles (n, 3, 3) between two heights, and whose they are (m,).

    The corners are those inside the band and the points where edges pass its two planes.
    """
    start = triangles.reshape(-1, 3)
    end = np.roll(triangles, -1, axis=1).reshape(-1, 3)
    owner = np.repeat(np.arange(len(triangles)), 3)
    inside = (start[:, 2] >= low) & (start[:, 2] <= high)
    points, owners = [start[inside]], [owner[inside]]
    for plane in (low, high):
        passing = (start[:, 2] < plane) != (end[:, 2] < plane)
        a, b = start[passing], end[passing]
        share = (plane - a[:, 2]) / (b[:, 2] - a[:, 2])
        points.append(a + share[:, None] * (b - a))
        owners.append(owner[passing])
    order = np.argsort(np.concatenate(owners), kind="stable")
    return np.concatenate(points)[order], np.concatenate(owners)[order]


def band_outline(obstacle: Obstacle, low: float, high: float) -> Geometry:
    """The plan silhouette of the part of an obstacle between two model heights, in mm.

    Without a mesh, or where an open body passes the band without a face in it, that is the
    obstacle's whole outline; empty when the obstacle does not reach the band.
    """
    if obstacle.top < low or obstacle.bottom > high:
        return Polygon()
    if obstacle.mesh is None or (obstacle.bottom >= low and obstacle.top <= high):
        return obstacle.outline
    mesh = obstacle.mesh
    reaching = mesh[(mesh[:, :, 2].max(axis=1) >= low) & (mesh[:, :, 2].min(axis=1) <= high)]
    points, owner = _clip(reaching, low, high)
    if len(points) == 0:
        # A closed body always has faces where it fills a band; an open sheet may lack its sides.
        return Polygon() if _is_closed(mesh) else obstacle.outline
    if is_convex(mesh):
        hull = shapely.convex_hull(shapely.MultiPoint(points[:, :2]))
        flat: Geometry = shapely.buffer(hull, tolerance.LENGTH)
        return hull if isinstance(hull, Polygon) else flat
    # Upright faces have a line for a plan; a hair of width makes them areas that can be united.
    piece = np.unique(owner, return_inverse=True)[1]
    hulls = shapely.convex_hull(shapely.multipoints(points[:, :2], indices=piece))
    united = shapely.union_all(shapely.buffer(hulls, tolerance.LENGTH, quad_segs=1))
    filled = [Polygon(part.exterior) for part in shapely.get_parts(united) if isinstance(part, Polygon)]
    # A ring of upright faces is filled; the silhouette keeps the holes that go all the way through.
    return shapely.intersection(shapely.union_all(filled), obstacle.outline)


def _is_closed(mesh: NDArray[np.float64]) -> bool:
    """Whether the area vectors of triangles (n, 3, 3) cancel, as those of every closed surface do."""
    normal = np.cross(mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0])
    total = np.linalg.norm(normal, axis=1).sum()
    return bool(np.linalg.norm(normal.sum(axis=0)) <= tolerance.ALIKE * total)


def heights_over(obstacle: Obstacle, area: Geometry) -> tuple[float, float]:
    """Lowest and highest z of an obstacle's surface over an area, both in model coordinates, in mm."""
    if obstacle.mesh is None or shapely.covers(area, obstacle.outline):
        return obstacle.bottom, obstacle.top
    mesh = obstacle.mesh
    plans = np.asarray(shapely.polygons(mesh[:, :, :2]))
    flat = shapely.area(plans) > tolerance.AREA
    cut = shapely.intersection(plans[flat], area)
    points, owner = shapely.get_coordinates(cut, return_index=True)
    if len(points) == 0:
        return obstacle.bottom, obstacle.top
    z = _heights_on(mesh[flat][owner], points)
    return float(z.min()), float(z.max())


def _heights_on(triangles: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights (n,) of the planes of triangles (n, 3, 3) at plan points (n, 2), within each triangle's own."""
    a, u, v = triangles[:, 0], triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    normal = np.cross(u, v)
    step = points - a[:, :2]
    z = a[:, 2] - (normal[:, 0] * step[:, 0] + normal[:, 1] * step[:, 1]) / normal[:, 2]
    heights: NDArray[np.float64] = np.clip(z, triangles[:, :, 2].min(axis=1), triangles[:, :, 2].max(axis=1))
    return heights


def heights_at(obstacle: Obstacle, point: NDArray[np.float64]) -> list[tuple[float, float]]:
    """The stretches (bottom, top) in which a vertical line at a plan point runs inside an obstacle."""
    if obstacle.mesh is None:
        inside = shapely.intersects_xy(obstacle.outline, *point)
        return [(obstacle.bottom, obstacle.top)] if inside else []
    mesh = obstacle.mesh
    plan = mesh[:, :, :2]
    near = (plan.min(axis=1) <= point).all(axis=1) & (plan.max(axis=1) >= point).all(axis=1)
    mesh, plan = mesh[near], plan[near]
    to_point = point - plan
    sides = np.roll(plan, -1, axis=1) - plan
    cross = sides[:, :, 0] * to_point[:, :, 1] - sides[:, :, 1] * to_point[:, :, 0]
    area = cross.sum(axis=1)
    inside = (np.abs(area) > tolerance.AREA) & (cross * np.sign(area)[:, None] >= 0).all(axis=1)
    if not inside.any():
        return []
    z = np.sort(_heights_on(mesh[inside], np.broadcast_to(point, (int(inside.sum()), 2))))
    z = z[np.concatenate([[True], np.diff(z) > tolerance.LENGTH])]
    # A line through an edge meets two faces at one height and may count odd: then trust the extremes.
    if len(z) % 2:
        return [(float(z[0]), float(z[-1]))]
    return [(float(a), float(b)) for a, b in z.reshape(-1, 2)]
