"""The architecture file: spaces with their height evidence, walls, drawn ceilings, grid, stair, lift."""

from __future__ import annotations

from typing import Any

from demo_building.fields import ZONES, room_fields
from demo_building.geometry import Outline, area_mm2, moved, rect, vertices
from demo_building.ledger import Ledger
from demo_building.openings import add_openings
from demo_building.plan import LINK, SOFFIT, STOREYS, CeilingSpec, RoomSpec
from demo_building.rooms_ground import GROUND_ROOMS
from demo_building.rooms_upper import CEILINGS, UPPER_ROOMS
from demo_building.shapes import brep, clipped, extrusion, face_set, profile, triangles
from demo_building.site import Building, start_building
from demo_building.walls import FREE_PARTITION, RATED_SHORT_WALL, RATED_TALL_WALL, WALLS
from demo_building.writer import Model

__all__ = ["ROOMS", "write_architecture"]

ROOMS: tuple[RoomSpec, ...] = GROUND_ROOMS + UPPER_ROOMS

AXES_X = (0.0, 9651.0, 17111.0, 23271.0, 31265.0, 38325.0, 45000.0)
AXES_Y = (0.0, 6225.0, 8585.0, 14735.0, 19630.0)


def _top(room: RoomSpec) -> float:
    soffit = SOFFIT["wing"] if room.place == "wing" else SOFFIT[room.storey]
    return soffit if room.top is None else room.top


def _space_shape(model: Model, room: RoomSpec, shift: tuple[float, float]) -> Any:
    """The body in the space's own axes: origin on the first vertex, on the floor."""
    outline = moved(room.outline, -shift[0], -shift[1])
    holes = [moved(h, -shift[0], -shift[1]) for h in room.holes]
    height = _top(room) - room.floor
    if room.body == "none":
        return None
    if room.body == "brep":
        return model.shape([brep(model, vertices(outline), lambda _: 0.0, lambda _: height)], "Brep")
    if room.body == "faces":
        return model.shape([face_set(model, vertices(outline), 0.0, height)], "Tessellation")
    if room.body == "triangles":
        return model.shape([triangles(model, vertices(outline), 0.0, height)], "Tessellation")
    solid = extrusion(model, outline, 0.0, height, holes)
    if room.body == "clipped":
        return model.shape([clipped(model, solid, (0, 0, height), (-0.18, 0.0, 1.0))], "Clipping")
    return model.shape([solid])


def _space(building: Building, room: RoomSpec) -> Any:
    model = building.model
    shift = vertices(room.outline)[0]
    placement = model.placement(building.place(room.storey, room.place), (*shift, room.floor))
    space = model.root(
        "IfcSpace",
        room.id,
        room.number,
        LongName=room.name,
        ObjectPlacement=placement,
        Representation=_space_shape(model, room, shift),
        CompositionType="ELEMENT",
        PredefinedType="EXTERNAL" if room.external else "SPACE",
    )
    model.aggregate(building.storeys[room.storey], space)
    return space


def net_area_mm2(room: RoomSpec) -> float:
    """The plan area of the room's outline less its holes."""
    return area_mm2(room.outline) - sum(area_mm2(h) for h in room.holes)


def _evidence(building: Building, room: RoomSpec, space: Any) -> None:
    model = building.model
    quantities = []
    if room.body != "none":
        quantities.append(model.quantity("Area", "NetFloorArea", round(net_area_mm2(room) / 1e6, 6)))
        if room.state_height:
            quantities.append(model.quantity("Length", "Height", _top(room) - room.floor))
    if room.flooring:
        quantities.append(model.quantity("Length", "FinishFloorHeight", room.flooring))
    if room.finish is not None and room.finish_in == "quantity":
        quantities.append(model.quantity("Length", "FinishCeilingHeight", room.finish))
    if room.finish is not None and room.finish_in == "metres":
        metre = model.make("IfcSIUnit", None, "LENGTHUNIT", None, "METRE")
        quantities.append(model.quantity("Length", "FinishCeilingHeight", room.finish / 1000, metre))
    if room.finish is not None and room.finish_in == "property":
        model.properties(
            room.id,
            "Room schedule",
            {"Finish Ceiling Height": ("IfcLengthMeasure", model.length(room.finish))},
            [space],
        )
    if quantities:
        model.quantities(room.id, "Qto_SpaceBaseQuantities", quantities, [space])
    common: dict[str, tuple[str, Any]] = {"IsExternal": ("IfcBoolean", room.external)}
    model.properties(room.id, "Pset_SpaceCommon", common, [space])
    if room.concealed is not None:
        wanted = {
            "ConcealedCeiling": ("IfcBoolean", True),
            "ConcealedCeilingOffset": ("IfcPositiveLengthMeasure", model.length(room.concealed)),
        }
        model.properties(room.id, "Pset_SpaceCoveringRequirements", wanted, [space])


