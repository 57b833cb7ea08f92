"""Outlines in plan: closing the segments of a cut into polygons, and cleaning rings. No IFC here."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from ifcgrid.domain import tolerance

__all__ = ["clean", "crossing_point", "filled", "merged", "polygons_of"]

SNAPS = (tolerance.LENGTH / 100, tolerance.LENGTH, tolerance.SHORTEST_EDGE)
"""Grids on which loose ends are joined, the finest first: a coarser one only when gaps remain."""


def polygons_of(shape: shapely.Geometry) -> list[Polygon]:
    """The polygons of a shape with area, the largest first; lines and points are dropped."""
    found = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and p.area > 0.0]
    return sorted(found, key=lambda p: (-p.area, p.bounds))


def merged(shapes: Sequence[Polygon | MultiPolygon]) -> Polygon | MultiPolygon:
    """The union of polygons; an empty polygon when there is none."""
    parts = polygons_of(shapely.union_all(list(shapes), grid_size=SNAPS[0])) if shapes else []
    if not parts:
        return Polygon()
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def filled(segments: NDArray[np.float64]) -> Polygon | MultiPolygon:
    """The area that closed chains of segments (n, 2, 2) bound, by the even-odd rule.

    Chains that do not close within `SNAPS` are dropped.
    """
    best: tuple[float, list[Polygon]] = (0.0, [])
    for grid in SNAPS:
        faces, is_closed = _faces(segments, grid)
        area = math.fsum(f.area for f in faces)
        if area > best[0] * (1.0 + 1e-9):
            best = (area, faces)
        if is_closed:
            break
    return merged(best[1])


def _faces(segments: NDArray[np.float64], grid: float) -> tuple[list[Polygon], bool]:
    """Faces inside by the even-odd rule, and whether no loose ends were left."""
    snapped = np.round(segments / grid) * grid
    snapped = snapped[np.any(snapped[:, 0] != snapped[:, 1], axis=1)]
    if len(snapped) == 0:
        return [], False
    lines = shapely.union_all(shapely.linestrings(snapped), grid_size=grid)
    faces, cuts, dangles, _ = shapely.polygonize_full([lines])
    parts = [p for p in shapely.get_parts(faces) if p.area > 0.0]
    is_closed = len(shapely.get_parts(cuts)) == 0 and len(shapely.get_parts(dangles)) == 0
    if not parts:
        return [], is_closed
    inside = _is_inside(shapely.get_coordinates(shapely.point_on_surface(parts)), snapped)
    # Faces that lie on each other leave hairs of rounding between them, which must part nothing.
    inside |= shapely.area(parts) < 0.5 * tolerance.LENGTH * shapely.length(parts)
    return [p for p, keep in zip(parts, inside, strict=True) if keep], is_closed


def _is_inside(points: NDArray[np.float64], segments: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Even-odd rule: whether a ray along +x from each point crosses an odd number of segments."""
    x, y = points[:, :1], points[:, 1:]
    (x0, y0), (x1, y1) = segments[:, 0].T, segments[:, 1].T
    spans = (y0 <= y) != (y1 <= y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
        crossed = spans & (at > x)
    odd: NDArray[np.bool_] = crossed.sum(axis=1) % 2 == 1
    return odd


def crossing_point(segments: NDArray[np.float64]) -> tuple[float, float] | None:
    """Where two of the segments (n, 2, 2) cross away from their ends, the least such point; else None."""
    lines = np.atleast_1d(np.asarray(shapely.linestrings(segments), dtype=object))
    first, second = shapely.STRtree(lines).query(lines, predicate="crosses")
    along = segments[:, 1] - segments[:, 0]
    along = along / np.hypot(*along.T)[:, None].clip(min=tolerance.LENGTH)
    u, v = along[first], along[second]
    # Pieces of one wall that are cut up differently lie on each other and cross by rounding alone.
    sine = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    ahead = (first < second) & (sine > math.sin(math.radians(tolerance.ANGLE_DEG)))
    first, second = first[ahead], second[ahead]
    if len(first) == 0:
        return None
    met = np.asarray(shapely.intersection(lines[first], lines[second]), dtype=object)
    ends = shapely.multipoints(np.concatenate([segments[first], segments[second]], axis=1))
    real = (shapely.get_type_id(met) == 0) & (shapely.distance(met, ends) > tolerance.LENGTH)
    if not real.any():
        return None
    x, y = min(map(tuple, shapely.get_coordinates(met[real]).tolist()))
    return x, y


def clean(polygon: Polygon) -> Polygon:
    """A polygon without drawing noise: outer ring counter-clockwise, holes clockwise.

    Vertices closer than `tolerance.LENGTH`, vertices that lie on the line of their
    neighbours within it, and edges shorter than `tolerance.SHORTEST_EDGE` go; a corner cut
    off by such an edge becomes the corner that was meant. No other vertex moves, so arcs
    keep theirs. Holes without area go. The result is empty when nothing is left.
    """
    outer = _clean_ring(np.asarray(polygon.exterior.coords)[:-1, :2])
    if outer is None:
        return Polygon()
    rings = (_clean_ring(np.asarray(r.coords)[:-1, :2]) for r in polygon.interiors)
    result = Polygon(outer, _brought_together([r for r in rings if r is not None], outer))
    if not result.is_valid:
        parts = polygons_of(result.buffer(0.0))
        if not parts:
            return Polygon()
        result = parts[0]
    return orient(result)


def _brought_together(
    holes: list[NDArray[np.float64]], outer: NDArray[np.float64]
) -> list[NDArray[np.float64]]:
    """Holes whose corners within `tolerance.SHORTEST_EDGE` of a corner of an earlier ring are that corner.

    Kernels draw corners that touch a few hundredths of a mm apart, and cleaning moves them
    by as much: rings that met in a point would cross by a hair.
    """
    known, together = outer, []
    for hole in holes:
        apart = np.hypot(*(hole[:, None] - known[None]).transpose(2, 0, 1))
        nearest = apart.argmin(axis=1)
        is_same = apart[np.arange(len(hole)), nearest] <= tolerance.SHORTEST_EDGE
        together.append(np.where(is_same[:, None], known[nearest], hole))
        known = np.concatenate([known, together[-1]])
    return together


def _clean_ring(ring: NDArray[np.float64]) -> NDArray[np.float64] | None:
    points = _without_short_edges(_without_collinear(ring))
    points = _without_collinear(points)
    if len(points) < 3 or Polygon(points).area <= tolerance.AREA:
        return None
    return points


def _without_collinear(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    if len(ring) < 3:
        return ring
    # The vertex farthest from the middle is a corner for certain: simplification may start there.
    start = int(np.argmax(np.hypot(*(ring - ring.mean(axis=0)).T)))
    turned = np.roll(ring, -start, axis=0)
    line = shapely.linestrings(np.vstack([turned, turned[:1]]))
    return shapely.get_coordinates(shapely.simplify(line, tolerance.LENGTH, preserve_topology=False))[:-1]


def _without_short_edges(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    points = ring
    while len(points) > 3:
        lengths = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
        i = int(np.argmin(lengths))
        if lengths[i] >= tolerance.SHORTEST_EDGE:
            break
        points = _without_edge(points, lengths, i)
    return points


def _without_edge(points: NDArray[np.float64], lengths: NDArray[np.float64], i: int) -> NDArray[np.float64]:
    """Takes edge i out: its neighbours are prolonged to meet, or else one end goes."""
    n = len(points)
    j, before, after = (i + 1) % n, (i - 1) % n, (i + 2) % n
    corner = _meeting(points[before], points[i], points[j], points[after])
    if corner is not None:
        points = points.copy()
        points[i] = corner
        return np.delete(points, j, axis=0)
    # A small step in a straight wall: let the longer side bend, so that directions change least.
    return np.delete(points, i if lengths[before] >= lengths[j] else j, axis=0)


def _meeting(
    a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64], d: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Where line a-b prolonged past b meets line d-c prolonged past c, if that is near."""
    u, v = b - a, c - d
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < 1e-12 * float(np.hypot(*u) * np.hypot(*v)):
        return None
    t = float((c - b)[0] * v[1] - (c - b)[1] * v[0]) / cross
    point: NDArray[np.float64] = b + t * u
    near = max(np.hypot(*(point - b)), np.hypot(*(point - c))) <= tolerance.SHORTEST_EDGE
    return point if near else None
