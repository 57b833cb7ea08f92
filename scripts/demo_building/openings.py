"""Doors and windows: most of them under the ceilings, two whose heads are not."""

from __future__ import annotations

from typing import Any

from demo_building.geometry import Point, rect
from demo_building.ledger import Ledger
from demo_building.plan import FLOOR_FINISH
from demo_building.shapes import extrusion
from demo_building.site import Building

__all__ = ["add_openings"]

Row = tuple[str, str, Point, float, float, float]
"""Name, room, left foot on the wall's axis, width, sill and head from the storey's elevation."""

DOORS: tuple[Row, ...] = (
    ("Door 001", "010", (4000, 6225), 900, FLOOR_FINISH, 2615),
    ("Door 002", "010", (12000, 6225), 900, FLOOR_FINISH, 2115),
    ("Door 020", "020", (7000, 8585), 1200, FLOOR_FINISH, 2415),
)
WINDOWS: tuple[Row, ...] = (
    ("Window 001", "001", (4000, -150), 1800, 900, 2700),
    ("Window 003", "003", (19000, -150), 1200, 900, 2900),
)


def add_openings(building: Building, ledger: Ledger) -> None:
    """Doors and windows of the ground floor; their bodies stand in the walls uncut."""
    doors = {row[0]: _opening(building, "IfcDoor", row, 100.0) for row in DOORS}
    windows = {row[0]: _opening(building, "IfcWindow", row, 80.0) for row in WINDOWS}
    ledger.clash(
        "door head above the ceiling", "010", [doors.pop("Door 001")], 100.0, "its head over the ceiling"
    )
    ledger.clash(
        "window head above the ceiling",
        "003",
        [windows.pop("Window 003")],
        185.0,
        "its head over the ceiling",
    )
    ledger.no_clash("door under the ceiling", "010", list(doors.values()), "heads under both ceilings")
    ledger.no_clash("window under the ceiling", "001", list(windows.values()), "head under the ceiling")


def _opening(building: Building, entity: str, row: Row, depth: float) -> Any:
    name, _, foot, width, sill, head = row
    model = building.model
    placement = model.placement(building.place("ground"), (*foot, sill), (1.0, 0.0, 0.0))
    solid = extrusion(model, rect(0, -depth / 2, width, depth / 2), 0, head - sill)
    more = {"OperationType": "SINGLE_SWING_LEFT", "PredefinedType": "DOOR"} if entity == "IfcDoor" else {}
    return building.add(
        entity,
        name,
        name,
        "ground",
        placement,
        model.shape([solid]),
        OverallHeight=model.length(head - sill),
        OverallWidth=model.length(width),
        **more,
    )
