"""Offsets that a line of the building gives, and only the rest is searched."""

from __future__ import annotations

from collections.abc import Sequence

from ifcgrid.domain import tolerance
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.frame import Frame

__all__ = ["keep_lines"]


def keep_lines(
    frame: Frame, modules: Sequence[float], lines: Sequence[HeldLine], key: str = ""
) -> tuple[float | None, float | None]:
    """The offsets along x and y of a frame that lines of the building give; None where none does.

    `modules` are the cell's sizes along x and y.

    Raises:
        NoLayoutError: a line does not run along the grid, or two of them ask for different
            offsets.
    """
    kept: list[float | None] = [None, None]
    names = ["", ""]
    room = f"room {key}" if key else "the room"
    for line in lines:
        turn = (line.angle_deg - frame.angle_deg + 45.0) % 180.0 - 45.0
        axis = 1 if turn < 45.0 else 0  # a line along x gives the offset along y
        if abs(turn - (0.0 if axis else 90.0)) > tolerance.ANGLE_DEG:
            raise NoLayoutError(
                f"{room}: the building line {line.name} runs at {line.angle_deg:g} degrees, the grid at "
                f"{frame.angle_deg:g}; a grid keeps only to lines along it",
                key,
            )
        module = modules[axis]
        place = float(frame.to_local([line.point])[0, axis])
        offset = (place if line.is_joint else place + module / 2) % module
        known = kept[axis]
        if known is not None and abs((offset - known + module / 2) % module - module / 2) > tolerance.LENGTH:
            raise NoLayoutError(
                f"{room}: the building lines {names[axis]} and {line.name} cannot both be kept: they are no "
                f"whole number of {module:g} mm apart",
                key,
            )
        kept[axis], names[axis] = offset, line.name
    return kept[0], kept[1]
