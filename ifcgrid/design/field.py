"""A zone as its lattice sees it: the outline in local axes, its edges, its rooms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone

__all__ = ["Field", "rooms_at", "see_field"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """The outline of a zone in local (u, v) mm, and its edges with the room on their left.

    Points within `tolerance.LENGTH` of a lattice line lie on it exactly, so that walls on
    a line are told from walls beside it by plain comparison. `start`, `end` (n, 2) are the
    edges, `ring` and `edge` (n,) their place in the zone's outline: ring 0 is the outer
    one, edge k goes from or to its vertex k.
    """

    outline: Polygon
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    ring: NDArray[np.int32]
    edge: NDArray[np.int32]


def _snap(points: NDArray[np.float64], module: NDArray[np.float64]) -> NDArray[np.float64]:
    on_line = np.rint(points / module) * module
    snapped: NDArray[np.float64] = np.where(np.abs(points - on_line) <= tolerance.LENGTH, on_line, points)
    return snapped


def see_field(zone: Zone, layout: Layout) -> Field:
    """The zone's outline and edges in the axes of the layout."""
    module = np.array([layout.along, layout.across])
    rings = [
        _snap(layout.frame.to_local(shapely.get_coordinates(ring)), module)
        for ring in (zone.outline.exterior, *zone.outline.interiors)
    ]
    starts, ends = [], []
    for number, points in enumerate(rings):
        start, end = points[:-1], points[1:]
        # The outer ring runs counter-clockwise, holes clockwise: the room is on the left.
        # Seen from the ring's first point, so that far coordinates cost no digits.
        area = float(np.sum(_cross(start - points[0], end - points[0])))
        if (area < 0) != (number > 0):
            start, end = end, start
        starts.append(start)
        ends.append(end)
    counts = [len(start) for start in starts]
    return Field(
        outline=Polygon(rings[0], rings[1:]),
        start=np.concatenate(starts),
        end=np.concatenate(ends),
        ring=np.repeat(np.arange(len(rings), dtype=np.int32), counts),
        edge=np.concatenate([np.arange(count, dtype=np.int32) for count in counts]),
    )


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    product: NDArray[np.float64] = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return product


def rooms_at(zone: Zone, layout: Layout, points: ArrayLike) -> NDArray[np.int32]:
    """The index (n,) of the room in `zone.rooms` at each local point (n, 2), else of the nearest.

    Where rooms meet, the first of them.
    """
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    rooms = np.zeros(len(places), dtype=np.int32)
    if len(zone.rooms) == 1 or len(places) == 0:
        return rooms
    tree = shapely.STRtree([room.outline for room in zone.rooms])
    spots = shapely.points(layout.frame.to_world(places))
    point, room = tree.query_nearest(spots)
    order = np.lexsort((room, point))
    hit, first = np.unique(point[order], return_index=True)
    rooms[hit] = room[order][first]
    return rooms
