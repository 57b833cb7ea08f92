"""The structure file: slabs with their openings, beams, columns; all in IfcBuilding axes."""

from __future__ import annotations

from typing import Any

from demo_building.geometry import Outline, Point, area_mm2, rect
from demo_building.ledger import BELOW, Ledger
from demo_building.plan import PLACES, SOFFIT
from demo_building.rooms_ground import link_x
from demo_building.shapes import brep, extrusion, lying
from demo_building.site import Building, start_building
from demo_building.writer import Model

__all__ = ["write_structure"]

STAIR_HOLE = rect(38400, 6300, 45000, 8510)
SHAFT_HOLE = rect(24590, 14810, 26190, 19630)
GLASS_ROOF = rect(26340, 14810, 31190, 19630)
ROOF: Outline = (
    (-300, -300),
    (45300, -300),
    (45300, 8660),
    (31490, 8660),
    (31490, 19930),
    (-300, 19930),
)

FREE_COLUMNS = ((5220.0, 13845.0), (10020.0, 13845.0))
"""Centres of the two columns in the reading hall, on grid nodes of its balanced layout."""

WALL_COLUMNS = tuple((x, y) for x in (15315.0, 31265.0) for y in (8585.0, 14735.0))

TRANSFER_BEAM_BOTTOM = 2920.0
"""Hangs 95 under the ceiling of the exhibition room (3015)."""

Run = tuple[str, str, str, Point, Point, tuple[float, float], float]
"""Name, storey, place, start, end, width and depth, bottom from the storey's elevation."""

BEAMS: tuple[Run, ...] = (
    ("Beam G1", "ground", "main", (-150, 13845), (15315, 13845), (300, 400), 3520),
    ("Beam G2", "ground", "main", (4651, -150), (4651, 6225), (300, 400), 3520),
    ("Beam G3", "ground", "main", (13381, -150), (13381, 6225), (300, 400), 3520),
    ("Beam G4", "ground", "main", (23000, 8585), (23000, 14735), (300, 400), 3520),
    ("Beam G5", "ground", "main", (28500, 8585), (28500, 14735), (300, 400), 3520),
    ("Beam G6", "ground", "main", (40250, -150), (40250, 3550), (300, 400), 3520),
    ("Transfer beam", "ground", "main", (36000, 8585), (36000, 14735), (350, 1000), TRANSFER_BEAM_BOTTOM),
    ("Beam R1", "upper", "main", (6100, -150), (6100, 6225), (300, 400), 3500),
    ("Beam R2", "upper", "main", (15340, -150), (15340, 6225), (300, 400), 3500),
    ("Beam R3", "upper", "main", (37000, -150), (37000, 6225), (300, 400), 3500),
    ("Beam R4", "upper", "main", (19800, 8585), (19800, 19780), (300, 400), 3500),
    ("Beam W1", "ground", "wing", (-4500, -150), (-4500, 5475), (250, 350), 3350),
    ("Beam W2", "ground", "wing", (-13500, -150), (-13500, 5475), (250, 350), 3350),
    ("Beam W3", "ground", "wing", (-4500, 7525), (-4500, 12150), (250, 350), 3350),
    ("Beam W4", "ground", "wing", (-13875, 7525), (-13875, 12150), (250, 350), 3350),
)


def _slab(
    building: Building, name: str, storey: str, outline: Outline, bottom: float, top: float, **more: Any
) -> Any:
    """A flat slab; `holes` are cut out of its profile, `place` is its plan frame."""
    model, holes = building.model, more.pop("holes", ())
    placement = model.placement(building.place(storey, more.pop("place", "main")), (0, 0, bottom))
    solid = extrusion(model, outline, 0, top - bottom, holes)
    slab = building.add("IfcSlab", name, name, storey, placement, model.shape([solid]), **more)
    model.assign_material("Reinforced concrete", slab)
    area = round((area_mm2(outline) - sum(area_mm2(h) for h in holes)) / 1e6, 6)
    model.quantities(name, "Qto_SlabBaseQuantities", [model.quantity("Area", "NetArea", area)], [slab])
    return slab


def _slabs(building: Building) -> None:
    main, wing = rect(-300, -300, 45300, 19930), rect(-18300, -300, 300, 12300)
    upper, roof = SOFFIT["ground"], SOFFIT["upper"]
    _slab(building, "Ground slab", "ground", main, -300, 0, PredefinedType="BASESLAB")
    _slab(building, "Wing ground slab", "ground", wing, -300, 0, place="wing", PredefinedType="BASESLAB")
    _slab(
        building,
        "First floor slab",
        "upper",
        main,
        upper - 4200,
        0,
        holes=(STAIR_HOLE, SHAFT_HOLE),
        PredefinedType="FLOOR",
    )
    _slab(building, "Roof slab", "upper", ROOF, roof, roof + 250, holes=(GLASS_ROOF,), PredefinedType="ROOF")
    _slab(
        building,
        "Wing roof slab",
        "ground",
        wing,
        SOFFIT["wing"],
        SOFFIT["wing"] + 250,
        place="wing",
        PredefinedType="ROOF",
    )
    _link_roof(building)


