"""Outlines cut and united so that walls stay where they were and no slivers are left.

Shapes meet on the raster of `tolerance.PRECISION`; afterwards every point that was given
gets its own coordinates back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from ifcgrid.domain import tolerance

__all__ = ["bites", "grow", "polygons", "subtract", "unite"]

MITRE_LIMIT = 20.0
"""Corners sharper than about 6 degrees are cut off when an outline is grown."""


def grow(shape: shapely.Geometry, distance: float) -> shapely.Geometry:
    """The shape grown (or shrunk) by a distance in mm, corners kept sharp."""
    # Slivers make the geometry engine divide by zero on its way; it copes, but numpy reports it.
    with np.errstate(divide="ignore", invalid="ignore"):
        return shapely.buffer(shape, distance, join_style="mitre", mitre_limit=MITRE_LIMIT)


def polygons(shape: shapely.Geometry) -> list[Polygon]:
    """The polygons of a shape, the largest first; points and lines are dropped."""
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]
    return sorted(parts, key=lambda part: (-part.area, part.bounds))


def bites(outline: Polygon, shapes: Sequence[Polygon | MultiPolygon]) -> list[list[Polygon]]:
    """For each shape the parts of it that stand in an outline deeper than a wall's finish.

    What lines the outline, or overlaps its edge by no more than `tolerance.WALL_FINISH`,
    is no bite.
    """
    core = grow(outline, -tolerance.WALL_FINISH)
    shapely.prepare(core)
    return [
        [
            part
            for part in polygons(shapely.intersection(outline, shape))
            if part.area >= tolerance.PIECE_AREA
            and shapely.intersects(core, part)
            and shapely.intersection(core, part).area >= tolerance.AREA
        ]
        for shape in shapes
    ]


def subtract(outline: Polygon, cutters: Sequence[shapely.Geometry]) -> list[Polygon]:
    """What is left of an outline, largest part first, without slits beside the cutters.

    Slits and leftovers narrower than `tolerance.WALL_FINISH` go with the cutter.
    """
    cut = shapely.union_all(list(cutters), grid_size=tolerance.PRECISION)
    rest = shapely.difference(outline, cut, grid_size=tolerance.PRECISION)
    half = tolerance.WALL_FINISH / 2
    open_rest = grow(grow(rest, -half), half)
    slits = [
        part
        for part in polygons(shapely.difference(rest, open_rest))
        if part.area >= tolerance.PIECE_AREA and part.distance(cut) <= tolerance.LENGTH
    ]
    if slits:
        rest = shapely.difference(rest, shapely.union_all(slits), grid_size=tolerance.PRECISION)
    parts = [_with_own_points(part, [outline, *cutters]) for part in polygons(rest)]
    return [part for part in parts if part.area >= tolerance.PIECE_AREA]


def unite(shapes: Sequence[Polygon]) -> list[Polygon]:
    """The union of shapes, largest part first; seams up to `tolerance.GAP` wide are closed."""
    joined = shapely.union_all(list(shapes), grid_size=tolerance.PRECISION)
    half = tolerance.GAP / 2 + tolerance.LENGTH
    closed = grow(grow(joined, half), -half)
    # However thin, for at odd angles the raster itself leaves seams; a few of its steps wider
    # than they are, so that they meet both sides.
    seams = [
        shapely.intersection(grow(seam, 10 * tolerance.PRECISION), closed)
        for seam in polygons(shapely.difference(closed, joined))
    ]
    if seams:
        joined = shapely.union_all([joined, *seams], grid_size=tolerance.PRECISION)
    return [_with_own_points(part, shapes) for part in polygons(joined)]


def _with_own_points(polygon: Polygon, sources: Iterable[shapely.Geometry]) -> Polygon:
    """The polygon with the coordinates of its sources, and no points on straight walls or pin holes."""
    known = np.concatenate([shapely.get_coordinates(source) for source in sources])
    rings = [
        _straightened(_renamed(shapely.get_coordinates(ring)[:-1], known))
        for ring in (polygon.exterior, *polygon.interiors)
        if Polygon(ring).area >= tolerance.PIECE_AREA
    ]
    rings = [ring for ring in rings if len(ring) >= 3]
    if not rings:
        return polygon
    better = orient(Polygon(rings[0], rings[1:]))
    # Points move by less than the tolerance, so the area changes by less than a strip of it.
    is_same = abs(better.area - polygon.area) <= tolerance.LENGTH * polygon.length + tolerance.PIECE_AREA
    return better if better.is_valid and is_same else polygon


def _renamed(points: NDArray[np.float64], known: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points (n, 2), those within the tolerance of a known point replaced by it."""
    tree = shapely.STRtree(np.asarray(shapely.points(known)))
    mine, theirs = tree.query_nearest(
        shapely.points(points), max_distance=tolerance.LENGTH, all_matches=False
    )
    renamed = points.copy()
    renamed[mine] = known[theirs]
    return renamed


def _straightened(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """A ring (n, 2) without doubled points and those on the straight line between their neighbours."""
    apart = np.hypot(*(points - np.roll(points, 1, axis=0)).T) > tolerance.LENGTH
    ring = list(points[apart])
    if len(ring) < 3:
        return points
    kept: list[NDArray[np.float64]] = []
    for k, point in enumerate(ring):
        if not kept or not _is_straight(kept[-1], point, ring[(k + 1) % len(ring)]):
            kept.append(point)
    if len(kept) > 3 and _is_straight(kept[-1], kept[0], kept[1]):
        kept.pop(0)
    return np.array(kept)


def _is_straight(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> bool:
    first, second = b - a, c - b
    one, two = float(np.hypot(*first)), float(np.hypot(*second))
    turn = abs(float(first[0] * second[1] - first[1] * second[0])) / (one * two)
    # The raster turns edges of a few hundredths by up to half a degree; curves turn more at once.
    is_ahead = float(first @ second) > 0 and turn <= np.radians(100 * tolerance.ANGLE_DEG)
    return bool(is_ahead and turn * min(one, two) <= tolerance.LENGTH)
