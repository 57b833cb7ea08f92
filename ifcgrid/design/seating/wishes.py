"""What each device in a zone's ceiling is to do, and which of them hold the grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import Polygon

from ifcgrid.design.devices import CellFit, cell_fit, devices_in, footprint
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.domain import tolerance
from ifcgrid.domain.device_rule import DeviceRule, find_wish
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.room import Zone
from ifcgrid.domain.seat import Hold, Seat, Wish
from ifcgrid.domain.system import GridSystem

__all__ = ["Asked", "Held", "ask_devices", "find_held"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One device in the ceiling's plane with its wish; `seat` None means that it wants none.

    `outline` is what of it meets the ceiling, in model coordinates; `room` the index of its
    room in the zone; `fit` says whether it is made for the system's cells.
    """

    device: Obstacle
    outline: Polygon
    room: int
    wish: Wish
    seat: Seat | None
    fit: CellFit

    @property
    def wants_cells(self) -> bool:
        """Whether it is to fill whole cells; else it wants a point of one."""
        return self.seat is Seat.CELL and self.fit is not CellFit.NONE

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle in model coordinates in mm: of a rectangle exactly, of a round one its centroid."""
        # Measured near zero: far from the origin the enclosing rectangle loses digits.
        x, y, _, _ = self.outline.bounds
        near = shapely.transform(self.outline, lambda points: points - (x, y))
        box = shapely.oriented_envelope(near)
        is_full = near.area >= tolerance.LAY_IN_FILL * box.area
        point = (box if is_full else near).centroid
        return (x + float(point.x), y + float(point.y))


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What holds the grid: outlines of devices that want whole cells, and points of smaller ones."""

    cells: tuple[Polygon, ...] = ()
    points: tuple[HeldPoint, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.cells or self.points)


def ask_devices(
    zone: Zone, system: GridSystem, policy: Policy, devices: Sequence[Obstacle], rules: Sequence[DeviceRule]
) -> tuple[Asked, ...]:
    """The devices of a zone's ceiling, by key, each with what the plan or the policy wants of it.

    A device of a cell's size wants its cells. A smaller one wants the seat that a rule or
    the policy names; where nothing was agreed only those that may move want one, a point of
    a cell. What hangs on a wall wants none.
    """
    asked = []
    for device in devices_in(zone, devices, zone.level):
        outline = footprint(device, zone.level)
        if outline is None or outline.is_empty:
            continue
        room = _room_of(zone, outline)
        wish = find_wish(rules, _facts(zone, device, room))
        fit = cell_fit(outline, system)
        one = Asked(device=device, outline=outline, room=room, wish=wish, seat=wish.seat, fit=fit)
        asked.append(replace(one, seat=_seat(one, zone, policy)))
    return tuple(asked)


def _facts(zone: Zone, device: Obstacle, room: int) -> dict[str, tuple[str, ...]]:
    own = zone.rooms[room]
    return {
        "kind": (device.kind.value,),
        "name": (device.name, device.type_name),
        "key": (device.key,),
        "storey": (own.storey,),
        "room": (own.number, own.name),
    }


def _room_of(zone: Zone, outline: Polygon) -> int:
    if len(zone.rooms) == 1:
        return 0
    middle = outline.centroid
    distance = shapely.distance([room.outline for room in zone.rooms], middle)
    return int(distance.argmin())


def _seat(asked: Asked, zone: Zone, policy: Policy) -> Seat | None:
    if asked.wish.hold is Hold.FREE or _is_on_wall(asked, zone):
        return None
    if asked.wish.seat is not None:
        return asked.wish.seat
    if asked.fit is not CellFit.NONE:
        return Seat.CELL
    if policy.seat is None and asked.wish.hold is Hold.MOVABLE:
        return Seat.CENTRE_OR_QUARTER
    return policy.seat


def _is_on_wall(asked: Asked, zone: Zone) -> bool:
    """A sidewall sprinkler, or a small device whose body meets a wall."""
    device = asked.device
    if device.kind is Kind.SPRINKLER and "sidewall" in f"{device.name} {device.type_name}".casefold():
        return True
    if asked.fit is not CellFit.NONE:
        return False
    return bool(shapely.distance(zone.outline.boundary, asked.outline) <= tolerance.LENGTH)


def find_held(asked: Sequence[Asked]) -> Held:
    """What of the devices holds the grid: the fixed ones that want a seat."""
    fixed = [one for one in asked if one.wish.hold is Hold.FIXED and one.seat is not None]
    cells = [one for one in fixed if one.wants_cells]
    points = [one for one in fixed if not one.wants_cells]
    return Held(
        # What is made for another module can never be on this one, so the grid does not heed it.
        cells=tuple(one.outline for one in cells if one.fit is CellFit.FITS),
        points=tuple(
            HeldPoint(x=one.middle[0], y=one.middle[1], has_quarters=one.seat is Seat.CENTRE_OR_QUARTER)
            for one in points
        ),
    )
