"""What takes the room above a ceiling, cannot be reached or hangs too low: planted and harmless."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from demo_building.geometry import Point, rect
from demo_building.shapes import cylinder, extrusion, lying, pipe_shell

if TYPE_CHECKING:
    from demo_building.services import Services

__all__ = ["plant_clearances"]


def plant_clearances(services: Services) -> None:
    """Places all of it; what is planted and what is harmless goes to the ledger."""
    _over_panels(services)
    _over_lights(services)
    _insulated(services)
    _to_be_reached(services)
    _sprinklers(services)


def _middle(services: Services, field_id: str, cell: tuple[int, int]) -> Point:
    """The middle of a cell in the plan frame of its room."""
    field = services.fields[field_id]
    u, v = field.local_cell(*cell)
    return field.x + u, field.y + v


def _box(services: Services, entity: str, name: str, room_id: str, at: Point, size: Any, **more: Any) -> Any:
    """An upright box of width, depth and height about a plan point; its zero `rise` over the ceiling."""
    model, room = services.model, services.rooms[room_id]
    width, depth, height = size
    rise = more.pop("rise")
    solid = extrusion(model, rect(-width / 2, -depth / 2, width / 2, depth / 2), 0, height)
    placement = model.placement(
        services.building.place(room.storey, room.place), (*at, services.level(room_id) + rise)
    )
    return services.building.add(entity, name, name, room.storey, placement, model.shape([solid]), **more)


def _over_panels(services: Services) -> None:
    """A tray that is level, and a round duct that falls towards the facade and out through it."""
    ledger, field, level = services.ledger, services.fields["043"], services.level("043")
    y = _middle(services, "043", (1, 3))[1]
    ends = ((field.x + 2000, y), (field.x + 5000, y))
    tray = services.run("IfcCableCarrierSegment", "Low tray 043", "043", ends, (300, 60), level + 75)
    ledger.clash(
        "panels cannot be tilted in",
        "043",
        [tray],
        25.0,
        "what is missing of 100 over the ceiling's underside",
    )
    room, field, level = services.rooms["045"], services.fields["045"], services.level("045")
    radius, fall, under, run = 100.0, 0.1, 70.0, 4300.0
    wall = field.y + field.depth
    axis_at_wall = level + under + radius * math.hypot(1.0, fall)
    start = (_middle(services, "045", (6, 1))[0], wall + 600.0 - run, axis_at_wall + fall * (run - 600.0))
    model = services.model
    along = (0.0, 1.0, -fall)
    position = model.axes(start, (fall, 0.0, 1.0), along)
    position.Axis = model.direction(0.0, fall, 1.0)
    placement = model.make("IfcLocalPlacement", services.building.place(room.storey, room.place), position)
    duct = services.building.add(
        "IfcDuctSegment",
        "Falling duct 045",
        "Falling duct 045",
        room.storey,
        placement,
        model.shape([lying(model, 2 * radius, run * math.hypot(1.0, fall))]),
        PredefinedType="RIGIDSEGMENT",
    )
    ledger.clash(
        "panels cannot be tilted in",
        "045",
        [duct],
        100.0 - under,
        "what is missing of 100 over the ceiling's underside, at the facade; its box reaches far lower",
    )


def _over_lights(services: Services) -> None:
    ledger, field, level = services.ledger, services.fields["102"], services.level("102")
    y = _middle(services, "102", (1, 2))[1]
    ends = ((field.x + 800, y), (field.x + 5200, y))
    duct = services.run("IfcDuctSegment", "Duct over lights 102", "102", ends, (250, 200), level + 120)
    ledger.clash(
        "light with too little room above it",
        "102",
        [duct],
        30.0,
        "what is missing of 150 over the ceiling's underside, at two lights",
    )
    quilt = _box(
        services,
        "IfcCovering",
        "Insulation quilt 103",
        "103",
        _middle(services, "103", (1, 2)),
        (1000, 1000, 100),
        rise=80,
        PredefinedType="INSULATION",
    )
    ledger.clash("insulation over a light", "103", [quilt], 75.0, "what is missing of 75 over the light")


def _insulated(services: Services) -> None:
    """A pipe that would just go, and its insulation that does not."""
    model, field, level = services.model, services.fields["104"], services.level("104")
    y = _middle(services, "104", (1, 5))[1]
    ends = ((field.x + 500, y), (field.x + 5300, y))
    pipe = services.run("IfcPipeSegment", "Warm pipe 104", "104", ends, 60.0, level + 70)
    length = ends[1][0] - ends[0][0]
    placement = model.placement(services.building.place("upper"), (*ends[0], level + 100), (1.0, 0.0, 0.0))
    wrap = services.building.add(
        "IfcCovering",
        "Insulation of warm pipe 104",
        "Insulation of warm pipe 104",
        "upper",
        placement,
        model.shape([pipe_shell(model, 140.0, 40.0, length)]),
        PredefinedType="INSULATION",
    )
    model.root(
        "IfcRelCoversBldgElements",
        "Warm pipe 104",
        None,
        RelatingBuildingElement=pipe,
        RelatedCoverings=[wrap],
    )
    services.ledger.clash(
        "insulation in the grid's depth",
        "104",
        [wrap],
        8.0,
        "how far it would have to rise to clear the mains",
    )


def _to_be_reached(services: Services) -> None:
    ledger = services.ledger
    over_light = _middle(services, "104", (7, 7))
    valve = _box(
        services,
        "IfcValve",
        "Valve 104",
        "104",
        over_light,
        (150, 150, 150),
        rise=350,
        PredefinedType="ISOLATING",
    )
    ledger.clash(
        "valve over a light", "104", [valve], 450.0, "clear opening under it that is missing: all of it"
    )
    over_panel = _middle(services, "104", (4, 3))
    damper = _box(
        services,
        "IfcDamper",
        "Damper 104",
        "104",
        over_panel,
        (300, 300, 200),
        rise=300,
        PredefinedType="FIREDAMPER",
    )
    ledger.no_clash("damper over a panel", "104", [damper], "the panel under it lifts out")


def _sprinklers(services: Services) -> None:
    ledger = services.ledger
    low, (x, y) = services.in_cell("long sprinkler", "121", (6, 5))
    ledger.clash("sprinkler too low", "121", [low], 45.0, "how far its deflector is below 300", (x, y, 6570))
    pendant, _ = services.in_cell("pendant", "101", (10, 2), (0.0, 400.0))
    ledger.clash(
        "light under a sprinkler",
        "101",
        [pendant],
        352.2,
        "how far it reaches into the 457.2 to be kept clear under the deflector",
    )
    _branches(services)


def _branches(services: Services) -> None:
    """A pipe over three heads, with a drop to each: expected contacts."""
    model, level, field = services.model, services.level("101"), services.fields["101"]
    heads = [_middle(services, "101", (column, 2)) for column in (5, 10, 15)]
    y = heads[0][1]
    ends = ((field.x + 500, y), (field.x + 11000, y))
    pipes = [services.run("IfcPipeSegment", "Sprinkler pipe 101", "101", ends, 40.0, level + 600)]
    for number, head in enumerate(heads, start=1):
        name = f"Drop 101/{number}"
        placement = model.placement(services.building.place("upper"), (*head, level))
        shape = model.shape([cylinder(model, 12.5, 150, 620)])
        pipes.append(
            services.building.add(
                "IfcPipeSegment", name, name, "upper", placement, shape, PredefinedType="RIGIDSEGMENT"
            )
        )
    ledger = services.ledger
    ledger.no_clash("pipe with drops to heads", "101", pipes, "each drop ends at its head")
