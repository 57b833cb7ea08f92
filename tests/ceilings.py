"""Hand-made ceilings in hand-made models, for tests of what is written.

The members, panels and hangers are made here by clipping with shapely, on purpose without
ifcgrid's own design package: the writer is tested, not the designer.
"""

from __future__ import annotations

import uuid
from itertools import pairwise, product
from typing import Any

import ifcopenshell
import ifcopenshell.guid
import numpy as np
from shapely import LineString, Point, Polygon, box
from shapely.geometry.polygon import orient

from ifcgrid.domain.ceiling import Ceiling, Hangers, Members, Opening, Panels, Role
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Border, Candidate, Certificate, Layout
from ifcgrid.domain.room import CeilingHeight, Covering, HeightEvidence, HeightSource, Room, Zone
from ifcgrid.domain.system import GridSystem, Section

LEVEL = 2700.0
SOFFIT = 3300.0

METRIC = GridSystem(
    id="test-600",
    title="600 x 600 mm for tests",
    along=600.0,
    across=600.0,
    main_every=2,
    panel_thickness=15.0,
    main=Section(height=38.0, face=24.0, thickness=0.3),
    tee=Section(height=25.0, face=24.0, thickness=0.3),
    angle=Section(height=24.0, face=19.0, thickness=0.4),
    hanger_diameter=4.0,
    hanger_spacing=1200.0,
    hanger_end=450.0,
    main_stock=3600.0,
    angle_stock=3000.0,
    basis="invented for tests",
)


def guid(name: str) -> str:
    """A GlobalId that a test can name."""
    return ifcopenshell.guid.compress(uuid.uuid5(uuid.NAMESPACE_DNS, name).hex)


def make_room(name: str, outline: Polygon, covering: Covering | None = None) -> Room:
    """A room with floor 0 and the ceiling at `LEVEL`."""
    height = CeilingHeight(
        value=LEVEL,
        source=HeightSource.PROPERTY,
        candidates=(HeightEvidence(source=HeightSource.PROPERTY, value=LEVEL, where="test"),),
    )
    return Room(
        key=guid(name),
        name=name,
        number=name,
        storey="Level",
        storey_key=guid("storey"),
        section=outline,
        outline=outline,
        floor=0.0,
        top=3200.0,
        height=height,
        covering=covering,
    )


def make_ceiling(
    rooms: list[Room],
    outline: Polygon | None = None,
    angle: float = 0.0,
    openings: tuple[Opening, ...] = (),
    soffit: float | None = SOFFIT,
    offset: tuple[float, float] = (250.0, 150.0),
    system: GridSystem = METRIC,
) -> Ceiling:
    """A ceiling on a lattice that starts `offset` mm before the zone's corner."""
    outline = outline or rooms[0].outline
    turn = Frame(x=0.0, y=0.0, angle_deg=angle)
    u_min, v_min, u_max, v_max = turn.shape_to_local(outline).bounds
    (origin,) = turn.to_world([[u_min - offset[0], v_min - offset[1]]])
    frame = Frame(x=float(origin[0]), y=float(origin[1]), angle_deg=angle)
    zone = Zone(key=rooms[0].key, rooms=tuple(rooms), outline=outline, level=LEVEL)
    columns = int(np.ceil((u_max - u_min + offset[0]) / system.along))
    rows = int(np.ceil((v_max - v_min + offset[1]) / system.across))
    local = frame.shape_to_local(outline)
    return Ceiling(
        zone=zone,
        system=system,
        layout=make_layout(frame, system, columns, rows),
        panels=make_panels(frame, zone, local, system, columns, rows, openings),
        members=make_members(frame, zone, local, system, columns, rows),
        hangers=make_hangers(frame, zone, local, system, rows, soffit),
        openings=openings,
    )


def make_layout(frame: Frame, system: GridSystem, columns: int, rows: int) -> Layout:
    best = Candidate(angle_deg=frame.angle_deg, origin=(frame.x, frame.y), scores=(), lost_on="")
    edge = Border(
        ring=0, edge=0, start=(0.0, 0.0), end=(1.0, 0.0), length=1.0, axis="v", least=450.0, greatest=450.0
    )
    return Layout(
        frame=frame,
        along=system.along,
        across=system.across,
        main_every=system.main_every,
        main_phase=0,
        columns=columns,
        rows=rows,
        borders=(edge,),
        scores=(),
        meets_minimum=True,
        reason="made by hand",
        policy="half-module",
        certificate=Certificate(method="searched", tried=1, resolution=0.0, statement="none", best=(best,)),
    )


