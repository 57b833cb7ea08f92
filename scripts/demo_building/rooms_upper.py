"""Rooms of the first floor, and the ceilings that the architect drew on both floors."""

from __future__ import annotations

from typing import Any

from demo_building.geometry import Outline, rect
from demo_building.plan import FLOOR_FINISH, CeilingSpec, RoomSpec

__all__ = ["CEILINGS", "UPPER_ROOMS"]


def _room(number: str, name: str, outline: Outline, finish: float | None, **more: Any) -> RoomSpec:
    height = more.pop("height", finish)
    return RoomSpec(
        number=number, name=name, storey="upper", outline=outline, finish=finish, height=height, **more
    )


U_SHAPE: Outline = (
    (0, 8660),
    (15240, 8660),
    (15240, 19630),
    (10400, 19630),
    (10400, 13600),
    (4800, 13600),
    (4800, 19630),
    (0, 19630),
)

UPPER_ROOMS: tuple[RoomSpec, ...] = (
    _room(
        "101",
        "Council chamber",
        rect(0, 0, 12190, 6150),
        3000,
        why="a lower soffit strip 900 wide along the north wall",
    ),
    _room(
        "102",
        "Committee room",
        rect(12340, 0, 18340, 6150),
        2700,
        height=2900,
        source="covering",
        why="FinishCeilingHeight says 2700, the drawn ceiling hangs at 2900",
    ),
    _room(
        "103",
        "Chair's office",
        rect(18490, 0, 22190, 6150),
        None,
        concealed=1185,
        height=2700,
        source="covering-requirement",
        why="Height 3885 less ConcealedCeilingOffset 1185",
    ),
    _room(
        "104",
        "Records",
        rect(22340, 0, 28140, 6150),
        2700,
        why="drawn twice; this one ends at the faces of the walls",
    ),
    _room(
        "104",
        "Records",
        rect(22265, -150, 28215, 6225),
        2700,
        key="104-gross",
        status="skipped",
        why="the same room as 104, drawn to the middle of its walls for another area scheme",
    ),
    _room(
        "103",
        "Interview room",
        rect(28290, 0, 31190, 6150),
        2700,
        key="105",
        why="bears the number 103 a second time; a 300 x 1200 system fits its light",
    ),
    _room(
        "106",
        "Harbour room",
        ((31340, 0), (45000, 0), (45000, 4100), (41200, 6150), (31340, 6150)),
        2750,
        finish_in="metres",
        why="one wall at an odd angle; the quantity carries its own unit",
    ),
    _room("110", "Upper corridor", rect(0, 6300, 38250, 8510), 2500, top=FLOOR_FINISH + 2500),
    _room("120", "Upper reading room", U_SHAPE, 3000, body="brep", why="U-shape"),
    _room("121", "Quiet study", rect(4950, 13750, 10250, 19630), 2700),
    _room(
        "122",
        "Local history",
        rect(15390, 8660, 20000, 19630),
        None,
        height=2800,
        source="covering",
        why="one ceiling drawn over 122 and 123, no wall between",
    ),
    _room(
        "123",
        "Family history",
        rect(20000, 8660, 24200, 19630),
        None,
        height=2800,
        source="covering",
        why="one ceiling drawn over 122 and 123, no wall between",
    ),
    _room("124", "Archive", rect(24350, 8660, 31190, 14660), 2700),
    _room(
        "125",
        "Winter garden",
        rect(26340, 14810, 31190, 19630),
        2700,
        why="no structure above: the roof is glass",
    ),
    _room(
        "130",
        "Roof terrace",
        rect(31490, 8660, 45000, 19630),
        None,
        external=True,
        status="skipped",
        top=2500,
        why="outdoors",
    ),
)

CEILINGS: tuple[CeilingSpec, ...] = (
    CeilingSpec(
        name="Ceiling 002",
        storey="ground",
        outline=rect(9726, 0, 17036, 6150),
        underside=FLOOR_FINISH + 2800,
        rooms=("002",),
        related="boundary",
    ),
    CeilingSpec(
        name="Ceiling 029-030",
        storey="ground",
        outline=rect(26340, 14810, 31190, 19630),
        underside=FLOOR_FINISH + 2500,
        rooms=("029", "030"),
        related="storey",
    ),
    CeilingSpec(
        name="Soffit strip 101",
        storey="upper",
        outline=rect(0, 5250, 12190, 6150),
        underside=FLOOR_FINISH + 2600,
        rooms=("101",),
        related="storey",
    ),
    CeilingSpec(
        name="Ceiling 102",
        storey="upper",
        outline=rect(12340, 0, 18340, 6150),
        underside=FLOOR_FINISH + 2900,
        rooms=("102",),
        related="space",
    ),
    CeilingSpec(
        name="Ceiling 122-123",
        storey="upper",
        outline=rect(15390, 8660, 24200, 19630),
        underside=FLOOR_FINISH + 2800,
        rooms=("122", "123"),
        related="storey",
    ),
)
