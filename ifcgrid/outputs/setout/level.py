"""The level of a ceiling as it is set out: above the floor, from a mark on the wall, and by laser."""

from __future__ import annotations

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.room import Room
from ifcgrid.domain.units import INCH
from ifcgrid.outputs.paper.columns import Block
from ifcgrid.outputs.paper.dimension import is_metric, unbroken

__all__ = ["default_laser", "level_block"]

_MARK = {True: 1000.0, False: float(48 * INCH)}
"""A level mark on the walls of 1 m or 4 ft above the floor (common practice, no source)."""

_LASER = {True: 100.0, False: float(4 * INCH)}


def default_laser(units: str) -> float:
    """How far the laser's plane lies below the grid when nobody says: 100 mm or 4 in (our choice).

    A plane below the grid passes clear under the wall angle and is read on a target that
    hangs from the members.
    """
    return _LASER[is_metric(units)]


def _laser_line(laser: float, height: float | None, units: str, *, is_default: bool) -> str:
    if abs(laser) < 0.5:
        return "Laser plane: at the underside of the grid itself."
    side = "below" if laser > 0 else "above"
    above_floor = "" if height is None else f", {unbroken(height - laser, units)} above the floor"
    chosen = " (chosen by default: set the laser so, or draw the sheet again)" if is_default else ""
    return (
        f"Laser plane: {unbroken(abs(laser), units)} {side} the underside of the grid{above_floor}{chosen}. "
        f"A target on a main or tee reads {unbroken(abs(laser), units)} everywhere."
    )


def _said_alike(rooms: list[Room], units: str) -> dict[tuple[str, str], list[Room]]:
    alike: dict[tuple[str, str], list[Room]] = {}
    for room in sorted(rooms, key=lambda r: (r.number, r.name)):
        if room.height is not None:
            said = (unbroken(room.height.value, units), room.height.source.value)
            alike.setdefault(said, []).append(room)
    return alike


def _disputes(rooms: list[Room], units: str, *, has_names: bool) -> list[str]:
    lines = []
    for room in rooms:
        if room.height is not None and room.height.disputes:
            shown = ((unbroken(c.value, units), c.source.value) for c in room.height.disputes)
            others = ", ".join(f"{length} ({where})" for length, where in shown)
            of = f"{room.number or room.name}: " if has_names else ""
            lines.append(f"{of}The model also says {others}: confirm before starting.")
    return lines


def level_block(ceiling: Ceiling, units: str, laser: float | None = None) -> Block:
    """Where the underside of the grid lies, what refers to it, and the laser's plane.

    Args:
        ceiling: the ceiling.
        units: how lengths are printed.
        laser: mm from the underside of the grid down to the laser's plane, negative upwards;
            None for `default_laser`.
    """
    offset = default_laser(units) if laser is None else laser
    rooms = [room for room in ceiling.zone.rooms if room.height is not None]
    lines: list[str] = []
    if not rooms:
        lines.append("No ceiling height was given: agree it before starting.")
    alike = _said_alike(rooms, units)
    for (value, source), those in alike.items():
        name = f"{', '.join(r.number or r.name for r in those)}: " if len(rooms) > 1 else ""
        lines.append(
            f"{name}{value} above the room's floor to the UNDERSIDE OF THE GRID "
            f"(face of mains, tees and wall angle; panels lie on it). Height from: {source}."
        )
        lines += _disputes(those, units, has_names=len(rooms) > 1)
    heights = {room.height.value for room in rooms if room.height is not None}
    height = heights.pop() if len(heights) == 1 else None
    mark = _MARK[is_metric(units)]
    if height is not None and height > mark:
        lines.append(
            f"From a mark {unbroken(mark, units)} above the floor: {unbroken(height - mark, units)} up."
        )
    lines.append(_laser_line(offset, height, units, is_default=laser is None))
    if rooms:
        lines.append(f"Model height (z) of the underside: {unbroken(ceiling.zone.level, units)}.")
    return Block(title="Level", lines=lines)
