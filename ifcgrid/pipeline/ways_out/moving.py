"""Things as they would be if they stood elsewhere."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
from shapely import affinity

from ifcgrid.design.devices import devices_in
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room, Zone

__all__ = ["Vector", "move_devices_along", "move_obstacle", "move_obstacles", "move_zone"]

Vector = tuple[float, float, float]
"""Along the model's X, Y and Z in mm."""


def move_obstacle(obstacle: Obstacle, vector: Vector, turn_deg: float = 0.0) -> Obstacle:
    """An obstacle turned about the middle of its outline's bounds, then moved."""
    x, y, z = vector
    outline, mesh = obstacle.outline, obstacle.mesh
    x0, y0, x1, y1 = outline.bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    if turn_deg:
        outline = affinity.rotate(outline, turn_deg, origin=middle)
        if mesh is not None:
            mesh = _turned(mesh, middle, turn_deg)
    return replace(
        obstacle,
        outline=affinity.translate(outline, x, y),
        bottom=obstacle.bottom + z,
        top=obstacle.top + z,
        mesh=None if mesh is None else mesh + np.array(vector),
    )


def _turned(mesh: np.ndarray, middle: tuple[float, float], turn_deg: float) -> np.ndarray:
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    turned = mesh.copy()
    turned[:, :, :2] = (mesh[:, :, :2] - middle) @ turn.T + middle
    return turned


def move_obstacles(obstacles: Sequence[Obstacle], keys: Collection[str], vector: Vector) -> list[Obstacle]:
    """All obstacles, those of the keys moved."""
    return [move_obstacle(o, vector) if o.key in keys else o for o in obstacles]


def move_devices_along(zone: Zone, obstacles: Sequence[Obstacle], rise: float) -> list[Obstacle]:
    """All obstacles, the devices that sit in a zone's ceiling raised with it."""
    inside = {o.key for o in devices_in(zone, obstacles, zone.level)}
    return move_obstacles(obstacles, inside, (0.0, 0.0, rise))


def move_zone(zone: Zone, rise: float) -> Zone:
    """A zone at another level; its rooms are as high as their ceiling then hangs."""
    return replace(
        zone, level=zone.level + rise, rooms=tuple(_with_height(room, rise) for room in zone.rooms)
    )


def _with_height(room: Room, rise: float) -> Room:
    if room.height is None:
        return room
    return replace(room, height=replace(room.height, value=room.height.value + rise))
