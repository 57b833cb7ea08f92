"""The rectangles that a balanced grid is laid out in, so that devices can be placed on module."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from demo_building.geometry import Place, Point, cell_centre, vertices
from demo_building.plan import PLACES, RoomSpec

__all__ = ["METRIC_MODULE", "OVERRIDES", "ZONES", "Field", "room_fields"]

METRIC_MODULE = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A rectangle in a plan frame with a balanced square grid; lengths in mm."""

    place: Place
    x: float
    y: float
    width: float
    depth: float
    module: float = METRIC_MODULE

    def at(self, u: float, v: float) -> Point:
        """The building's coordinates of a point given from the field's lower left corner."""
        return self.place.to_world((self.x + u, self.y + v))

    def local_cell(self, column: int, row: int) -> Point:
        """The middle of a cell from the field's corner; column 0 is the border, 1 the next ..."""
        return (
            cell_centre(self.width, self.module, column),
            cell_centre(self.depth, self.module, row),
        )


MAIN = PLACES["main"]

OVERRIDES: dict[str, Field] = {
    "006": Field(place=MAIN, x=28296, y=0, width=3590, depth=6150),
    "007": Field(place=MAIN, x=32006, y=0, width=3590, depth=6150),
    "101": Field(place=MAIN, x=0, y=0, width=12190, depth=5250),
}
"""Rooms whose field is not the whole outline: a wall on the seam, a soffit strip."""

ZONES: dict[str, Field] = {
    "021+022+023": Field(place=MAIN, x=15390, y=8660, width=15800, depth=6000),
    "122+123": Field(place=MAIN, x=15390, y=8660, width=8810, depth=10970),
}
"""Fields over several rooms."""


def room_fields(rooms: Iterable[RoomSpec]) -> dict[str, Field]:
    """The field of each rectangular room that has one of its own, by room id, and of each zone."""
    shared = {number for name in ZONES for number in name.split("+")}
    found: dict[str, Field] = dict(ZONES)
    for room in rooms:
        corners = vertices(room.outline)
        if room.id in OVERRIDES:
            found[room.id] = OVERRIDES[room.id]
        elif len(corners) == 4 == len(room.outline) and room.id not in shared:
            (x0, y0), (x1, y1) = corners[0], corners[2]
            if corners[1] == (x1, y0) and corners[3] == (x0, y1):
                found[room.id] = Field(place=PLACES[room.place], x=x0, y=y0, width=x1 - x0, depth=y1 - y0)
    return found
