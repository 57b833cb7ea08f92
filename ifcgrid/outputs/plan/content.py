"""Turns a storey's ceilings, and what stands in and around them, into the things of its plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.building import BuildingAxis
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle
from ifcgrid.domain.room import Room
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.plan.drawing import Area, Lines, Mark, Outline, Part, Thing
from ifcgrid.outputs.plan.symbols import device_mark

__all__ = ["OmittedRoom", "Storey", "find_extent", "find_things"]

_AROUND = 600.0
"""Walls are cut off so far outside the rooms, in mm."""

_LEAST_STRIP = 30.0
"""Parts of a room without a grid that are thinner than this, in mm, are wall finish and not hatched."""

_ROLES = {
    Role.CROSS_TEE: Part.CROSS_TEE,
    Role.SECOND_TEE: Part.SECOND_TEE,
    Role.WALL_ANGLE: Part.WALL_ANGLE,
    Role.MAIN_RUNNER: Part.MAIN_RUNNER,
}
"""In the order in which they are drawn."""

_HANGER, _BRACE, _WIRE, _POINTER, _BUBBLE = 1.1, 3.0, 1.0, 2.6, 6.0
"""Widths of signs on paper in mm."""

_OVERHANG = 4.0
"""Axes run past the building so far, in mm on paper."""

Shape = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True, kw_only=True)
class OmittedRoom:
    """A room of the storey that got no ceiling; `outline` in model coordinates, None when unknown."""

    number: str
    name: str
    reason: str
    outline: Polygon | MultiPolygon | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Storey:
    """What is drawn: `failing` are the failing findings in the order of their numbers."""

    ceilings: Sequence[Ceiling]
    omitted: Sequence[OmittedRoom] = ()
    obstacles: Sequence[Obstacle] = ()
    failing: Sequence[Finding] = field(default=())
    axes: Sequence[BuildingAxis] = ()
    units: str = "mm"


def find_extent(storey: Storey) -> tuple[float, float, float, float]:
    """Bounds of all rooms with the walls and columns around them."""
    rooms = _room_extent(storey)
    window = shapely.box(*rooms).buffer(_AROUND, join_style="mitre")
    solids = [
        shape
        for o in storey.obstacles
        if o.kind in (Kind.WALL, Kind.COLUMN)
        and not (shape := shapely.make_valid(o.outline).intersection(window)).is_empty
    ]
    return _bounds([shapely.box(*rooms), *solids])


def _room_extent(storey: Storey) -> tuple[float, float, float, float]:
    """Bounds of all rooms; of what else there is when there is no room."""
    shapes: list[Any] = [c.zone.outline for c in storey.ceilings]
    shapes += [o.outline for o in storey.omitted if o.outline is not None]
    shapes = shapes or [o.outline for o in storey.obstacles]
    return _bounds(shapes) if shapes else (0.0, 0.0, 1000.0, 1000.0)


def _bounds(shapes: Sequence[Any]) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    return (x0, y0, x1, y1)


def find_things(storey: Storey, scale: float) -> tuple[Thing, ...]:
    """All things of a plan but its words: what lies below first."""
    walls, solids = _solids(storey)
    things: list[Thing] = [*solids, *_axes(storey, scale)]
    seen: set[str] = set()
    for ceiling in storey.ceilings:
        rooms = [room for room in ceiling.zone.rooms if room.key not in seen]
        seen |= {room.key for room in rooms}  # a soffit's ceiling names its room once more
        if rooms:
            things += _no_grid(ceiling.key, rooms, storey, walls)
    for ceiling in storey.ceilings:
        things += _grid(ceiling)
    things += _devices(storey, scale)
    for omitted in storey.omitted:
        if omitted.outline is not None:
            things += [
                Area(part=Part.NO_GRID, shape=omitted.outline, pattern="dots"),
                Outline(part=Part.NO_GRID, shape=omitted.outline),
            ]
    for ceiling in storey.ceilings:
        things += _outlines(ceiling)
    things += _findings(storey)
    return tuple(things)


def _polygons(shape: Any) -> list[Polygon]:
    parts: Iterable[Any] = shapely.get_parts(shape) if shape is not None else ()
    return [p for p in parts if isinstance(p, Polygon) and p.area > tolerance.AREA]


def _solids(storey: Storey) -> tuple[Shape, list[Thing]]:
    """What walls and columns cover, and their things, cut off a little outside the rooms."""
    window = shapely.box(*_room_extent(storey)).buffer(_AROUND, join_style="mitre")
    things: list[Thing] = []
    cover: list[Polygon] = []
    for kind, part, fill in (
        (Kind.WALL, Part.WALL, Part.WALL_FILL),
        (Kind.COLUMN, Part.COLUMN, Part.COLUMN_FILL),
    ):
        shapes = [shapely.make_valid(o.outline) for o in storey.obstacles if o.kind is kind]
        whole = MultiPolygon(_polygons(shapely.union_all(shapes).intersection(window))) if shapes else None
        if whole is not None and not whole.is_empty:
            things += [
                Area(part=fill, shape=whole, pattern="grey"),
                *(Outline(part=part, shape=polygon) for polygon in whole.geoms),
            ]
            cover += whole.geoms
    return MultiPolygon(_polygons(shapely.union_all(cover)) if cover else []), things


def _axes(storey: Storey, scale: float) -> Iterator[Thing]:
    """Axes of the building as far as they run past its rooms, with their tags in circles beyond."""
    x0, y0, x1, y1 = find_extent(storey)
    window = shapely.box(x0, y0, x1, y1).buffer(_OVERHANG * scale, join_style="mitre")
    rooms = shapely.union_all([c.zone.outline for c in storey.ceilings])
    shapely.prepare(rooms)
    for axis in storey.axes:
        line = shapely.LineString([axis.start, axis.end]).intersection(window)
        if not isinstance(line, shapely.LineString) or line.length <= _AROUND:
            continue
        ends = np.asarray(line.coords)
        yield Lines(part=Part.AXIS, ends=ends[None], keys=(f"axis/{axis.grid}/{axis.tag}",))
        way = (ends[1] - ends[0]) / line.length * _BUBBLE / 2 * scale
        for x, y in (ends[0] - way, ends[1] + way):
            if not rooms.intersects(shapely.Point(x, y).buffer(_BUBBLE / 2 * scale)):
                yield Mark(
                    part=Part.AXIS,
                    symbol="axis",
                    point=(float(x), float(y)),
                    size=(_BUBBLE, _BUBBLE),
                    is_sign=True,
                    key=f"axis/{axis.grid}/{axis.tag}",
                    facts=(("TAG", axis.tag), ("GRID", axis.grid)),
                )


def _no_grid(zone: str, rooms: Sequence[Room], storey: Storey, walls: Shape) -> Iterator[Thing]:
    """Parts of the rooms that bear no grid: soffits, bulkheads, what a column or a wall takes."""
    sections = shapely.union_all([room.section for room in rooms])
    others = [c.zone.outline for c in storey.ceilings if c.zone.outline.intersects(sections)]
    rest = sections.difference(shapely.union_all(others)).difference(walls)
    for part in _polygons(rest):
        core = part.buffer(-_LEAST_STRIP / 2)
        if not core.is_empty:
            yield Area(part=Part.NO_GRID, shape=part, pattern="dots", zone=zone)
            yield Outline(part=Part.NO_GRID, shape=part, zone=zone)


def _world(ceiling: Ceiling, *columns: NDArray[np.float64]) -> NDArray[np.float64]:
    """Local points (n, 2) a column as model points (n, columns, 2)."""
    return np.stack([ceiling.layout.frame.to_world(c) for c in columns], axis=1)


def _full(ceiling: Ceiling, keys: Iterable[str]) -> tuple[str, ...]:
    return tuple(f"{ceiling.key}/{key}" for key in keys)


def _grid(ceiling: Ceiling) -> Iterator[Thing]:
    members, keys = ceiling.members, _full(ceiling, ceiling.members.keys())
    ends = _world(ceiling, members.start, members.end)
    for role, part in _ROLES.items():
        chosen = np.flatnonzero(members.role == role)
        if len(chosen):
            own = tuple(keys[k] for k in chosen.tolist())
            yield Lines(part=part, ends=ends[chosen], keys=own, zone=ceiling.key)
    for opening in ceiling.openings:
        shape = ceiling.layout.frame.shape_to_world(opening.outline)
        yield Outline(part=Part.OPENING, shape=shape, key=opening.key, zone=ceiling.key)
    yield from _held(ceiling)
    yield from _hung(ceiling)


def _held(ceiling: Ceiling) -> Iterator[Thing]:
    """What holds a ceiling sideways, and the joints that part it."""
    if ceiling.joints:
        start, end = (np.array([getattr(j, name) for j in ceiling.joints]) for name in ("start", "end"))
        keys = _full(ceiling, (j.key for j in ceiling.joints))
        yield Lines(part=Part.JOINT, ends=_world(ceiling, start, end), keys=keys, zone=ceiling.key)
    bars = ceiling.stabilisers
    if bars is not None and len(bars):
        ends = _world(ceiling, bars.start, bars.end)
        yield Lines(part=Part.STABILISER, ends=ends, keys=_full(ceiling, bars.keys()), zone=ceiling.key)
    braces = ceiling.braces
    if braces is not None and len(braces):
        names = [f"brace/{j}/{i}" for j, i in zip(braces.line.tolist(), braces.column.tolist(), strict=True)]
        yield from _signs(ceiling, Part.BRACE, braces.point, _full(ceiling, names), _BRACE)


def _hung(ceiling: Ceiling) -> Iterator[Thing]:
    trapezes, hangers, wires = ceiling.trapezes, ceiling.hangers, ceiling.wires
    if trapezes is not None and len(trapezes):
        ends = _world(ceiling, trapezes.ends[:, 0], trapezes.ends[:, 1])
        keys = _full(ceiling, (f"trapeze/{k}" for k in range(len(trapezes))))
        yield Lines(part=Part.TRAPEZE, ends=ends, keys=keys, zone=ceiling.key)
    kinds = [HangerKind(kind).name.lower() for kind in hangers.kinds.tolist()]
    yield from _signs(ceiling, Part.HANGER, hangers.point, _full(ceiling, hangers.keys()), _HANGER, kinds)
    if wires is not None and len(wires):
        names = [f"wire/{d}/{n}" for d, n in zip(wires.device, wires.number.tolist(), strict=True)]
        yield from _signs(ceiling, Part.DEVICE_WIRE, wires.point, _full(ceiling, names), _WIRE)


def _signs(
    ceiling: Ceiling,
    part: Part,
    points: NDArray[np.float64],
    keys: Sequence[str],
    size: float,
    kinds: Sequence[str] = (),
) -> Iterator[Mark]:
    places = ceiling.layout.frame.to_world(points).tolist() if len(points) else []
    for k, ((x, y), key) in enumerate(zip(places, keys, strict=True)):
        yield Mark(
            part=part,
            symbol=part.value.replace(" ", "-"),
            point=(x, y),
            size=(size, size),
            angle_deg=ceiling.layout.frame.angle_deg,
            is_sign=True,
            key=key,
            zone=ceiling.key,
            facts=(("HOW", kinds[k]),) if kinds else (),
        )


def _devices(storey: Storey, scale: float) -> Iterator[Mark]:
    """Devices over or under a ceiling of the storey."""
    tree = shapely.STRtree([ceiling.zone.outline for ceiling in storey.ceilings])
    for obstacle in storey.obstacles:
        if obstacle.kind not in DEVICES:
            continue
        near = np.sort(tree.query(obstacle.outline, predicate="intersects")).tolist()
        if not near:
            continue
        share = [storey.ceilings[k].zone.outline.intersection(obstacle.outline).area for k in near]
        ceiling = storey.ceilings[near[int(np.argmax(share))]]
        facts = _facts(obstacle, ceiling, storey.units)
        yield device_mark(
            obstacle.kind, obstacle.outline, scale, key=obstacle.key, zone=ceiling.key, facts=facts
        )


def _facts(obstacle: Obstacle, ceiling: Ceiling, units: str) -> dict[str, str]:
    middle = obstacle.outline.centroid
    rooms = ceiling.zone.rooms
    room = min(rooms, key=lambda r: (r.outline.distance(middle), r.key))
    return {
        "KIND": obstacle.kind.value,
        "NAME": obstacle.name,
        "TYPE": obstacle.type_name,
        "ROOM": room.number or room.name,
        "UNDERSIDE": format_length(obstacle.bottom - room.floor, units),
        "GLOBALID": obstacle.key,
        "FILE": obstacle.source.replace("\\", "/").rsplit("/", 1)[-1],
    }


def _outlines(ceiling: Ceiling) -> Iterator[Thing]:
    outline = ceiling.zone.outline
    yield Outline(part=Part.CEILING, shape=outline, key=ceiling.key, zone=ceiling.key)
    if len(ceiling.zone.rooms) > 1:
        around = outline.boundary.buffer(tolerance.GAP)
        borders = shapely.union_all([room.outline.boundary for room in ceiling.zone.rooms])
        ends = _strokes(borders.difference(around))
        if len(ends):
            yield Lines(part=Part.ROOM, ends=ends, zone=ceiling.key)


def _strokes(shape: Any) -> NDArray[np.float64]:
    """The straight strokes (n, 2, 2) of lines; neighbouring rooms share one where they touch."""
    lines = [
        part for part in shapely.get_parts(shapely.line_merge(shape)) if part.length > tolerance.SHORTEST_EDGE
    ]
    pairs = [np.stack([c[:-1], c[1:]], axis=1) for c in (shapely.get_coordinates(line) for line in lines)]
    return np.concatenate([np.empty((0, 2, 2)), *pairs])


def _findings(storey: Storey) -> Iterator[Mark]:
    zone_of = {room.key: c.key for c in storey.ceilings for room in c.zone.rooms}
    for number, finding in enumerate(storey.failing, start=1):
        if finding.point is not None:
            waiver = finding.waiver
            facts = [("NUMBER", str(number)), ("RULE", finding.rule), ("WORDS", finding.message)]
            if waiver is not None:
                facts.append(("ACCEPTED", f"{waiver.by}: {waiver.reason}"))
            yield Mark(
                part=Part.FINDING,
                symbol="finding" if waiver is None else "finding-accepted",
                point=(float(finding.point[0]), float(finding.point[1])),
                size=(_POINTER, _POINTER),
                is_sign=True,
                key=f"finding/{number}",
                zone=zone_of.get(finding.room, finding.room),
                facts=tuple(facts),
            )
