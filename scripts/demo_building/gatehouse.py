"""The gatehouse: one storey, IFC2X3 in feet, with a services file in metres at the same origin."""

from __future__ import annotations

from typing import Any

from demo_building.devices import Devices
from demo_building.fields import Field
from demo_building.geometry import Outline, Place, area_mm2, inches, rect, vertices
from demo_building.ledger import BELOW, Ledger
from demo_building.shapes import extrusion, lying
from demo_building.site import Building, start_building
from demo_building.writer import FOOT, Model

__all__ = ["write_gatehouse"]

LEVELS = {"ground": ("Ground level", 0.0)}
MODULE = 609.6
TOP_IN = 132.0
"""Underside of the roof slab and top of the walls, in inches: 11'-0"."""

ROOMS_IN: tuple[tuple[str, str, Outline, float | None, float], ...] = (
    ("G1", "Porter", rect(0, 0, 163, 124), 102, TOP_IN),
    ("G2", "Closet", rect(168, 0, 210, 124), 96, TOP_IN),
    ("G3", "Waiting room", rect(215, 0, 399, 124), 102, TOP_IN),
    (
        "G4",
        "Parcel room",
        ((0, 129), (250, 129), (250, 255), (146, 255), (146, 329), (0, 329)),
        102,
        TOP_IN,
    ),
    ("G5", "Exhibit room", rect(255, 129, 399, 369), None, 108),
)
"""Number, name, outline, FinishCeilingHeight and top of the body, in inches."""

WALLS_IN: tuple[tuple[float, float, float, float], ...] = (
    (-10, -10, 409, 0),
    (-10, 0, 0, 329),
    (-10, 329, 156, 339),
    (146, 265, 156, 329),
    (146, 255, 255, 265),
    (245, 265, 255, 379),
    (255, 369, 409, 379),
    (399, 0, 409, 369),
    (163, 0, 168, 124),
    (210, 0, 215, 124),
    (0, 124, 399, 129),
    (250, 129, 255, 255),
)

WHY = {
    "G1": "13'-7\" x 10'-4\"",
    "G2": "3'-6\" wide: two pieces, one line",
    "G3": "15'-4\" x 10'-4\"",
    "G4": "L-shape",
    "G5": "12'-0\" x 20'-0\": exact modules of 2 ft; nothing but the body tells a height (9'-0\")",
}


def _field(number: str) -> Field:
    outline = next(inches(r[2]) for r in ROOMS_IN if r[0] == number)
    (x0, y0), (x1, y1) = vertices(outline)[0], vertices(outline)[2]
    return Field(place=Place(), x=x0, y=y0, width=x1 - x0, depth=y1 - y0, module=MODULE)


def _level_mm(number: str) -> float:
    room = next(r for r in ROOMS_IN if r[0] == number)
    return (room[4] if room[3] is None else room[3]) * 25.4


def _spaces(building: Building, ledger: Ledger) -> None:
    model = building.model
    for number, name, outline_in, finish, top in ROOMS_IN:
        outline = inches(outline_in)
        space = model.root(
            "IfcSpace",
            number,
            number,
            LongName=name,
            CompositionType="ELEMENT",
            InteriorOrExteriorSpace="INTERNAL",
            ObjectPlacement=model.placement(building.place("ground"), (0, 0, 0)),
            Representation=model.shape([extrusion(model, outline, 0, top * 25.4)]),
        )
        model.aggregate(building.storeys["ground"], space)
        quantities = [model.quantity("Area", "NetFloorArea", area_mm2(outline) / 1e6)]
        if finish is not None:
            quantities.append(model.quantity("Length", "FinishCeilingHeight", finish * 25.4))
        model.quantities(number, "BaseQuantities", quantities, [space])
        entry: dict[str, Any] = {
            "model": "gatehouse",
            "id": number,
            "number": number,
            "name": name,
            "storey": LEVELS["ground"][0],
            "status": "laid-out",
            "why": WHY[number],
            "floor_mm": 0.0,
            "body": "extruded",
            "area_m2": round(area_mm2(outline) / 1e6, 6),
            "height_mm": round(_level_mm(number), 6),
            "height_source": "body" if finish is None else "finish-ceiling-height",
            "level_mm": round(_level_mm(number), 6),
        }
        ledger.room(number, space.GlobalId, entry, _field(number) if number != "G4" else None)


