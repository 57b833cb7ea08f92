"""Which part of a zone's ceiling belongs to which of its rooms."""

from __future__ import annotations

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ifcgrid.domain import tolerance
from ifcgrid.domain.room import Zone

__all__ = ["room_parts"]


def room_parts(zone: Zone) -> list[list[Polygon]]:
    """The zone's outline divided among its rooms, in their order; the areas add up to the zone's.

    What lies in no room (the gap between two rooms that are one zone) goes to the nearest
    room, the first one on a tie.
    """
    if len(zone.rooms) == 1:
        return [[zone.outline]]
    rest: BaseGeometry = zone.outline
    shares: list[BaseGeometry] = []
    for room in zone.rooms:
        shares.append(rest.intersection(room.outline))
        rest = rest.difference(room.outline)
    for piece in _polygons(rest, 0.0):
        nearest = min(range(len(shares)), key=lambda i: (round(shares[i].distance(piece), 6), i))
        shares[nearest] = shares[nearest].union(piece)
    return [_polygons(share, tolerance.AREA) for share in shares]


def _polygons(shape: BaseGeometry, least: float) -> list[Polygon]:
    found = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon) and p.area > least]
    return sorted(found, key=lambda p: p.bounds)
