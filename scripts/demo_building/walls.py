"""Walls of the demo building, floor by floor."""

from __future__ import annotations

from demo_building.geometry import Arc, Outline, rect
from demo_building.plan import FLOOR_FINISH, SOFFIT, WallSpec
from demo_building.rooms_ground import link_x

__all__ = ["FREE_PARTITION", "RATED_SHORT_WALL", "RATED_TALL_WALL", "WALLS"]

FREE_PARTITION = "Free partition 041"
RATED_SHORT_WALL = "Partition 003-004"
RATED_TALL_WALL = "Partition ground 03"
"""Between the long corridor and the stair."""

Box = tuple[float, float, float, float]

GROUND_FACADES: tuple[Box, ...] = (
    (-300, -300, 45300, 0),
    (-300, 0, 0, 19630),
    (-300, 19630, 45300, 19930),
    (45000, 0, 45300, 3400),
    (40100, 3400, 45300, 3700),
    (40100, 3700, 40400, 6150),
    (45000, 6300, 45300, 8510),
    (45000, 14810, 45300, 19630),
)

GROUND_INNER: tuple[Box, ...] = (
    (0, 6150, 45300, 6300),
    (0, 8510, 45300, 8660),
    (38250, 6300, 38400, 8510),
    (9576, 0, 9726, 6150),
    (17036, 0, 17186, 6150),
    (23196, 0, 23346, 6150),
    (23346, 6000, 28146, 6150),
    (28146, 0, 28296, 6150),
    (31886, 0, 32006, 6150),
    (35596, 0, 35746, 6150),
    (15240, 8660, 15390, 19630),
    (31190, 8660, 31340, 19630),
    (15390, 14660, 31190, 14810),
    (23740, 14810, 23890, 19630),
    (24440, 14810, 24590, 19630),
    (26190, 14810, 26340, 19630),
    (24590, 17210, 26190, 17360),
    (28690, 14810, 28840, 19630),
    (31340, 14660, 45300, 14810),
    (31340, 17310, 33465, 17460),
    (33315, 17460, 33465, 19630),
    (35365, 17310, 37490, 17460),
    (35365, 17460, 35515, 19630),
    (37490, 14810, 37640, 19630),
)

UPPER_FACADES: tuple[Box, ...] = (
    (-300, -300, 45300, 0),
    (-300, 0, 0, 19630),
    (-300, 19630, 31490, 19930),
    (31190, 8660, 31490, 19630),
    (45000, 0, 45300, 4100),
    (45000, 6300, 45300, 8510),
)

UPPER_INNER: tuple[Box, ...] = (
    (0, 6150, 45300, 6300),
    (0, 8510, 45300, 8660),
    (38250, 6300, 38400, 8510),
    (12190, 0, 12340, 6150),
    (18340, 0, 18490, 6150),
    (22190, 0, 22340, 6150),
    (28140, 0, 28290, 6150),
    (31190, 0, 31340, 6150),
    (4800, 13600, 10400, 13750),
    (4800, 13750, 4950, 19630),
    (10250, 13750, 10400, 19630),
    (15240, 8660, 15390, 19630),
    (24200, 8660, 24350, 19630),
    (24350, 14660, 31190, 14810),
    (24350, 14810, 24590, 19630),
    (26190, 14810, 26340, 19630),
    (24590, 17210, 26190, 17360),
)

WING_FACADES: tuple[Box, ...] = (
    (-18300, -300, 300, 0),
    (-18300, 12000, 300, 12300),
    (0, 0, 300, 12000),
    (-18300, 0, -18000, 12000),
)

WING_INNER: tuple[Box, ...] = (
    (-18000, 5400, 0, 5550),
    (-18000, 7450, 0, 7600),
    (-9150, 0, -9000, 5400),
    (-9150, 7600, -9000, 12000),
)


def _boxes(boxes: tuple[Box, ...], storey: str, place: str, external: bool) -> list[WallSpec]:
    zone = "wing" if place == "wing" else storey
    kind = "Facade" if external else "Partition"
    return [
        WallSpec(
            name=f"{kind} {zone} {i + 1:02d}",
            storey=storey,
            outline=rect(*box),
            top=SOFFIT[zone],
            place=place,
            external=external,
            fire_rating="EI60" if f"{kind} {zone} {i + 1:02d}" == RATED_TALL_WALL else "",
        )
        for i, box in enumerate(boxes)
    ]


def _special(name: str, outline: Outline, top: float, storey: str = "ground", **more: object) -> WallSpec:
    return WallSpec(name=name, storey=storey, outline=outline, top=top, **more)  # type: ignore[arg-type]


def _specials() -> list[WallSpec]:
    ground, upper = SOFFIT["ground"], SOFFIT["upper"]
    round_end: Outline = (
        (38000, 8510),
        Arc((41150, 11660)),
        (38000, 14810),
        (38000, 14660),
        Arc((41000, 11660)),
        (38000, 8660),
    )
    return [
        _special("Round wall 031", round_end, ground),
        _special(
            "Oblique wall 036", ((37485, 14810), (37640, 14810), (38900, 19630), (38745, 19630)), ground
        ),
        _special(
            "Oblique facade 106",
            ((45000, 4100), (45142, 4364), (41342, 6414), (41200, 6150)),
            upper,
            "upper",
            external=True,
        ),
        # Stops 300 above the ceilings on both sides, although it is rated: told, not hidden.
        _special(RATED_SHORT_WALL, rect(17186, 4270, 23196, 4420), FLOOR_FINISH + 3000, fire_rating="EI60"),
        # Stops at the ceiling's underside: met by the trim, no clash.
        _special("Partition 024-025", rect(20590, 14810, 20740, 19630), FLOOR_FINISH + 2700),
        # Ends well under the ceiling: no clash.
        _special("Low screen 023", rect(28000, 10200, 28100, 13100), FLOOR_FINISH + 2100),
        # Centred on a grid line of the room: the full-height wall that the space ignores.
        _special(FREE_PARTITION, rect(-3650, 0, -3550, 2650), SOFFIT["wing"], place="wing"),
        _special(
            "Link wall south",
            ((-300, 2200), (-300, 2500), (link_x(2500), 2500), (link_x(2200), 2200)),
            2900,
            external=True,
        ),
        _special(
            "Link wall north",
            ((-300, 8500), (-300, 8800), (link_x(8800), 8800), (link_x(8500), 8500)),
            2900,
            external=True,
        ),
    ]


WALLS: tuple[WallSpec, ...] = (
    *_boxes(GROUND_FACADES, "ground", "main", True),
    *_boxes(GROUND_INNER, "ground", "main", False),
    *_boxes(WING_FACADES, "ground", "wing", True),
    *_boxes(WING_INNER, "ground", "wing", False),
    *_boxes(UPPER_FACADES, "upper", "main", True),
    *_boxes(UPPER_INNER, "upper", "main", False),
    *_specials(),
)