def _construction(building: Building) -> None:
    model = building.model

    def add(entity: str, name: str, outline: Outline, bottom: float, top: float, **more: Any) -> None:
        placement = model.placement(building.place("ground"), (0, 0, bottom * 25.4))
        solid = extrusion(model, inches(outline), 0, (top - bottom) * 25.4)
        building.add(entity, name, name, "ground", placement, model.shape([solid]), **more)

    for i, box in enumerate(WALLS_IN):
        add("IfcWall", f"Wall {i + 1:02d}", rect(*box), 0, TOP_IN)
    whole = rect(-10, -10, 409, 379)
    add("IfcSlab", "Floor slab", whole, -10, 0, PredefinedType="BASESLAB")
    add("IfcSlab", "Roof slab", whole, TOP_IN, TOP_IN + 10, PredefinedType="ROOF")


class _Fittings:
    """Places devices of one gatehouse file in cells of a room's balanced grid."""

    def __init__(self, building: Building) -> None:
        self.building, self.devices = building, Devices(building.model)
        self._counts: dict[str, int] = {}

    def put(self, kind: str, number: str, cell: tuple[int, int], off: float = 0.0) -> tuple[Any, list[float]]:
        """A device in a cell, `off` mm along x from its middle; with its point in mm."""
        field, z = _field(number), _level_mm(number)
        u, v = field.local_cell(*cell)
        x, y = field.at(u + off, v)
        label = f"{kind.capitalize()} {number}"
        self._counts[label] = self._counts.get(label, 0) + 1
        placement = self.building.model.placement(self.building.place("ground"), (x, y, z))
        storey = self.building.storeys["ground"]
        device = self.devices.place(kind, f"{label}/{self._counts[label]}", placement, storey)
        return device, [x, y, z]


def _feet_fittings(building: Building, ledger: Ledger) -> None:
    fittings, model = _Fittings(building), building.model
    lights = [fittings.put("inch light", "G1", cell)[0] for cell in ((2, 2), (4, 2), (2, 4))]
    ledger.no_clash("device on module", "G1", lights, "each in the middle of a cell of the balanced layout")
    switch_place = model.placement(building.place("ground"), (6.35, 1200, 1117.6))
    switch = fittings.devices.place("switch", "Switch G1/1", switch_place, building.storeys["ground"])
    ledger.no_clash("device on a wall", "G1", [switch], "far below the ceiling")


def _metre_fittings(building: Building, ledger: Ledger) -> None:
    fittings, model = _Fittings(building), building.model
    lights = [fittings.put("inch light", "G5", cell)[0] for cell in ((1, 2), (4, 2), (1, 7))]
    head, _ = fittings.put("sprinkler", "G5", (2, 4))
    ledger.no_clash(
        "device on module", "G5", [*lights, head], "in the middle of cells of the balanced layout"
    )
    light, point = fittings.put("inch light", "G5", (4, 7), 50.8)
    ledger.clash("light off module", "G5", [light], 50.8, "distance from the middle of its cell", point)
    waiting = [fittings.put("inch diffuser", "G3", (3, 2))[0], fittings.put("detector", "G3", (5, 3))[0]]
    ledger.no_clash("device on module", "G3", waiting, "in the middle of cells of the balanced layout")
    bottom, (width, height) = _level_mm("G3") - 25.4, (406.4, 304.8)
    field = _field("G3")
    start, end = field.at(300, field.depth - 500), field.at(3000, field.depth - 500)
    placement = model.placement(building.place("ground"), (*start, bottom + height / 2))
    duct_type = model.root("IfcDuctSegmentType", "duct", "Rectangular duct", PredefinedType="RIGIDSEGMENT")
    duct = building.add(
        "IfcFlowSegment",
        "Low duct G3",
        "Low duct G3",
        "ground",
        placement,
        model.shape([lying(model, (width, height), end[0] - start[0])]),
    )
    model.assign_type(duct_type, duct)
    ledger.clash(
        "duct through the ceiling",
        "G3",
        [duct],
        25.4,
        BELOW,
        ((start[0] + end[0]) / 2, start[1], bottom),
    )


def write_gatehouse(name: str, ledger: Ledger) -> list[Model]:
    """The gatehouse in feet and its services in metres; both state what they plant."""
    house = Model("gatehouse", "IFC2X3", FOOT, name)
    building = start_building(house, name, LEVELS)
    _spaces(building, ledger)
    _construction(building)
    _feet_fittings(building, ledger)
    services = Model("gatehouse-services", "IFC2X3", 1000, name)
    _metre_fittings(start_building(services, name, LEVELS), ledger)
    return [house, services]
