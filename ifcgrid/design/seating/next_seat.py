"""Where one device could go from where it stands: the nearest seats that nobody else has."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from ifcgrid.design.devices import CellFit
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.seating.cells import see_cells, stand_of
from ifcgrid.design.seating.seater import seat_devices
from ifcgrid.design.seating.wishes import Asked
from ifcgrid.domain import tolerance
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone
from ifcgrid.domain.seat import Hold, Move, Seat, Wish

__all__ = ["next_seats", "seat_these"]


def _as_movable(one: Asked) -> Asked:
    """The device free to go to any seat: whole cells if it is made for them, else a point of a panel."""
    seat = Seat.CELL if one.fit is CellFit.FITS else one.seat
    if seat is None or (seat is Seat.CELL and one.fit is not CellFit.FITS):
        seat = Seat.CENTRE_OR_QUARTER
    return replace(one, wish=Wish(hold=Hold.MOVABLE, seat=one.wish.seat), seat=seat)


def seat_these(zone: Zone, layout: Layout, asked: Sequence[Asked], keys: Collection[str]) -> tuple[Move, ...]:
    """The shortest moves that seat some devices while all others stay; by key, those without a seat too."""
    told = [_as_movable(one) if one.device.key in keys else replace(one, seat=None) for one in asked]
    return seat_devices(zone, layout, told).moves


def next_seats(zone: Zone, layout: Layout, asked: Sequence[Asked], key: str, most: int = 4) -> list[Move]:
    """Up to `most` seats that one device could take, the nearest first; none where it stands now.

    All other devices stay, and no seat touches them.
    """
    mover = next((one for one in asked if one.device.key == key), None)
    if mover is None:
        return []
    mover = _as_movable(mover)
    cells, stand = see_cells(layout, cut_panels(zone, layout, ())), stand_of(mover, layout)
    free = cells.free_of([stand_of(one, layout) for one in asked if one.device.key != key])
    if mover.wants_cells and stand.cells.prod() > 1:
        block = cells.nearest_block(stand, free)
        places = [] if block is None else [block[1]]
    else:
        distance, points = cells.options(stand, free)
        order = np.argsort(distance, kind="stable")
        places = [
            (float(points[k, 0]), float(points[k, 1])) for k in order.tolist() if np.isfinite(distance[k])
        ]
    moves = [_move(mover, stand.turn_deg, layout, stand.middle, place) for place in places]
    return [m for m in moves if m.vector and np.hypot(*m.vector) > tolerance.LENGTH][:most]


def _move(
    one: Asked, turn_deg: float, layout: Layout, middle: tuple[float, float], place: tuple[float, float]
) -> Move:
    step = layout.frame.to_world([place, middle])
    x, y = (step[0] - step[1]).tolist()
    assert one.seat is not None
    return Move(
        key=one.device.key,
        kind=one.device.kind.value,
        name=one.device.name,
        room=one.room,
        hold=one.wish.hold,
        seat=one.seat,
        start=one.middle,
        end=(one.middle[0] + x, one.middle[1] + y),
        turn_deg=-turn_deg if one.wants_cells and abs(turn_deg) > tolerance.ANGLE_DEG else 0.0,
    )
