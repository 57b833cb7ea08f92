"""Devices of a room: numbered, with their offsets from the strings and the way back onto the grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Opening
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.seat import Move
from ifcgrid.outputs.paper.columns import Block
from ifcgrid.outputs.paper.dimension import unbroken
from ifcgrid.outputs.setout.control import SetOut
from ifcgrid.outputs.setout.wall import Wall

__all__ = ["Device", "device_block", "find_devices"]

_FACES = 0.9
"""Cosine from which on a wall faces a direction."""

_LONGEST_NAME = 36


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Device:
    """A device in the ceiling: its number on the sheet, its middle (local), its outline (n, 2) local.

    `move` is the way to its seat when it stands off it; `ring` is None when only its middle
    is known.
    """

    number: int
    kind: str
    name: str
    point: NDArray[np.float64]
    ring: NDArray[np.float64] | None
    is_lay_in: bool
    move: Move | None

    @property
    def mark(self) -> str:
        """D1, D2 ...; with a star when it stands off its seat."""
        return f"D{self.number}" + ("*" if self.move else "")


def find_devices(ceiling: Ceiling, obstacles: Sequence[Obstacle] = ()) -> tuple[Device, ...]:
    """The devices that have an opening, row by row, then others that are off their seats."""
    known = {o.key: o for o in obstacles}
    moves = {move.key: move for move in ceiling.seating.moves}
    devices: list[Device] = []
    for opening in sorted(ceiling.openings, key=_row_by_row):
        found, move = known.get(opening.key), moves.pop(opening.key, None)
        kind = found.kind.value if found else (move.kind if move else Kind.DEVICE.value)
        (u0, v0, u1, v1) = opening.outline.bounds
        devices.append(
            Device(
                number=len(devices) + 1,
                kind=kind,
                name=found.name if found else (move.name if move else ""),
                point=np.array([(u0 + u1) / 2, (v0 + v1) / 2]),
                ring=np.asarray(opening.outline.exterior.coords)[:-1, :2],
                is_lay_in=opening.is_lay_in,
                move=move,
            )
        )
    for move in moves.values():
        devices.append(
            Device(
                number=len(devices) + 1,
                kind=move.kind,
                name=move.name,
                point=ceiling.layout.frame.to_local([move.start])[0],
                ring=None,
                is_lay_in=False,
                move=move,
            )
        )
    return tuple(devices)


def _row_by_row(opening: Opening) -> tuple[float, float, str]:
    u0, v0, u1, v1 = opening.outline.bounds
    return (round((v0 + v1) / 2), round((u0 + u1) / 2), opening.key)


def _from(setout: SetOut, axis: str) -> tuple[float, str]:
    """Where offsets along an axis count from: the string across it, or the datum where there is none."""
    datum = setout.datum_u if axis == "u" else setout.datum_v
    for line in setout.lines:
        if line.axis == axis:
            return line.at, f"string {line.number} (+ away from {datum.place})"
    return datum.at, datum.place


def _offset(value: float, units: str) -> str:
    text = unbroken(abs(value), units)
    sign = "" if text in ("0", '0"') else "+" if value > 0 else "-"
    return f"{sign}{text}"


def device_block(ceiling: Ceiling, setout: SetOut, units: str, devices: Sequence[Device], most: int) -> Block:
    """Every device with its middle's offsets from both strings; those off the grid with the way to it."""
    (u, along), (v, across) = _from(setout, "u"), _from(setout, "v")
    lines = [f"Middles: along the mains from {along}, then across from {across}. * is off its seat."]
    walls = [wall for wall in setout.walls if wall.ring == 0]
    for device in devices[:most]:
        name = device.name if len(device.name) <= _LONGEST_NAME else f"{device.name[: _LONGEST_NAME - 1]}…"
        du = (float(device.point[0]) - u) * setout.datum_u.inward
        dv = (float(device.point[1]) - v) * setout.datum_v.inward
        seat = "laid in" if device.is_lay_in else "in a panel"
        if device.move is not None:
            seat = f"off the grid: {_way(ceiling, walls, device.move, units)}"
        what = name if name.lower().startswith(device.kind) else f"{device.kind} {name}".strip()
        lines.append(f"{device.mark} {_offset(du, units)}, {_offset(dv, units)}: {what}, {seat}")
    if len(devices) > most:
        lines.append(f"... and {len(devices) - most} more: see the record.")
    return Block(title="Devices", lines=lines)


def _way(ceiling: Ceiling, walls: list[Wall], move: Move, units: str) -> str:
    if move.end is None:
        return move.reason
    start, end = ceiling.layout.frame.to_local([move.start, move.end])
    steps = []
    for axis in (0, 1):
        length = float(end[axis] - start[axis])
        if abs(length) <= tolerance.SHORTEST_EDGE / 2:
            continue
        direction = np.zeros(2)
        direction[axis] = np.sign(length)
        steps.append(f"{unbroken(abs(length), units)} {_towards(walls, start, direction, axis)}")
    text = "move " + " and ".join(steps) if steps else "stays in its place"
    return text + (f", turn by {move.turn_deg:+.1f}°" if move.turn_deg else "")


def _towards(walls: list[Wall], start: NDArray[np.float64], direction: NDArray[np.float64], axis: int) -> str:
    """The nearest wall ahead that faces the device, by its letter."""
    ahead = []
    for wall in walls:
        distance = float((wall.middle() - start) @ direction)
        if np.array(wall.inward) @ direction < -_FACES and distance > 0:
            ahead.append((distance, wall.letter))
    if ahead:
        return f"towards wall {min(ahead)[1]}"
    return f"{'along' if axis == 0 else 'across'} the mains"