def _room_entry(room: RoomSpec) -> dict[str, Any]:
    storey, elevation = STOREYS[room.storey]
    floor = elevation + room.floor
    entry: dict[str, Any] = {
        "model": "architecture",
        "id": room.id,
        "number": room.number,
        "name": room.name,
        "storey": storey,
        "status": room.status,
        "why": room.why,
        "floor_mm": floor,
        "body": room.body,
        "area_m2": round(net_area_mm2(room) / 1e6, 6),
    }
    if room.status == "laid-out":
        assert room.height is not None
        entry |= {"height_mm": room.height, "height_source": room.source}
        entry["level_mm"] = floor + room.flooring + room.height
        if room.flooring:
            entry["flooring_mm"] = room.flooring
    return entry


def _spaces(building: Building, ledger: Ledger) -> dict[str, Any]:
    fields = room_fields(ROOMS)
    spaces: dict[str, Any] = {}
    for room in ROOMS:
        spaces[room.id] = _space(building, room)
        _evidence(building, room, spaces[room.id])
        laid_out = room.status == "laid-out"
        ledger.room(
            room.id, spaces[room.id].GlobalId, _room_entry(room), fields.get(room.id) if laid_out else None
        )
    ledger.rooms[spaces["102"].GlobalId]["conflicts"] = {"finish-ceiling-height": 2700.0}
    ledger.rooms[spaces["104-gross"].GlobalId]["duplicate_of"] = spaces["104"].GlobalId
    for name, field in ZONES.items():
        ledger.zone(name.split("+"), field, "no wall between them, one ceiling level")
    return spaces


def _walls(building: Building) -> dict[str, Any]:
    model, made = building.model, {}
    types = {
        True: model.root("IfcWallType", "facade", "Facade wall 300", PredefinedType="SOLIDWALL"),
        False: model.root("IfcWallType", "partition", "Partition 150", PredefinedType="PARTITIONING"),
    }
    rated: dict[tuple[bool, str], list[Any]] = {}
    for wall in WALLS:
        shift = vertices(wall.outline)[0]
        placement = model.placement(building.place(wall.storey, wall.place), (*shift, wall.bottom))
        solid = extrusion(model, moved(wall.outline, -shift[0], -shift[1]), 0.0, wall.top - wall.bottom)
        element = building.add("IfcWall", wall.name, wall.name, wall.storey, placement, model.shape([solid]))
        model.assign_type(types[wall.external], element)
        model.assign_material("Brick" if wall.external else "Plasterboard on studs", element)
        rated.setdefault((wall.external, wall.fire_rating), []).append(element)
        made[wall.name] = element
    for (external, rating), elements in rated.items():
        values: dict[str, tuple[str, Any]] = {"IsExternal": ("IfcBoolean", external)}
        if rating:
            values["FireRating"] = ("IfcLabel", rating)
        model.properties(f"walls-{external}-{rating}", "Pset_WallCommon", values, elements)
    return made


def _ceiling(building: Building, spec: CeilingSpec, spaces: dict[str, Any], ceiling_type: Any) -> Any:
    model = building.model
    shift = vertices(spec.outline)[0]
    placement = model.placement(building.place(spec.storey), (*shift, spec.underside))
    solid = extrusion(model, moved(spec.outline, -shift[0], -shift[1]), 0.0, spec.thickness)
    covering = model.root(
        "IfcCovering", spec.name, spec.name, ObjectPlacement=placement, Representation=model.shape([solid])
    )
    host = spaces[spec.rooms[0]] if spec.related == "space" else building.storeys[spec.storey]
    model.contain(host, covering)
    model.assign_type(ceiling_type, covering)
    area = round(area_mm2(spec.outline) / 1e6, 6)
    quantities = [model.quantity("Area", n, area) for n in ("GrossArea", "NetArea")]
    model.quantities(spec.name, "Qto_CoveringBaseQuantities", quantities, [covering])
    if spec.related == "boundary":
        for room in spec.rooms:
            model.root(
                "IfcRelSpaceBoundary",
                f"{spec.name}/{room}",
                None,
                RelatingSpace=spaces[room],
                RelatedBuildingElement=covering,
                PhysicalOrVirtualBoundary="PHYSICAL",
                InternalOrExternalBoundary="INTERNAL",
            )
    return covering


def _open_boundary(building: Building, spaces: dict[str, Any]) -> None:
    """The virtual boundary between 021 and 022."""
    model = building.model
    virtual = building.add(
        "IfcVirtualElement",
        "021-022",
        "Open boundary 021-022",
        "ground",
        model.placement(building.place("ground"), (20190, 8660, 0)),
        None,
    )
    for room in ("021", "022"):
        model.root(
            "IfcRelSpaceBoundary",
            f"open/{room}",
            None,
            RelatingSpace=spaces[room],
            RelatedBuildingElement=virtual,
            PhysicalOrVirtualBoundary="VIRTUAL",
            InternalOrExternalBoundary="INTERNAL",
        )


