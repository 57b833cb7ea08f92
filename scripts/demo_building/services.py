"""The services file: devices on module and off, ducts, pipe and tray; states every planted clash."""

from __future__ import annotations

import math
from typing import Any

from demo_building.architecture import ROOMS
from demo_building.clearances import plant_clearances
from demo_building.devices import Devices
from demo_building.fields import ZONES, Field, room_fields
from demo_building.geometry import Point, cell_centre, rect
from demo_building.ledger import BELOW, Ledger
from demo_building.plan import STOREYS
from demo_building.shapes import extrusion, lying
from demo_building.site import Building, start_building
from demo_building.writer import Model

__all__ = ["ON_MODULE", "write_services"]

Cells = tuple[tuple[int, int], ...]

ON_MODULE: dict[str, dict[str, Cells]] = {
    "001": {
        "light": ((2, 2), (5, 2), (8, 2), (11, 2), (2, 7), (5, 7), (8, 7)),
        "diffuser": ((4, 5), (10, 5)),
        "sprinkler": ((3, 4), (7, 4), (12, 4)),
        "detector": ((7, 6),),
    },
    "002": {
        "downlight": ((2, 2), (5, 2), (8, 2), (11, 2), (2, 8), (5, 8), (8, 8), (11, 8)),
        "diffuser": ((4, 5), (9, 5)),
        "sprinkler": ((2, 5), (6, 5)),
        "detector": ((7, 3),),
    },
    "003": {"light": ((2, 2), (8, 2), (2, 5), (8, 5)), "detector": ((6, 3),)},
    "005": {"light": ((1, 2), (6, 2), (1, 7), (6, 7)), "sprinkler": ((2, 4), (5, 4)), "detector": ((3, 8),)},
    "006": {"light": ((2, 3), (2, 7), (4, 3), (4, 7)), "sprinkler": ((3, 5),)},
    "007": {"light": ((2, 3), (2, 7), (4, 3), (4, 7)), "sprinkler": ((3, 5),)},
    "010": {
        "light": tuple((c, 1) for c in range(4, 62, 6)),
        "sprinkler": tuple((c, 2) for c in range(3, 62, 5) if c != 23),
        "detector": ((15, 2), (30, 2), (45, 2)),
    },
    "020": {
        "light": tuple((c, r) for r in (3, 7, 13) for c in (3, 9, 15, 21)),
        "diffuser": ((6, 11), (12, 11), (19, 11)),
        "sprinkler": ((6, 15), (12, 15), (18, 15), (12, 7), (18, 7)),
        "detector": ((9, 9), (20, 10)),
    },
    "021+022+023": {
        "light": ((3, 2), (5, 7), (12, 2), (15, 7), (20, 2), (23, 7)),
        "sprinkler": ((4, 4), (13, 4), (22, 4)),
        "detector": ((3, 7), (14, 2), (24, 3)),
    },
    "024": {"light": ((2, 2), (5, 2), (2, 5), (5, 5)), "diffuser": ((6, 7),)},
    "025": {"light": ((2, 2), (2, 5))},
    "029": {"downlight": ((1, 2), (2, 5)), "detector": ((2, 3),)},
    "030": {"downlight": ((1, 2), (2, 5)), "detector": ((2, 3),)},
    "041": {"light": ((2, 2), (12, 2), (2, 6), (12, 6)), "sprinkler": ((4, 4), (11, 4))},
    "043": {"light": ((2, 2), (12, 2), (2, 6), (12, 6)), "diffuser": ((7, 4),)},
    "044": {"light": ((3, 1), (9, 1), (15, 1), (21, 1), (27, 1))},
    "045": {"light": ((2, 2), (12, 2), (2, 5), (12, 5)), "detector": ((7, 3),)},
    "101": {
        "light": ((3, 2), (8, 2), (13, 2), (17, 2), (3, 6), (8, 6), (13, 6), (17, 6)),
        "sprinkler": ((5, 2), (10, 2), (15, 2)),
        "detector": ((10, 6),),
    },
    "102": {"light": ((2, 2), (7, 2), (2, 7), (7, 7)), "diffuser": ((5, 5),)},
    "103": {"light": ((1, 2), (4, 2), (1, 7), (4, 7)), "sprinkler": ((3, 5),)},
    "104": {"light": ((2, 2), (7, 2), (2, 7), (7, 7))},
    "110": {"light": tuple((c, 1) for c in range(4, 62, 6)), "detector": ((15, 2), (45, 2))},
    "121": {"light": ((2, 2), (6, 2), (2, 7), (6, 7)), "diffuser": ((4, 4),)},
    "122+123": {
        "downlight": ((2, 3), (6, 3), (10, 3), (2, 12), (6, 12), (10, 12)),
        "detector": ((4, 8), (11, 8)),
    },
    "124": {"light": ((2, 2), (8, 2), (2, 7), (8, 7)), "sprinkler": ((10, 4),)},
    "125": {"light": ((3, 2), (3, 5), (6, 2), (6, 5))},
}
"""Devices in the middle of cells of the balanced layout: by field, kind, (column, row)."""