def _pieces(shape: Any) -> list[Any]:
    return [g for g in getattr(shape, "geoms", [shape]) if not g.is_empty]


def _room_of(frame: Frame, zone: Zone, point: Any) -> int:
    spot = Point(*frame.to_world([[point.x, point.y]])[0])
    return min(range(len(zone.rooms)), key=lambda i: (zone.rooms[i].outline.distance(spot), i))


def make_panels(
    frame: Frame,
    zone: Zone,
    local: Polygon,
    system: GridSystem,
    columns: int,
    rows: int,
    openings: tuple[Opening, ...],
) -> Panels:
    taken = {
        (o.cells[0] + i, o.cells[1] + j)
        for o in openings
        if o.cells is not None
        for i in range(o.cells[2])
        for j in range(o.cells[3])
    }
    found, outlines = [], {}
    for i in range(columns):
        for j in range(rows):
            cell = box(i * system.along, j * system.across, (i + 1) * system.along, (j + 1) * system.across)
            for k, piece in enumerate(_pieces(cell.intersection(local))):
                if (i, j) in taken or piece.area < 100.0:
                    continue
                if piece.area < box(*piece.bounds).area - 1.0:
                    outlines[len(found)] = piece
                room = _room_of(frame, zone, piece.representative_point())
                found.append((i, j, k, room, piece.area, piece.area > cell.area - 1.0, piece.bounds))
    columns_of = list(zip(*found, strict=True))
    return Panels(
        column=np.array(columns_of[0], dtype=np.int32),
        row=np.array(columns_of[1], dtype=np.int32),
        piece=np.array(columns_of[2], dtype=np.int32),
        room=np.array(columns_of[3], dtype=np.int32),
        area=np.array(columns_of[4]),
        is_full=np.array(columns_of[5]),
        bounds=np.array(columns_of[6]),
        outlines=outlines,
    )


def make_members(
    frame: Frame, zone: Zone, local: Polygon, system: GridSystem, columns: int, rows: int
) -> Members:
    found: list[tuple[Role, int, int, tuple[float, float], tuple[float, float]]] = []
    for j in range(1, rows):
        v = j * system.across
        whole = LineString([(-1.0, v), (columns * system.along + 1.0, v)]).intersection(local)
        for run, piece in enumerate(p for p in _pieces(whole) if p.length > 1.0):
            ends = sorted(piece.coords)
            if j % system.main_every == 0:
                found.append((Role.MAIN_RUNNER, j, run, ends[0], ends[-1]))
                continue
            for i in range(columns):
                low, high = max(ends[0][0], i * system.along), min(ends[-1][0], (i + 1) * system.along)
                if high - low > 1.0:
                    found.append((Role.SECOND_TEE, j, 100 * run + i, (low, v), (high, v)))
    for i, start in product(range(1, columns), range(0, rows, system.main_every)):
        u = i * system.along
        low, high = start * system.across, (start + system.main_every) * system.across
        whole = LineString([(u, low), (u, high)]).intersection(local)
        for run, piece in enumerate(p for p in _pieces(whole) if p.length > 1.0):
            ends = sorted(piece.coords)
            found.append((Role.CROSS_TEE, i, start + run, ends[0], ends[-1]))
    turned = orient(local)
    for ring, line in enumerate((turned.exterior, *turned.interiors)):
        edges = enumerate(pairwise(line.coords))
        found += [(Role.WALL_ANGLE, ring, edge, one, two) for edge, (one, two) in edges]
    rooms = [
        _room_of(frame, zone, LineString([a, b]).interpolate(0.5, normalized=True)) for *_, a, b in found
    ]
    return Members(
        role=np.array([f[0] for f in found], dtype=np.int32),
        line=np.array([f[1] for f in found], dtype=np.int32),
        index=np.array([f[2] for f in found], dtype=np.int32),
        room=np.array(rooms, dtype=np.int32),
        start=np.array([f[3] for f in found]),
        end=np.array([f[4] for f in found]),
    )


