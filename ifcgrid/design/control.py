"""The wall that a grid squares to: the longest, the one that faces the entrance, or a declared one.

In a room out of square the frame follows one wall and the border on the far side tapers: a
tapered border reads as a fault of the wall, a tapered joint as one of the ceiling (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.building import Door
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.setting_out import SIDES, Control, ControlKind
from ifcgrid.domain.units import format_mm
from ifcgrid.domain.wall_runs import wall_letter, wall_runs

__all__ = ["ControlWall", "doors_of", "find_control"]

_Floats = NDArray[np.float64]

DOOR_REACH = 500.0
"""The middle of a door's leaf is at most this far from the face of its wall in the room, in mm."""

DOOR_SKEW_DEG = 10.0
"""A door's leaf runs along its wall within this angle."""

DOOR_RISE = 500.0
"""The sill of a room's door is at most this far above or below the room's floor, in mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlWall:
    """The control wall: the edges of the outer ring that make it up, its direction, and words for people."""

    edges: tuple[int, ...]
    angle_deg: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Wall:
    letter: str
    edges: tuple[int, ...]
    start: _Floats
    end: _Floats
    is_curve: bool

    @property
    def length(self) -> float:
        return float(np.hypot(*(self.end - self.start)))

    @property
    def angle_deg(self) -> float:
        dx, dy = (self.end - self.start).tolist()
        # Nine decimals keep a hall of a kilometre within a tenth of the length tolerance.
        return round(float(np.degrees(np.arctan2(dy, dx))), 9) % 180.0


def doors_of(outline: Polygon, floor: float, doors: Sequence[Door]) -> tuple[Door, ...]:
    """The doors that lead into a room, sorted by key. `floor` is the room's floor in model z."""
    walls = [wall for wall in _walls(outline) if not wall.is_curve]
    found = [d for d in doors if abs(d.bottom - floor) <= DOOR_RISE and _own_wall(walls, d) is not None]
    return tuple(sorted(found, key=lambda door: door.key))


def _own_wall(walls: Sequence[_Wall], door: Door) -> int | None:
    """The number of the wall that a door stands in: the nearest one along its leaf."""
    best: tuple[float, int] | None = None
    for number, wall in enumerate(walls):
        skew = abs((wall.angle_deg - door.angle_deg + 90.0) % 180.0 - 90.0)
        line = LineString([wall.start, wall.end])
        away = float(shapely.distance(line, shapely.points(door.point)))
        if skew <= DOOR_SKEW_DEG and away <= DOOR_REACH and (best is None or away < best[0]):
            best = (away, number)
    return best[1] if best else None


def find_control(
    outline: Polygon, control: Control, doors: Sequence[Door] = (), key: str = ""
) -> ControlWall:
    """The wall of a room that a control names. `doors` are the room's own, `key` is for messages.

    Raises:
        NoLayoutError: the room has no such wall, or it is a curve.
    """
    walls = _walls(outline)
    room = f"room {key}" if key else "the room"
    if control.kind is ControlKind.EDGE:
        wall = next((w for w in walls if int(control.name) - 1 in w.edges), None)
        how = "declared"
    elif control.kind is ControlKind.LETTER:
        wall = next((w for w in walls if w.letter == control.name), None)
        how = "declared"
    elif control.kind is ControlKind.SIDE:
        wall, how = _on_side(walls, outline, SIDES[control.name]), f"on the {control.name} side"
    elif control.kind is ControlKind.ENTRANCE:
        wall, how = _facing(walls, outline, doors)
    else:
        wall, how = _longest(walls), "the longest"
    if wall is None:
        wanted = f"wall {control.name}" if control.name else "a straight wall"
        letters = ", ".join(w.letter for w in walls)
        raise NoLayoutError(f"{room} has no {wanted} to square to; its walls are {letters}", key)
    if wall.is_curve:
        raise NoLayoutError(f"{room}: wall {wall.letter} is a curve; name a straight wall to square to", key)
    words = f"squared to wall {wall.letter} ({how}, {format_mm(wall.length)})"
    return ControlWall(edges=wall.edges, angle_deg=wall.angle_deg, words=words)


def _walls(outline: Polygon) -> list[_Wall]:
    points = np.asarray(outline.exterior.coords, dtype=float)[:-1, :2]
    return [
        _Wall(
            letter=wall_letter(number),
            edges=edges,
            start=points[edges[0]],
            end=points[(edges[-1] + 1) % len(points)],
            is_curve=is_curve,
        )
        for number, (edges, is_curve) in enumerate(wall_runs(points))
    ]


def _longest(walls: Sequence[_Wall]) -> _Wall | None:
    """The longest straight wall; of equally long ones the first in the outline."""
    straight = [wall for wall in walls if not wall.is_curve]
    return max(straight, key=lambda wall: round(wall.length, 3), default=None)


def _on_side(walls: Sequence[_Wall], outline: Polygon, direction_deg: float) -> _Wall | None:
    """The straight wall that faces a side of the plan; of those within 45 degrees of it the longest."""
    turn = 1.0 if outline.exterior.is_ccw else -1.0
    facing = []
    for wall in walls:
        dx, dy = (wall.end - wall.start).tolist()
        outward = np.degrees(np.arctan2(-turn * dx, turn * dy))
        away = abs((outward - direction_deg + 180.0) % 360.0 - 180.0)
        if away <= 45.0 + tolerance.ANGLE_DEG and not wall.is_curve:
            facing.append(wall)
    return _longest(facing)


def _facing(walls: Sequence[_Wall], outline: Polygon, doors: Sequence[Door]) -> tuple[_Wall | None, str]:
    """The wall that one sees on entering: the first across the room from the door.

    Of several doors the one in the longest wall leads, then the first by key; without any
    the longest wall controls.
    """
    if not doors:
        return _longest(walls), "the longest: the model has no door here"
    lines = np.array([LineString([wall.start, wall.end]) for wall in walls], dtype=object)
    entries = []
    for door in doors:
        own = _own_wall(walls, door)
        if own is not None:
            entries.append((-round(walls[own].length, 3), door.key, own, door))
    if not entries:
        return _longest(walls), "the longest: no door stands in a wall here"
    _, _, own, door = min(entries, key=lambda entry: entry[:3])
    start = walls[own].start
    along = (walls[own].end - start) / walls[own].length
    foot = start + along * float((np.array(door.point) - start) @ along)
    inward = np.array([-along[1], along[0]]) * (1.0 if outline.exterior.is_ccw else -1.0)
    reach = float(np.hypot(*np.ptp(np.asarray(outline.exterior.coords)[:, :2], axis=0)))
    sight = LineString([foot + inward, foot + inward * reach])
    hits = [
        (round(float(shapely.distance(shapely.points(foot), shapely.intersection(line, sight))), 3), number)
        for number, line in enumerate(lines)
        if number != own and shapely.intersects(line, sight)
    ]
    if not hits:
        return _longest(walls), "the longest: no wall faces the door"
    name = door.name or door.key
    return walls[min(hits)[1]], f"facing the entrance, door {name}"