class Services:
    """Places devices by room, field and cell, and runs by their ends."""

    def __init__(self, building: Building, ledger: Ledger) -> None:
        self.building, self.ledger, self.model = building, ledger, building.model
        self.devices = Devices(building.model)
        self.fields = room_fields(ROOMS)
        self.rooms = {room.id: room for room in ROOMS}
        self._counts: dict[str, int] = {}

    def level(self, room_id: str) -> float:
        """The ceiling's underside above the storey's elevation."""
        room = self.rooms[room_id]
        assert room.height is not None
        return room.floor + room.flooring + room.height

    def world_level(self, room_id: str) -> float:
        """The ceiling's underside as model z."""
        return STOREYS[self.rooms[room_id].storey][1] + self.level(room_id)

    def name(self, room_id: str, kind: str) -> str:
        """The next free name of a kind in a room: `Light 001/3`."""
        label = f"{kind.capitalize()} {room_id}"
        self._counts[label] = self._counts.get(label, 0) + 1
        return f"{label}/{self._counts[label]}"

    def device(self, kind: str, room_id: str, point: Point, height: float | None = None) -> Any:
        """A device at a plan point of the room's frame, its zero at the ceiling or a given height."""
        room = self.rooms[room_id]
        z = self.level(room_id) if height is None else room.floor + height
        placement = self.model.placement(self.building.place(room.storey, room.place), (*point, z))
        structure = self.building.storeys[room.storey]
        return self.devices.place(kind, self.name(room_id, kind), placement, structure)

    def in_cell(
        self, kind: str, field_id: str, cell: tuple[int, int], off: Point = (0.0, 0.0)
    ) -> tuple[Any, Point]:
        """A device in a cell's middle, or off it; with its point in the building's coordinates."""
        field = self.fields[field_id]
        u, v = field.local_cell(*cell)
        u, v = u + off[0], v + off[1]
        room_id = self.room_at(field_id, field, u, v)
        device = self.device(kind, room_id, (field.x + u, field.y + v))
        return device, field.at(u, v)

    def room_at(self, field_id: str, field: Field, u: float, v: float) -> str:
        """The room of a field that a point from the field's corner lies in."""
        if field_id not in ZONES:
            return field_id
        x, y = field.x + u, field.y + v
        for room_id in field_id.split("+"):
            corners = self.rooms[room_id].outline
            (x0, y0), (x1, y1) = corners[0], corners[2]  # type: ignore[misc]
            if x0 < x < x1 and y0 < y < y1:
                return room_id
        raise ValueError(f"no room of {field_id} at {x}, {y}")

    def run(
        self, entity: str, name: str, room_id: str, ends: tuple[Point, Point], section: Any, bottom: float
    ) -> Any:
        """A straight duct, pipe or tray between plan points; `bottom` from the storey's elevation."""
        room, (start, end) = self.rooms[room_id], ends
        length = math.hypot(end[0] - start[0], end[1] - start[1])
        height = section[1] if isinstance(section, tuple) else section
        along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length, 0.0)
        placement = self.model.placement(
            self.building.place(room.storey, room.place), (*start, bottom + height / 2), along
        )
        kind = {"IfcPipeSegment": "RIGIDSEGMENT", "IfcDuctSegment": "RIGIDSEGMENT"}.get(
            entity, "CABLETRAYSEGMENT"
        )
        shape = self.model.shape([lying(self.model, section, length)])
        return self.building.add(entity, name, name, room.storey, placement, shape, PredefinedType=kind)


