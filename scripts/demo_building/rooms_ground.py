"""Rooms of the ground floor, the link and the turned wing."""

from __future__ import annotations

import math
from typing import Any

from demo_building.geometry import Arc, Outline, Place, moved, rect
from demo_building.plan import FLOOR_FINISH, PLACES, RoomSpec

__all__ = ["GROUND_ROOMS", "link_x"]


def _room(number: str, name: str, outline: Outline, finish: float | None, **more: Any) -> RoomSpec:
    height = more.pop("height", finish)
    return RoomSpec(
        number=number, name=name, storey="ground", outline=outline, finish=finish, height=height, **more
    )


def link_x(y: float, wing: Place = PLACES["wing"]) -> float:
    """The link's oblique side at this y: the wing's outer east wall face, to the next whole mm off it."""
    x0, y0 = wing.to_world((300.0, 0.0))
    x1, y1 = wing.to_world((300.0, 12000.0))
    return float(math.ceil(x0 + (x1 - x0) * (y - y0) / (y1 - y0)))


T_SHAPE: Outline = (
    (0, 0),
    (6150, 0),
    (6150, 2500),
    (4025, 2500),
    (4025, 4820),
    (2125, 4820),
    (2125, 2500),
    (0, 2500),
)

SOUTH = (
    _room("001", "Foyer", rect(0, 0, 9576, 6150), 3000),
    _room(
        "002",
        "Reading café",
        rect(9726, 0, 17036, 6150),
        2800,
        source="covering",
        body="brep",
        why="the architect drew its ceiling",
    ),
    _room("003", "Bookshop", rect(17186, 0, 23196, 4270), 2700),
    _room("004", "Shop store", rect(17186, 4420, 23196, 6150), 2500, body="triangles"),
    _room(
        "005",
        "Children's workshop",
        rect(23346, 0, 28146, 6000),
        2700,
        why="8 x 10 modules of 600 exactly: nothing is cut",
    ),
    _room(
        "006",
        "Study room A",
        rect(28296, 0, 31946, 6150),
        2700,
        why="reaches to the middle of the wall on its seam with 007",
    ),
    _room(
        "007",
        "Study room B",
        rect(31946, 0, 35596, 6150),
        2700,
        why="reaches to the middle of the wall on its seam with 006",
    ),
    _room(
        "008",
        "Lecture room",
        ((35746, 0), (45000, 0), (45000, 3400), (40100, 3400), (40100, 6150), (35746, 6150)),
        2850,
        body="faces",
        why="L-shape",
    ),
    _room("010", "Long corridor", rect(0, 6300, 38250, 8510), 2500, top=FLOOR_FINISH + 2500),
    _room(
        "011",
        "Stair",
        rect(38400, 6300, 45000, 8510),
        None,
        status="skipped",
        top=8100,
        why="a stair gets no ceiling",
    ),
)

MIDDLE = (
    _room(
        "020",
        "Reading hall",
        rect(0, 8660, 15240, 19630),
        3000,
        why="over 1,000 ft²; two free columns that the space ignores",
    ),
    _room(
        "021",
        "Children's library",
        rect(15390, 8660, 20190, 14660),
        2900,
        why="open plan: virtual boundary to 022",
    ),
    _room(
        "022",
        "Magazines",
        rect(20190, 8660, 26190, 14660),
        2900,
        why="open plan: virtual boundary to 021, no wall to 023",
    ),
    _room(
        "023", "Local newspapers", rect(26190, 8660, 31190, 14660), 2900, why="open plan: merely touches 022"
    ),
    _room("024", "Staff office", rect(15390, 14810, 20590, 19630), 2700),
    _room(
        "025",
        "Back office",
        rect(20740, 14810, 23740, 19630),
        2700,
        floor=0,
        flooring=60,
        why="body from structural floor to structural soffit; FinishFloorHeight 60",
    ),
    _room("026", "Cleaning cupboard", rect(23890, 14810, 24440, 19630), 2400, why="narrower than a module"),
    _room(
        "027",
        "Shaft",
        rect(24590, 14810, 26190, 17210),
        None,
        status="skipped",
        top=8100,
        why="a shaft gets no ceiling",
    ),
    _room(
        "028",
        "Lift",
        rect(24590, 17360, 26190, 19630),
        None,
        status="skipped",
        top=8100,
        why="a lift gets no ceiling",
    ),
    _room(
        "029",
        "Toilets A",
        rect(26340, 14810, 28690, 19630),
        None,
        height=2500,
        source="covering",
        why="one ceiling drawn over 029 and 030, a wall goes through it",
    ),
    _room(
        "030",
        "Toilets B",
        rect(28840, 14810, 31190, 19630),
        None,
        height=2500,
        source="covering",
        why="one ceiling drawn over 029 and 030, a wall goes through it",
    ),
)

EAST = (
    _room(
        "031",
        "Exhibition room",
        ((31340, 8660), (38000, 8660), Arc((41000, 11660)), (38000, 14660), (31340, 14660)),
        3000,
        why="round end: a true half circle of radius 3000",
    ),
    _room("033", "Map room", moved(T_SHAPE, 31340, 14810), 2700, why="T-shape"),
    _room(
        "034",
        "Unfinished store",
        rect(31340, 17460, 33315, 19630),
        None,
        body="none",
        status="failed",
        state_height=False,
        why="the space has no body",
    ),
    _room(
        "035",
        "Telephone room",
        rect(35515, 17460, 37490, 19630),
        None,
        height=2450,
        top=FLOOR_FINISH + 2450,
        state_height=False,
        source="body",
        why="nothing but the body tells a height",
    ),
    _room(
        "036",
        "Drawing studio",
        ((37640, 14810), (45000, 14810), (45000, 19630), (38900, 19630)),
        2800,
        finish_in="property",
        why="trapezoid: the west wall is oblique",
    ),
)

LINK_OUTLINE: Outline = ((-300, 2500), (-300, 8500), (link_x(8500), 8500), (link_x(2500), 2500))

WING = (
    _room(
        "040",
        "Glazed link",
        LINK_OUTLINE,
        2400,
        body="clipped",
        top=3600,
        floor=0,
        why="trapezoid under a sloped roof; the top of the body slopes",
    ),
    _room(
        "041",
        "Pottery",
        rect(-9000, 0, 0, 5400),
        2750,
        place="wing",
        why="turned 17 degrees; a full-height partition stands in it that the space ignores",
    ),
    _room(
        "043",
        "Wood workshop",
        rect(-18000, 0, -9150, 5400),
        2750,
        place="wing",
        body="brep",
        why="turned 17 degrees",
    ),
    _room("044", "Wing corridor", rect(-18000, 5550, 0, 7450), 2450, place="wing", why="turned 17 degrees"),
    _room(
        "045",
        "Gallery",
        rect(-9000, 7600, 0, 12000),
        2750,
        place="wing",
        body="faces",
        why="turned 17 degrees",
    ),
    _room(
        "046",
        "Staff lounge",
        rect(-18000, 7600, -9150, 12000),
        2750,
        place="wing",
        holes=(rect(-14050, 9625, -13700, 9975),),
        why="turned 17 degrees; its outline has a hole for the free column",
    ),
)

GROUND_ROOMS: tuple[RoomSpec, ...] = SOUTH + MIDDLE + EAST + WING