def make_hangers(
    frame: Frame, zone: Zone, local: Polygon, system: GridSystem, rows: int, soffit: float | None
) -> Hangers:
    found = []
    for j in range(system.main_every, rows, system.main_every):
        spots = np.arange(local.bounds[0] + system.hanger_end, local.bounds[2], system.hanger_spacing)
        inside = [u for u in spots.tolist() if local.contains(Point(u, j * system.across))]
        found += [(j, k, (u, j * system.across)) for k, u in enumerate(inside)]
    n = len(found)
    return Hangers(
        line=np.array([f[0] for f in found], dtype=np.int32),
        index=np.array([f[1] for f in found], dtype=np.int32),
        room=np.array([_room_of(frame, zone, Point(f[2])) for f in found], dtype=np.int32),
        point=np.array([f[2] for f in found]).reshape(-1, 2),
        bottom=np.full(n, LEVEL + system.main.height),
        top=np.full(n, np.nan if soffit is None else soffit),
        support=("",) * n if soffit is None else (guid("slab"),) * n,
    )


UNITS = {"mm": 1.0, "m": 1000.0, "ft": 304.8}


def make_model(
    schema: str,
    rooms: list[Room],
    unit: str = "mm",
    storey_at: tuple[float, float, float] = (0.0, 0.0, 0.0),
    storey_turn: float = 0.0,
    space_tilt: bool = False,
    has_views: bool = True,
    devices: tuple[str, ...] = (),
) -> ifcopenshell.file:
    """A building with these rooms as spaces whose bodies are where the rooms say.

    The storey may be moved and turned; with `space_tilt` each space's own axes are turned
    a quarter about X, so that its height runs along its own Y.
    """
    file = ifcopenshell.file(schema=schema)
    scale = UNITS[unit]
    make = file.create_entity
    owner = _owner(file) if schema == "IFC2X3" else None
    units = make("IfcUnitAssignment", Units=_units(file, unit))
    origin = _axes(file, np.eye(4))
    model = make(
        "IfcGeometricRepresentationContext",
        ContextType="Model",
        CoordinateSpaceDimension=3,
        Precision=1e-5,
        WorldCoordinateSystem=origin,
    )
    body = model
    if has_views:
        body = make(
            "IfcGeometricRepresentationSubContext",
            ContextIdentifier="Body",
            ContextType="Model",
            ParentContext=model,
            TargetView="MODEL_VIEW",
        )
    root = {"OwnerHistory": owner}
    project = make(
        "IfcProject",
        GlobalId=guid("project"),
        Name="P",
        RepresentationContexts=[model],
        UnitsInContext=units,
        **root,
    )
    building = make("IfcBuilding", GlobalId=guid("building"), CompositionType="ELEMENT", **root)
    c, s = np.cos(np.radians(storey_turn)), np.sin(np.radians(storey_turn))
    turned = np.array([[c, -s, 0, 0], [s, c, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    turned[:3, 3] = np.array(storey_at) / scale
    place = make("IfcLocalPlacement", None, _axes(file, turned))
    storey = make(
        "IfcBuildingStorey",
        GlobalId=guid("storey"),
        Name="Level",
        ObjectPlacement=place,
        CompositionType="ELEMENT",
        **root,
    )
    own = np.eye(4)
    if space_tilt:
        own[:3, :3] = [[1, 0, 0], [0, 0, -1], [0, 1, 0]]
    spaces = []
    for room in rooms:
        outline = np.array(room.section.exterior.coords)[:-1] / scale
        points = np.column_stack([outline, np.zeros(len(outline))])
        local = (points - turned[:3, 3]) @ turned[:3, :3]
        spaces.append(_space(file, room, local, place, own, body, owner, scale))
    for number, (whole, parts) in enumerate(((project, [building]), (building, [storey]), (storey, spaces))):
        make("IfcRelAggregates", guid(f"aggregates {number}"), owner, None, None, whole, parts)
    _devices(file, devices, storey, place, body, owner, scale)
    return file


def _axes(file: ifcopenshell.file, matrix: Any) -> Any:
    m = np.array(matrix, dtype=float)
    return file.create_entity(
        "IfcAxis2Placement3D",
        file.create_entity("IfcCartesianPoint", m[:3, 3].tolist()),
        file.create_entity("IfcDirection", m[:3, 2].tolist()),
        file.create_entity("IfcDirection", m[:3, 0].tolist()),
    )


def _owner(file: ifcopenshell.file) -> Any:
    make = file.create_entity
    person, organization = make("IfcPerson", FamilyName="Doe"), make("IfcOrganization", Name="O")
    user = make("IfcPersonAndOrganization", person, organization)
    application = make("IfcApplication", organization, "1", "App", "app")
    return make("IfcOwnerHistory", user, application, None, "NOCHANGE", None, None, None, CreationDate=0)


def _units(file: ifcopenshell.file, unit: str) -> list[Any]:
    make = file.create_entity
    metre = make("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
    length = metre
    if unit == "mm":
        length = make("IfcSIUnit", UnitType="LENGTHUNIT", Prefix="MILLI", Name="METRE")
    if unit == "ft":
        size = make("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
        factor = make("IfcMeasureWithUnit", make("IfcLengthMeasure", 0.3048), metre)
        length = make("IfcConversionBasedUnit", size, "LENGTHUNIT", "FOOT", factor)
    area = make("IfcSIUnit", UnitType="AREAUNIT", Name="SQUARE_METRE")
    angle = make("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")
    return [length, area, angle]


def _solid(file: ifcopenshell.file, points: Any, height: float, position: Any) -> Any:
    make = file.create_entity
    corners = [make("IfcCartesianPoint", p) for p in np.asarray(points, dtype=float)[:, :2].tolist()]
    ring = make("IfcPolyline", [*corners, corners[0]])
    profile = make("IfcArbitraryClosedProfileDef", "AREA", None, ring)
    up = make("IfcDirection", (0.0, 0.0, 1.0))
    return make("IfcExtrudedAreaSolid", profile, position, up, height)


def _shape(file: ifcopenshell.file, body: Any, solid: Any) -> Any:
    shown = file.create_entity("IfcShapeRepresentation", body, "Body", "SweptSolid", [solid])
    return file.create_entity("IfcProductDefinitionShape", None, None, [shown])


def _space(
    file: ifcopenshell.file,
    room: Room,
    local: Any,
    parent: Any,
    own: Any,
    body: Any,
    owner: Any,
    scale: float,
) -> Any:
    back = np.eye(4)
    back[:3, :3] = own[:3, :3].T
    solid = _solid(file, local, room.top / scale, _axes(file, back))
    return file.create_entity(
        "IfcSpace",
        GlobalId=room.key,
        OwnerHistory=owner,
        Name=room.number,
        LongName=room.name,
        ObjectPlacement=file.create_entity("IfcLocalPlacement", parent, _axes(file, own)),
        Representation=_shape(file, body, solid),
        CompositionType="ELEMENT",
        **{"InteriorOrExteriorSpace": "INTERNAL"} if file.schema == "IFC2X3" else {},
    )


def add_covering(file: ifcopenshell.file, key: str, outline: Polygon) -> None:
    """An architect's ceiling (model in mm, storey at the origin), contained in the storey."""
    storey = file.by_guid(guid("storey"))
    owner = file.by_type("IfcProject")[0].OwnerHistory
    body = file.by_type("IfcGeometricRepresentationContext")[0]
    at_level = np.eye(4)
    at_level[2, 3] = LEVEL
    solid = _solid(file, np.array(outline.exterior.coords)[:-1], 50.0, _axes(file, np.eye(4)))
    made = file.create_entity(
        "IfcCovering",
        GlobalId=key,
        OwnerHistory=owner,
        ObjectPlacement=file.create_entity(
            "IfcLocalPlacement", storey.ObjectPlacement, _axes(file, at_level)
        ),
        Representation=_shape(file, body, solid),
        PredefinedType="CEILING",
    )
    file.create_entity("IfcRelContainedInSpatialStructure", guid("holds"), owner, None, None, [made], storey)


def _devices(
    file: ifcopenshell.file,
    names: tuple[str, ...],
    storey: Any,
    place: Any,
    body: Any,
    owner: Any,
    scale: float,
) -> None:
    made = []
    for name in names:
        square = np.array([[0, 0], [100, 0], [100, 100], [0, 100]]) / scale
        solid = _solid(file, square, 50.0 / scale, _axes(file, np.eye(4)))
        made.append(
            file.create_entity(
                "IfcFlowTerminal",
                GlobalId=guid(name),
                OwnerHistory=owner,
                Name=name,
                ObjectPlacement=file.create_entity("IfcLocalPlacement", place, _axes(file, np.eye(4))),
                Representation=_shape(file, body, solid),
            )
        )
    if made:
        file.create_entity(
            "IfcRelContainedInSpatialStructure", guid("contains"), owner, None, None, made, storey
        )