def _link_roof(building: Building) -> None:
    """A sloped slab 60 above the sloped top of the link's space: 18 in 100, falling to the wing."""
    model = building.model
    corners = ((-300.0, 2200.0), (-300.0, 8800.0), (link_x(8800), 8800.0), (link_x(2200), 2200.0))

    def soffit(p: Point) -> float:
        return 3660.0 + 0.18 * (p[0] + 300.0)

    solid = brep(model, corners, soffit, lambda p: soffit(p) + 120.0)
    placement = model.placement(building.place("ground"), (0, 0, 0))
    slab = building.add(
        "IfcSlab",
        "Link roof",
        "Link roof",
        "ground",
        placement,
        model.shape([solid], "Brep"),
        PredefinedType="ROOF",
    )
    model.assign_material("Steel deck", slab)


def _beams(building: Building) -> dict[str, Any]:
    model, made = building.model, {}
    beam_type = model.root("IfcBeamType", "beam", "Rectangular beam", PredefinedType="BEAM")
    for name, storey, place, start, end, (width, depth), bottom in BEAMS:
        run = (end[0] - start[0], end[1] - start[1])
        length = abs(run[0]) + abs(run[1])
        placement = model.placement(
            building.place(storey, place), (*start, bottom + depth / 2), (run[0] / length, run[1] / length, 0)
        )
        shape = model.shape([lying(model, (width, depth), length)])
        made[name] = building.add("IfcBeam", name, name, storey, placement, shape)
        model.assign_type(beam_type, made[name])
        model.assign_material("Reinforced concrete", made[name])
    return made


def _columns(building: Building) -> dict[Point, Any]:
    model, made = building.model, {}
    column_type = model.root("IfcColumnType", "column", "Square column", PredefinedType="COLUMN")
    lounge = (-13875.0, 9800.0)
    rows = [(p, "main", 400.0, SOFFIT["ground"]) for p in FREE_COLUMNS]
    rows += [(p, "main", 140.0, SOFFIT["ground"]) for p in WALL_COLUMNS]
    rows.append((lounge, "wing", 350.0, SOFFIT["wing"]))
    for i, (point, place, side, top) in enumerate(rows):
        solid = extrusion(model, rect(-side / 2, -side / 2, side / 2, side / 2), 0, top)
        placement = model.placement(building.place("ground", place), (*point, 0))
        name = f"Column {i + 1}"
        made[point] = building.add("IfcColumn", name, name, "ground", placement, model.shape([solid]))
        model.assign_type(column_type, made[point])
        model.assign_material("Steel" if side == 140 else "Reinforced concrete", made[point])
    made[PLACES["wing"].to_world(lounge)] = made.pop(lounge)
    return made


def _movement_joint(building: Building) -> Any:
    """A joint in the wing's ground slab, across its corridor."""
    model = building.model
    solid = extrusion(model, rect(-7010, 5550, -6990, 7450), -300, 0)
    placement = model.placement(building.place("ground", "wing"), (0, 0, 0))
    name = "Movement joint wing"
    return building.add("IfcBuildingElementProxy", name, name, "ground", placement, model.shape([solid]))


def write_structure(stem: str, building_name: str, ledger: Ledger) -> Model:
    """The structure model; the beam and columns that are in the way go to the ledger."""
    model = Model(f"{stem}-structure", "IFC4", 1, building_name)
    building = start_building(model, building_name)
    _slabs(building)
    beams, columns = _beams(building), _columns(building)
    ledger.clash(
        "column not in the outline",
        "020",
        [columns[point] for point in FREE_COLUMNS],
        400.0,
        "side of each square column; both are one cause",
        (*FREE_COLUMNS[0], 3015),
    )
    ledger.clash(
        "beam through the ceiling",
        "031",
        [beams["Transfer beam"]],
        3015 - TRANSFER_BEAM_BOTTOM,
        BELOW,
        (36000, 11660, TRANSFER_BEAM_BOTTOM),
        also="hangers that end under it pass through it: the same cause",
    )
    ledger.clash(
        "movement joint across the field",
        "044",
        [_movement_joint(building)],
        1900.0,
        "how far it runs through the field",
    )
    lounge = next(c for p, c in columns.items() if p[0] < -3000)
    ledger.no_clash("column in the outline", "046", [lounge], "the space's outline has a hole for it")
    ledger.no_clash(
        "beam above the ceiling",
        "020",
        [beams["Beam G1"]],
        "505 above the ceiling: hangers may be fixed to it",
    )
    ledger.clash(
        "no structure above",
        "125",
        [],
        None,
        "every hanger of the room: the roof slab has an opening over it",
    )
    return model
