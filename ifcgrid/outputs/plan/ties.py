"""What ties a grid to walls that no line follows: a crossing of two lines, square from two walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.layout import Border
from ifcgrid.domain.wall_runs import wall_runs

__all__ = ["Place", "Wanted", "find_ties", "straight_edges"]

_LEAST_TURN = 30.0
"""Two walls that hold a point are at least this far from parallel, in degrees."""

_NEAREST = 300.0
_MOST = 20
_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place of a dimension: a wall's face, and a line or crossing of the grid; model coordinates."""

    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def length(self) -> float:
        """The length in mm."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One dimension that is wanted, with its places from the best on."""

    edge: tuple[int, int]
    places: tuple[Place, ...]


def find_ties(ceiling: Ceiling) -> list[tuple[Wanted, Wanted]]:
    """Pairs of dimensions, each pair to one crossing from two walls, the nearest crossing first.

    The walls are straight, the longest one and the longest that is far from parallel to it; crossings
    stand square to both, not too near. Empty where there is none.
    """
    straight = straight_edges(ceiling.zone.outline)
    walls = _two_walls([b for b in ceiling.layout.borders if b.ring == 0 and b.edge in straight])
    nodes = _nodes(ceiling)
    if walls is None or not len(nodes):
        return []
    feet = [_feet(wall, nodes) for wall in walls]
    fit = np.logical_and.reduce([inside & (away >= _NEAREST) for _, away, inside in feet])
    order = np.argsort(feet[0][1] + feet[1][1], kind="stable")
    room = ceiling.zone.outline.buffer(tolerance.SHORTEST_EDGE)
    pairs = []
    for k in order[fit[order]][:_MOST].tolist():
        places = [Place(start=tuple(foot[k].tolist()), end=tuple(nodes[k].tolist())) for foot, _, _ in feet]
        if all(room.covers(shapely.LineString([p.start, p.end])) for p in places):
            one, two = (
                Wanted(edge=(wall.ring, wall.edge), places=(place,))
                for wall, place in zip(walls, places, strict=True)
            )
            pairs.append((one, two))
    return pairs


def straight_edges(outline: Polygon) -> set[int]:
    """The edges of the outer ring that belong to no curve."""
    points = np.asarray(outline.exterior.coords)[:-1]
    return {edge for edges, is_curve in wall_runs(points) if not is_curve for edge in edges}


def _way(wall: Border) -> _Floats:
    step = np.subtract(wall.end, wall.start)
    way: _Floats = step / np.hypot(*step)
    return way


def _two_walls(walls: list[Border]) -> tuple[Border, Border] | None:
    long = sorted(walls, key=lambda b: (-b.length, b.edge))
    for other in long[1:]:
        (a, b), (c, d) = _way(long[0]), _way(other)
        if abs(a * d - b * c) >= np.sin(np.radians(_LEAST_TURN)):
            return long[0], other
    return None


def _nodes(ceiling: Ceiling) -> _Floats:
    """Crossings (n, 2) of lines inside the room, in model coordinates."""
    layout = ceiling.layout
    local = layout.frame.shape_to_local(ceiling.zone.outline)
    points = [
        (i * layout.along + layout.row_offset(j), j * layout.across)
        for j in range(1, layout.rows)
        for i in range(layout.columns + 1)
    ]
    if not points:
        return np.empty((0, 2))
    places = np.array(points)
    return layout.frame.to_world(places[shapely.contains_xy(local, places)])


def _feet(wall: Border, nodes: _Floats) -> tuple[_Floats, _Floats, NDArray[np.bool_]]:
    """Where each node stands square to a wall, how far from it, and whether that is on the wall."""
    way = _way(wall)
    along = (nodes - np.array(wall.start)) @ way
    foot = np.array(wall.start) + along[:, None] * way
    return foot, np.hypot(*(nodes - foot).T), (along >= 0.0) & (along <= wall.length)
