"""Net quantities of a ceiling, room by room, measured from its geometry. Nothing is added for waste."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import atan2, ceil, degrees, floor, fsum, isfinite

import numpy as np
from numpy.typing import NDArray
from shapely import Point, Polygon
from shapely.geometry.polygon import orient

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.quantity import Item, Quantity, RoomLine, Unit, line_key

__all__ = ["CORNER_DEG", "LENGTH_CLASS", "RULES", "fixings_along", "measure_ceiling", "room_lines"]

LENGTH_CLASS = 250.0
"""Hangers are counted by length in classes of this many mm (our choice)."""

CORNER_DEG = 20.0
"""Wall angles that meet at more than this turn make a corner; less is a bend of a curve (our choice)."""

RULES = {
    "area": "area of the room's part of the ceiling, openings not taken off",
    "hung": "panel area hung, cut panels at their own size, lay-in openings taken off",
    "opening": "area of the openings for devices",
    "perimeter": "all walls of the room's part of the ceiling, columns and returns with them",
    "panel": "cells of the grid that are wholly in the room",
    "cut panel": "pieces of cells that a wall, column or soffit cuts, by their bounds",
    "member": "members as they stand in the grid, one for each wall to wall or node to node",
    "length": "to centre lines and wall faces, before end gaps and splices",
    "splice": "pieces of a main less one, main by main",
    "connection": "tee ends that a main or a tee carries",
    "corner": f"walls that meet at more than {CORNER_DEG:g} degrees",
    "hanger": f"hangers by length in classes of {LENGTH_CLASS:g} mm; size 0, 0 where no structure is known",
    "hanger length": "way from the main to the structure or the trapeze, wraps not counted",
    "anchor": "one at each upper end of a hanger, trapeze, brace and wire whose structure is known",
    "support": "as designed",
    "openings": "devices in the ceiling",
}
"""How each quantity is measured."""

_MEMBERS = {
    Role.MAIN_RUNNER: (Item.MAIN_RUNNER, Item.MAIN_LENGTH),
    Role.CROSS_TEE: (Item.CROSS_TEE, Item.CROSS_TEE_LENGTH),
    Role.SECOND_TEE: (Item.SECOND_TEE, Item.SECOND_TEE_LENGTH),
    Role.WALL_ANGLE: (Item.WALL_ANGLE, Item.ANGLE_LENGTH),
}

_Add = Callable[..., None]


def room_lines(ceilings: Sequence[Ceiling]) -> tuple[RoomLine, ...]:
    """What rows say of their rooms, in the order of the ceilings."""
    return tuple(
        RoomLine(
            key=line_key(ceiling.zone, index),
            number=room.number,
            name=room.name,
            storey=room.storey,
            zone=ceiling.key,
            system=ceiling.system.id,
        )
        for ceiling in ceilings
        for index, room in enumerate(ceiling.zone.rooms)
    )


def measure_ceiling(ceiling: Ceiling, parts: Sequence[Sequence[Polygon]] | None = None) -> list[Quantity]:
    """All net quantities of a ceiling, by room.

    `parts` are the polygons, in model coordinates, of each room's share of the ceiling, in
    the order of `zone.rooms`; without them a zone of several rooms is measured by their
    outlines.
    """
    rooms = ceiling.zone.rooms
    if parts is None:
        parts = [[ceiling.zone.outline]] if len(rooms) == 1 else [[room.outline] for room in rooms]
    found: list[Quantity] = []
    corners = _corners(ceiling)
    for index in range(len(rooms)):

        def add(
            item: Item,
            value: float,
            rule: str,
            unit: Unit = Unit.PIECES,
            size: Sequence[float] = (),
            key: str = line_key(ceiling.zone, index),
        ) -> None:
            if value:
                found.append(
                    Quantity(room=key, item=item, unit=unit, value=value, rule=RULES[rule], size=tuple(size))
                )

        _areas(ceiling, index, parts[index], add)
        _panels(ceiling, index, add)
        _members(ceiling, index, add)
        for item in (Item.INSIDE_CORNER, Item.OUTSIDE_CORNER):
            add(item, corners.count((index, item)), "corner")
        _hangers(ceiling, index, add)
        _supports(ceiling, index, add)
    return found


def _areas(ceiling: Ceiling, index: int, parts: Sequence[Polygon], add: _Add) -> None:
    local = [ceiling.layout.frame.shape_to_local(part) for part in parts]
    openings = [o for o in ceiling.openings if o.room == index]
    taken = fsum(o.outline.intersection(part).area for o in openings for part in local)
    add(Item.CEILING_AREA, fsum(part.area for part in parts) / 1e6, "area", Unit.AREA)
    add(
        Item.PANEL_AREA,
        float(ceiling.panels.area[ceiling.panels.room == index].sum()) / 1e6,
        "hung",
        Unit.AREA,
    )
    add(Item.OPENING_AREA, taken / 1e6, "opening", Unit.AREA)
    wall = ceiling.zone.outline.boundary.buffer(tolerance.LENGTH)
    around = [part if len(ceiling.zone.rooms) == 1 else part.boundary.intersection(wall) for part in parts]
    add(Item.PERIMETER, fsum(line.length for line in around), "perimeter", Unit.LENGTH)
    lay_in = sum(o.is_lay_in for o in openings)
    add(Item.LAY_IN_OPENING, lay_in, "openings")
    add(Item.CUT_OPENING, len(openings) - lay_in, "openings")


def _panels(ceiling: Ceiling, index: int, add: _Add) -> None:
    panels, layout = ceiling.panels, ceiling.layout
    own = panels.room == index
    add(Item.PANEL, int((own & panels.is_full).sum()), "panel", size=(layout.along, layout.across))
    cut = panels.bounds[own & ~panels.is_full]
    for size, number in _counted(cut[:, 2:] - cut[:, :2]):
        add(Item.CUT_PANEL, number, "cut panel", size=size)


def _counted(sizes: NDArray[np.float64]) -> list[tuple[tuple[float, ...], int]]:
    """Sizes to a tenth of a millimetre and how often each occurs, the largest first."""
    rows = np.round(sizes, 1) + 0.0
    return sorted(Counter(map(tuple, rows.tolist())).items(), reverse=True)


def _members(ceiling: Ceiling, index: int, add: _Add) -> None:
    members = ceiling.members
    own = members.room == index
    lengths = members.length
    for role, (pieces, total) in _MEMBERS.items():
        chosen = lengths[own & (members.role == role)]
        for size, number in _counted(chosen[:, None]):
            add(pieces, number, "member", size=size)
        add(total, fsum(chosen.tolist()), "length", Unit.LENGTH)
    if ceiling.pieces is not None:
        is_main = (members.role == Role.MAIN_RUNNER) & own
        add(Item.SPLICE, int((is_main[ceiling.pieces.member] & (ceiling.pieces.number > 0)).sum()), "splice")
    add(Item.CONNECTION, int(_carried(ceiling)[own].sum()), "connection")


def _carried(ceiling: Ceiling) -> NDArray[np.int64]:
    """How many ends (n,) of each tee lie on a line of the grid that can carry it."""
    members, layout = ceiling.members, ceiling.layout
    carried = np.zeros(len(members), dtype=np.int64)
    for role, axis in ((Role.CROSS_TEE, 1), (Role.SECOND_TEE, 0)):
        chosen = np.flatnonzero(members.role == role)
        step = layout.across if axis else layout.along
        for ends in (members.start, members.end):
            line = ends[chosen, axis] / step
            on_line = np.abs(line - np.round(line)) * step <= tolerance.LENGTH
            if axis:
                on_line &= (
                    np.round(line).astype(int) % layout.main_every == layout.main_phase % layout.main_every
                )
            carried[chosen] += on_line & ~_on_wall(ceiling, ends[chosen])
    return carried


def _on_wall(ceiling: Ceiling, points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which local points lie on a wall's face."""
    wall = ceiling.members.role == Role.WALL_ANGLE
    start, end = ceiling.members.start[wall], ceiling.members.end[wall]
    if not len(points) or not len(start):
        return np.zeros(len(points), dtype=bool)
    along = end - start
    share = np.einsum("pwk,wk->pw", points[:, None] - start, along) / np.maximum(
        (along**2).sum(axis=1), tolerance.AREA
    )
    nearest = start + np.clip(share, 0.0, 1.0)[..., None] * along
    on: NDArray[np.bool_] = (np.hypot(*np.moveaxis(points[:, None] - nearest, 2, 0)) <= tolerance.LENGTH).any(
        axis=1
    )
    return on