def _on_module(services: Services) -> None:
    for field_id, kinds in ON_MODULE.items():
        made: dict[str, list[Any]] = {}
        for kind, cells in kinds.items():
            for cell in cells:
                device, _ = services.in_cell(kind, field_id, cell)
                u, v = services.fields[field_id].local_cell(*cell)
                room_id = services.room_at(field_id, services.fields[field_id], u, v)
                made.setdefault(room_id, []).append(device)
        if field_id == "020":
            _near_air(services, made["020"].pop())
        for room_id, devices in made.items():
            services.ledger.no_clash(
                "device on module", room_id, devices, "each in the middle of a cell of the balanced layout"
            )


def _near_air(services: Services, detector: Any) -> None:
    """A detector a cell away from a diffuser, across the corner."""
    gap = math.hypot(600.0 - 595.0 / 2, 600.0 - 595.0 / 2) - 50.0
    services.ledger.clash(
        "detector near supply air", "020", [detector], round(3 * 304.8 - gap, 3), "what is missing of 3 ft"
    )


def _off_module(services: Services) -> None:
    ledger = services.ledger
    light, (x, y) = services.in_cell("light", "001", (11, 7), (40.0, 0.0))
    ledger.clash(
        "light off module", "001", [light], 40.0, "distance from the middle of its cell", (x, y, 3015)
    )

    linear, (x, y) = services.in_cell("linear light", "003", (5, 4), (0.0, -300.0))
    ledger.clash(
        "light across members",
        "003",
        [linear],
        None,
        "crosses three lines of the grid (local y 1535, 2135, 2735), at least one of them a main",
        (x, y, 2715),
    )

    big, (x, y) = services.in_cell("full-inch diffuser", "005", (4, 5))
    ledger.clash("device larger than module", "005", [big], 9.6, "its side less the module", (x, y, 2715))

    head, (x, y) = services.in_cell("sprinkler", "024", (3, 4), (300.0, 0.0))
    ledger.clash(
        "sprinkler on a tee", "024", [head], 35.0, "how far its rosette reaches over the line", (x, y, 2715)
    )

    head, (x, y) = services.in_cell("sprinkler", "003", (8, 3), (75.0, 0.0))
    ledger.clash(
        "sprinkler off centre", "003", [head], 75.0, "distance from the middle of its cell", (x, y, 2715)
    )


def _overlapping(services: Services) -> None:
    ledger = services.ledger
    light, (x, y) = services.in_cell("light", "121", (2, 5))
    head, _ = services.in_cell("sprinkler", "121", (2, 5), (0.0, 0.0))
    ledger.clash("devices overlap", "121", [light, head], 70.0, "width of the overlap in plan", (x, y, 6915))


def _plank_light(services: Services) -> None:
    """Right in a 300 x 1200 grid, wrong in the default one."""
    ledger, field = services.ledger, services.fields["105"]
    u, v = cell_centre(field.width, 300, 4), cell_centre(field.depth, 1200, 2)
    plank = services.device("plank light", "105", (field.x + u, field.y + v))
    x, y = field.at(u, v)
    ledger.clash(
        "light across members",
        "105",
        [plank],
        None,
        "crosses two lines of a 600 x 600 grid",
        (x, y, 6915),
        unless_system="lay-in-300x1200",
    )
    ledger.no_clash(
        "device on module",
        "105",
        [plank],
        "in the middle of a cell of a 300 x 1200 grid with long panels along y",
        with_system="lay-in-300x1200",
    )