def _axes(building: Building) -> None:
    model = building.model

    def axis(tag: str, start: tuple[float, float], end: tuple[float, float]) -> Any:
        line = model.make("IfcPolyline", [model.point(*start), model.point(*end)])
        return model.make("IfcGridAxis", tag, line, True)

    u = [axis(chr(ord("A") + i), (-2000, y), (47000, y)) for i, y in enumerate(AXES_Y)]
    v = [axis(str(i + 1), (x, -2000), (x, 21600)) for i, x in enumerate(AXES_X)]
    curves = model.make("IfcGeometricCurveSet", [a.AxisCurve for a in u + v])
    shown = model.make("IfcShapeRepresentation", model.footprint, "FootPrint", "GeometricCurveSet", [curves])
    building.add(
        "IfcGrid",
        "axes",
        "Building axes",
        "ground",
        model.placement(building.place("ground"), (0, 0, 0)),
        model.make("IfcProductDefinitionShape", None, None, [shown]),
        UAxes=u,
        VAxes=v,
        PredefinedType="RECTANGULAR",
    )


def _stair_and_lift(building: Building) -> None:
    model, risers, going = building.model, 24, 260.0
    rise = STOREYS["upper"][1] / risers
    steps: list[tuple[float, float]] = [(0.0, 0.0)]
    for i in range(risers):
        steps += [(i * going, (i + 1) * rise), ((i + 1) * going, (i + 1) * rise)]
    steps.append((risers * going, 0.0))
    outline: Outline = tuple(reversed(steps))
    solid = model.make(
        "IfcExtrudedAreaSolid",
        profile(model, outline),
        model.axes((0, 0, 0), (0, -1, 0), (1, 0, 0)),
        model.direction(0, 0, 1),
        model.length(1200),
    )
    stair = model.placement(building.place("ground"), (38500, 7900, 0))
    building.add(
        "IfcStair",
        "stair",
        "Stair",
        "ground",
        stair,
        model.shape([solid]),
        PredefinedType="STRAIGHT_RUN_STAIR",
    )
    lift = model.placement(building.place("ground"), (24590, 17360, 0))
    car = extrusion(model, rect(150, 150, 1450, 2100), 50, 2350)
    building.add(
        "IfcTransportElement",
        "lift",
        "Lift car",
        "ground",
        lift,
        model.shape([car]),
        PredefinedType="ELEVATOR",
    )


def write_architecture(stem: str, building_name: str, ledger: Ledger) -> Model:
    """The architecture model; rooms, zones and what its walls plant go to the ledger."""
    model = Model(f"{stem}-architecture", "IFC4", 1, building_name)
    building = start_building(model, building_name)
    spaces = _spaces(building, ledger)
    walls = _walls(building)
    ceiling_type = model.root("IfcCoveringType", "ceiling", "Drawn ceiling", PredefinedType="CEILING")
    for spec in CEILINGS:
        covering = _ceiling(building, spec, spaces, ceiling_type)
        for room in spec.rooms:
            part = "soffit" if spec.name.startswith("Soffit") else "covering"
            ledger.rooms[spaces[room].GlobalId][part] = covering.GlobalId
    ledger.rooms[spaces[LINK].GlobalId]["sloped_top"] = True
    _open_boundary(building, spaces)
    _axes(building)
    _stair_and_lift(building)
    add_openings(building, ledger)
    _wall_findings(ledger, walls)
    ledger.clash(
        "heights disagree",
        "102",
        [spaces["102"]],
        200.0,
        "the drawn ceiling less the stated finish ceiling height",
    )
    return model


def _wall_findings(ledger: Ledger, walls: dict[str, Any]) -> None:
    ledger.clash(
        "wall not in the outline",
        "041",
        [walls[FREE_PARTITION]],
        935.0,
        "how far the wall stands above the ceiling's level",
    )
    ledger.clash(
        "rated wall short of the slab",
        "003",
        [walls[RATED_SHORT_WALL]],
        905.0,
        "from the wall's top to the soffit above",
    )
    ledger.no_clash("rated wall to the slab", "010", [walls[RATED_TALL_WALL]], "meets the slab above")
    ledger.no_clash("wall below the ceiling", "023", [walls["Low screen 023"]], "ends 800 under the ceiling")
    ledger.no_clash(
        "wall to the ceiling", "024", [walls["Partition 024-025"]], "ends at the ceiling's underside"
    )
    ledger.no_clash(
        "wall on the seam",
        "006",
        [walls["Partition ground 09"]],
        "stands on the seam of two rooms drawn to its middle: the fields end at its faces",
    )