def _corners(ceiling: Ceiling) -> list[tuple[int, Item]]:
    """The corners of the zone's walls: whose room's, and whether inside or outside."""
    outline = orient(ceiling.zone.outline)
    found = []
    for ring in (outline.exterior, *outline.interiors):
        points = list(ring.coords)[:-1]
        for before, at, after in zip(
            [points[-1], *points[:-1]], points, [*points[1:], points[0]], strict=True
        ):
            turn = _turn(before, at, after)
            if abs(turn) > CORNER_DEG:
                # The room lies on the left of every wall, so a turn to the left goes round inside it.
                item = Item.INSIDE_CORNER if turn > 0 else Item.OUTSIDE_CORNER
                found.append((_room_at(ceiling, at), item))
    return found


def _turn(before: Sequence[float], at: Sequence[float], after: Sequence[float]) -> float:
    (ax, ay), (bx, by) = ((q[0] - p[0], q[1] - p[1]) for p, q in pairwise((before, at, after)))
    return degrees(atan2(ax * by - ay * bx, ax * bx + ay * by))


def _room_at(ceiling: Ceiling, point: Sequence[float]) -> int:
    rooms = ceiling.zone.rooms
    if len(rooms) == 1:
        return 0
    spot = Point(point[0], point[1])
    return min(range(len(rooms)), key=lambda k: (round(rooms[k].outline.distance(spot), 3), k))


