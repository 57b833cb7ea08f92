"""Devices that stand off the grid, told so that somebody in the room can shift them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.seat import Move
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.setout.wall import Wall, name_walls

__all__ = ["device_lines"]

_FACES = 0.9
"""Cosine from which on a wall faces a direction."""


def device_lines(ceiling: Ceiling, units: str, most: int = 6) -> list[str]:
    """One line a device off its seat: how far towards which wall, or why there is no seat for it."""
    moves = ceiling.seating.moves
    walls = [wall for wall in name_walls(ceiling) if wall.ring == 0] if moves else []
    lines = [
        f"Off the grid: {move.kind} {move.name}, {_way(ceiling, walls, move, units)}" for move in moves[:most]
    ]
    if len(moves) > most:
        lines.append(f"... and {len(moves) - most} more: see the record.")
    return lines


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
        steps.append(f"{format_length(abs(length), units)} {_towards(walls, start, direction, axis)}")
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
