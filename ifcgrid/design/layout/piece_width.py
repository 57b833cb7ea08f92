"""How narrow a piece of a panel is at its narrowest passage.

The width of a convex piece is the least distance between two parallel lines that hold it:
a triangle's is its shortest altitude, however long its sides. A piece with re-entrant
corners or a hole is also cut across from every such corner to the nearest side that faces
it; its narrowest passage is the shortest of these cuts. A cut counts when it leaves more on
either hand than a bump shallower than a quarter of its length. So the arms of an L count, and
a panel with a column in its middle is as narrow as what is left around the column: a cell
of 24 in with an 18 in column in its centre is a ring of 3 in. Neither area nor bounding box
would tell.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.polygon import orient

from ifcgrid.design.layout.ragged import firsts, fold, pair_up
from ifcgrid.design.layout.walls import Edges
from ifcgrid.domain import tolerance

__all__ = ["find_shape", "measure_widths", "widths_in_cells"]

_Floats = NDArray[np.float64]


def find_shape(edges: Edges) -> shapely.Geometry:
    """The area that edges enclose, in their axes."""
    lines = [LineString([a, b]) for a, b in zip(edges.start.tolist(), edges.end.tolist(), strict=True)]
    shape: shapely.Geometry = shapely.build_area(MultiLineString(lines))
    return shape


def widths_in_cells(shape: shapely.Geometry, low: _Floats, module: tuple[float, float]) -> _Floats:
    """Width (n,) of what cells hold of a room; `low` (n, 2) are the cells' least corners."""
    cells = shapely.box(low[:, 0], low[:, 1], low[:, 0] + module[0], low[:, 1] + module[1])
    shapely.prepare(shape)
    return measure_widths(shapely.intersection(shape, cells))


def measure_widths(pieces: Sequence[shapely.Geometry] | NDArray[np.object_]) -> _Floats:
    """Width in mm of each piece (n,); of several parts the narrowest that is no scrap, 0 where none is."""
    shapes = np.asarray(pieces, dtype=object)
    widths = np.zeros(len(shapes))
    parts, owner = shapely.get_parts(shapes, return_index=True)
    is_piece = (shapely.get_type_id(parts) == 3) & (shapely.area(parts) >= tolerance.PIECE_AREA)
    parts, owner = parts[is_piece], owner[is_piece]
    if len(parts) == 0:
        return widths
    hulls = shapely.convex_hull(parts)
    own = _convex_widths(hulls)
    is_notched = shapely.area(hulls) - shapely.area(parts) > tolerance.AREA
    for part in np.flatnonzero(is_notched).tolist():
        own[part] = _narrowest_cut(parts[part], float(own[part]))
    least: _Floats = fold(np.minimum, own, np.bincount(owner, minlength=len(shapes)), 0.0)
    return least


def _convex_widths(hulls: NDArray[np.object_]) -> _Floats:
    """Least distance between parallel lines around convex polygons (n,); one lies along an edge."""
    points, hull = shapely.get_coordinates(hulls, return_index=True)
    counts = np.bincount(hull, minlength=len(hulls))
    edge = np.flatnonzero(hull[1:] == hull[:-1])
    edge = edge[np.any(points[edge + 1] != points[edge], axis=1)]
    run = points[edge + 1] - points[edge]
    normal = np.stack([-run[:, 1], run[:, 0]], axis=1) / np.hypot(*run.T)[:, None]
    owner, point = pair_up(hull[edge], firsts(counts), counts)
    away = np.abs(((points[point] - points[edge][owner]) * normal[owner]).sum(axis=1))
    across = fold(np.maximum, away, counts[hull[edge]], 0.0)
    widths: _Floats = fold(np.minimum, across, np.bincount(hull[edge], minlength=len(hulls)), 0.0)
    return widths


def _narrowest_cut(piece: Polygon, most: float) -> float:
    """The shortest cut across a piece from one of its re-entrant corners, at most `most`."""
    shapely.prepare(piece)
    start, end, before, ring = _sides(piece)
    run, arriving = end - start, (end - start)[before]
    turn = arriving[:, 0] * run[:, 1] - arriving[:, 1] * run[:, 0]
    size = np.hypot(*run.T)
    reentrant = np.flatnonzero(turn < -tolerance.LENGTH * np.minimum(size, size[before]))
    for corner in reentrant.tolist():
        point = start[corner]
        share = np.clip(((point - start) * run).sum(axis=1) / size**2, 0.0, 1.0)
        foot = start + share[:, None] * run
        away = np.hypot(*(foot - point).T)
        away[[corner, before[corner]]] = np.inf
        for side in np.argsort(away, kind="stable").tolist():
            if away[side] >= most:
                break
            # A cut along the boundary or outside divides nothing, and to cut a scrap off is no passage.
            if not shapely.contains(piece, shapely.points((point + foot[side]) / 2)):
                continue
            least = max(tolerance.PIECE_AREA, float(away[side]) ** 2 / 4)
            if (
                ring[side] != ring[corner]
                or _lesser_part(start, corner, side, foot[side], piece.area) >= least
            ):
                most = float(away[side])
                break
    return most


def _lesser_part(start: _Floats, corner: int, side: int, foot: _Floats, area: float) -> float:
    """Area of the smaller part that a cut from a corner to a spot on a side of its ring leaves."""
    first, last = min(corner, side), max(corner, side)
    # Side k runs from corner k to corner k + 1; the foot lies on it.
    chain = start[first + 1 : last + 1]
    loop = np.concatenate([[start[corner]], chain, [foot]] if side > corner else [[foot], chain])
    x, y = (loop - loop[0]).T
    part = abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
    return min(part, area - part)


def _sides(piece: Polygon) -> tuple[_Floats, _Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Starts and ends (n, 2) of all sides with the piece on their left, the side before each, its ring."""
    starts, ends, before, rings, count = [], [], [], [], 0
    turned = orient(piece)
    for name, ring in enumerate((turned.exterior, *turned.interiors)):
        points = np.asarray(ring.coords)[:, :2]
        points = points[np.concatenate([[True], np.any(np.diff(points, axis=0) != 0.0, axis=1)])]
        number = np.arange(len(points) - 1)
        starts.append(points[:-1])
        ends.append(points[1:])
        before.append(count + np.roll(number, 1))
        rings.append(np.full(len(number), name))
        count += len(number)
    return np.concatenate(starts), np.concatenate(ends), np.concatenate(before), np.concatenate(rings)