def _hangers(ceiling: Ceiling, index: int, add: _Add) -> None:
    hangers = ceiling.hangers
    own = hangers.room == index
    aside = np.hypot(*(hangers.top_points - hangers.point).T)
    lengths = np.hypot(hangers.top - hangers.bottom, aside)[own].tolist()
    classes = Counter(floor(x / LENGTH_CLASS + tolerance.SCORE) if isfinite(x) else -1 for x in lengths)
    for step, number in sorted(classes.items()):
        size = (0.0, 0.0) if step < 0 else (step * LENGTH_CLASS, (step + 1) * LENGTH_CLASS)
        add(Item.HANGER, number, "hanger", size=size)
    add(Item.HANGER_LENGTH, fsum(x for x in lengths if isfinite(x)), "hanger length", Unit.LENGTH)


def _supports(ceiling: Ceiling, index: int, add: _Add) -> None:
    hangers = ceiling.hangers
    own = hangers.room == index
    fixed = own & np.isfinite(hangers.top) & (hangers.kinds != HangerKind.TRAPEZE)
    anchors = int(fixed.sum())
    if ceiling.trapezes is not None:
        chosen = own[ceiling.trapezes.hanger]
        add(Item.TRAPEZE, int(chosen.sum()), "support")
        anchors += int(np.isfinite(ceiling.trapezes.top[chosen]).sum())
    for item, number, more in _others(ceiling, index):
        add(item, number, "support")
        anchors += more
    add(Item.ANCHOR, anchors, "anchor")


def _others(ceiling: Ceiling, index: int) -> Iterator[tuple[Item, int, int]]:
    """Braces and device wires of a room: item, number, anchors."""
    frame = ceiling.layout.frame
    if ceiling.braces is not None and len(ceiling.braces):
        rooms = [_room_at(ceiling, p) for p in frame.to_world(ceiling.braces.point).tolist()]
        own = np.array(rooms) == index
        posts = int(np.isfinite(ceiling.braces.post_top[own]).sum())
        wires = int(np.isfinite(ceiling.braces.wire_top[own, :, 2]).sum())
        yield Item.BRACE, int(own.sum()), posts + wires
    if ceiling.wires is not None and len(ceiling.wires):
        rooms = [_room_at(ceiling, p) for p in frame.to_world(ceiling.wires.point).tolist()]
        own = np.array(rooms) == index
        yield Item.DEVICE_WIRE, int(own.sum()), int(np.isfinite(ceiling.wires.top[own]).sum())


def fixings_along(length: float, spacing: float) -> int:
    """Fixings along one wall angle, one at each end and no two further apart than the spacing, all in mm."""
    return ceil((length - tolerance.LENGTH) / spacing) + 1
