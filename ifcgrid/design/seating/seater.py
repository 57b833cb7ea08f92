"""Which devices of a ceiling are on their seats, and where the others would go."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.devices import CellFit
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.seating.assignment import assign
from ifcgrid.design.seating.cells import Cells, Stand, see_cells, stand_of
from ifcgrid.design.seating.wishes import Asked
from ifcgrid.domain import tolerance
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone
from ifcgrid.domain.seat import Hold, Move, Seating
from ifcgrid.domain.units import format_mm

__all__ = ["seat_devices"]

_Floats = NDArray[np.float64]

_Place = tuple[float, float]


def seat_devices(zone: Zone, layout: Layout, asked: Sequence[Asked]) -> Seating:
    """Which devices are on their seats in a layout, and the shortest moves for the others.

    Those that are on their seats stay, and so do those that want none. All others get
    distinct cells so that as many as possible have one and the moves are shortest in sum;
    that is exact for devices of one cell or less. Devices of several cells are seated
    first, as they find room least easily. A device that finds no seat stays where it is.
    """
    wanting = [one for one in asked if one.seat is not None]
    if not wanting:
        return Seating()
    cells = see_cells(layout, cut_panels(zone, layout, ()))
    stands = {one.device.key: stand_of(one, layout) for one in asked}
    refused = {one.device.key: _mixed(stands[one.device.key], layout) for one in wanting}
    possible = [one for one in wanting if not refused[one.device.key]]
    seated = [one for one in possible if cells.is_seated(stands[one.device.key])]
    seekers = [one for one in possible if one not in seated]
    staying = [stands[one.device.key] for one in asked if one not in seekers]
    places, is_exact = _seat_all(cells, [stands[one.device.key] for one in seekers], staying)
    moves = []
    for one in wanting:
        key = one.device.key
        if one in seated:
            continue
        place, reason = places.get(key), refused[key]
        if place is None and not reason:
            reason = _why_not(cells, stands[key], one)
        moves.append(_move(one, stands[key], layout, place, reason))
    return Seating(
        seated=tuple(one.device.key for one in seated),
        moves=tuple(sorted(moves, key=lambda move: move.key)),
        is_exact=is_exact,
    )


def _mixed(stand: Stand, layout: Layout) -> str:
    """Why a device made for another module is refused; "" for any other."""
    if stand.asked.fit is not CellFit.TOO_LARGE or not stand.asked.wants_cells:
        return ""
    size, room = np.sort(stand.size), np.sort(stand.cells * np.array([layout.along, layout.across]))
    excess = float((size - room).max())
    return (
        f"{size[0]:.1f} x {size[1]:.1f} mm do not go into {room[0]:.1f} x {room[1]:.1f} mm, "
        f"{excess:.1f} mm too large: it is made for the module of another system"
    )


def _seat_all(
    cells: Cells, seekers: Sequence[Stand], staying: Sequence[Stand]
) -> tuple[dict[str, _Place], bool]:
    """The new middle (local) of each seeker by key; those without one are missing."""
    stuck: list[Stand] = []
    while True:
        free = cells.free_of([*staying, *stuck])
        going = [s for s in seekers if s not in stuck]
        large = [s for s in going if s.asked.wants_cells and s.cells.prod() > 1]
        places, is_exact = _seat_large(cells, large, free)
        small = [s for s in going if s not in large]
        places |= _seat_small(cells, small, free)
        left = [s for s in going if s.asked.device.key not in places]
        if not left:
            return places, is_exact
        stuck += left


def _seat_large(
    cells: Cells, stands: Sequence[Stand], free: NDArray[np.bool_]
) -> tuple[dict[str, _Place], bool]:
    """Blocks of cells for devices of several; `free` loses those that are taken.

    Each takes its nearest block, the nearest of all first. That is the best choice unless
    two wanted one block.
    """
    places: dict[str, _Place] = {}
    waiting, is_exact = list(stands), True
    wanted = {s.asked.device.key: cells.nearest_block(s, free) for s in waiting}
    while waiting:
        found = [(cells.nearest_block(s, free), s) for s in waiting]
        reach = [(block[0], k) for k, (block, _) in enumerate(found) if block is not None]
        if not reach:
            return places, is_exact
        _, k = min(reach)
        block, stand = found[k]
        assert block is not None
        is_exact &= block == wanted[stand.asked.device.key]
        places[stand.asked.device.key] = block[1]
        cells.take(free, block[1], stand.cells)
        waiting.remove(stand)
    return places, is_exact


def _seat_small(cells: Cells, stands: Sequence[Stand], free: NDArray[np.bool_]) -> dict[str, _Place]:
    """Cells for devices of one cell or less: distinct ones, with the least sum of moves."""
    if not stands:
        return {}
    options = [cells.options(s, free) for s in stands]
    # In the best choice nobody goes farther than the n-th nearest cell, n being how many seek one.
    near = [np.argsort(cost, kind="stable")[: len(stands)] for cost, _ in options]
    columns = np.unique(np.concatenate(near))
    cost = np.stack([cost[columns] for cost, _ in options])
    for row, stand in enumerate(stands):
        cost[row, cost[row] > stand.reach] = np.inf
    chosen = assign(cost)
    return {
        stand.asked.device.key: (float(points[columns[c], 0]), float(points[columns[c], 1]))
        for stand, (_, points), c in zip(stands, options, chosen.tolist(), strict=True)
        if c >= 0
    }


def _why_not(cells: Cells, stand: Stand, one: Asked) -> str:
    """Why a device gets no seat."""
    what = "whole cell" if one.wants_cells else "cell"
    free = cells.free_of([])
    if one.wants_cells and stand.cells.prod() > 1:
        what = f"block of {stand.cells[0]} x {stand.cells[1]} whole cells"
        block = cells.nearest_block(stand, free, is_any=True)
        nearest = np.inf if block is None else block[0]
    else:
        nearest = float(cells.options(stand, free)[0].min(initial=np.inf))
    if not np.isfinite(nearest):
        return f"the room has no {what} for it"
    if one.wish.hold is Hold.MOVABLE and nearest > stand.reach:
        return (
            f"the nearest {what} is {format_mm(nearest)} away, it may move {format_mm(stand.reach)} at most"
        )
    return f"every {what} within its reach is taken"


def _move(one: Asked, stand: Stand, layout: Layout, place: _Place | None, reason: str) -> Move:
    end = None
    if place is not None:
        # The step is turned, not the place, so that far coordinates cost the vector no digits.
        step = layout.frame.to_world([place, stand.middle])
        end = (one.middle[0] + float(step[0, 0] - step[1, 0]), one.middle[1] + float(step[0, 1] - step[1, 1]))
    turn = -stand.turn_deg if one.wants_cells and abs(stand.turn_deg) > tolerance.ANGLE_DEG else 0.0
    assert one.seat is not None
    return Move(
        key=one.device.key,
        kind=one.device.kind.value,
        name=one.device.name,
        room=one.room,
        hold=one.wish.hold,
        seat=one.seat,
        start=one.middle,
        end=end,
        turn_deg=turn if place is not None else 0.0,
        reason=reason,
    )