def _low_runs(services: Services) -> None:
    ledger, hall = services.ledger, services.level("020")
    low = services.run(
        "IfcDuctSegment", "Low duct 020", "020", ((3000, 12000), (9000, 12000)), (600, 350), hall - 60
    )
    ledger.clash(
        "duct through the ceiling",
        "020",
        [low],
        60.0,
        BELOW,
        (6000, 12000, hall - 60),
    )
    chamber = services.level("101")
    wide = services.run(
        "IfcDuctSegment", "Wide duct 101", "101", ((500, 2800), (11500, 2800)), (1400, 250), chamber + 185
    )
    ledger.no_clash(
        "duct over the mains",
        "101",
        [wide],
        "1400 mm wide, wider than mains stand apart, but high enough for trapezes under it",
    )
    archive = services.level("124")
    tight = services.run(
        "IfcDuctSegment", "Tight duct 124", "124", ((27800, 9000), (27800, 14300)), (1500, 250), archive + 105
    )
    ledger.clash(
        "duct in the hanger zone",
        "124",
        [tight],
        1500.0,
        "width of the duct: wider than hangers stand apart and too low for trapezes under it",
        (27800, 11650, 4200 + archive + 105),
    )
    corridor = services.level("010")
    pipe = services.run(
        "IfcPipeSegment", "Low pipe 010", "010", ((12000, 7705), (16500, 7705)), 110.0, corridor + 10
    )
    ledger.clash(
        "pipe in the grid's depth",
        "010",
        [pipe],
        -10.0,
        BELOW,
        (14250, 7705, corridor + 10),
    )


def _harmless_runs(services: Services) -> None:
    ledger, corridor = services.ledger, services.level("010")
    harmless = [
        services.run(
            "IfcDuctSegment", "Round duct 010", "010", ((1000, 7105), (37000, 7105)), 315.0, corridor + 450
        ),
        services.run(
            "IfcCableCarrierSegment",
            "Cable tray 010",
            "010",
            ((1000, 7705), (37000, 7705)),
            (300, 60),
            corridor + 500,
        ),
    ]
    why = "high above the ceiling, between two lines: no hanger meets it if mains run along the corridor"
    ledger.no_clash("service above the ceiling", "010", harmless, why)
    upper = services.level("110")
    high = services.run(
        "IfcDuctSegment", "Upper duct 110", "110", ((1000, 7105), (37000, 7105)), (400, 300), upper + 450
    )
    ledger.no_clash("service above the ceiling", "110", [high], why)
    riser = extrusion(services.model, rect(24800, 15000, 25600, 15600), 0, 8000)
    placement = services.model.placement(services.building.place("ground"), (0, 0, 0))
    services.building.add(
        "IfcDuctSegment",
        "Riser 027",
        "Riser 027",
        "ground",
        placement,
        services.model.shape([riser]),
        PredefinedType="RIGIDSEGMENT",
    )


def _on_walls(services: Services) -> None:
    wall_light = services.device("wall light", "001", (60, 3000), 1900)
    switch = services.device("switch", "001", (6, 5200), 1100)
    services.ledger.no_clash(
        "device on a wall", "001", [wall_light, switch], "hang on the wall far below the ceiling"
    )


def write_services(stem: str, building_name: str, ledger: Ledger) -> Model:
    """The services model; planted clashes and expected contacts go to the ledger."""
    model = Model(f"{stem}-services", "IFC4", 1, building_name)
    services = Services(start_building(model, building_name), ledger)
    _on_module(services)
    _off_module(services)
    _overlapping(services)
    _plank_light(services)
    _low_runs(services)
    _harmless_runs(services)
    _on_walls(services)
    plant_clearances(services)
    services.devices.write_weights()
    return model
