"""How far a wall may be from where the model has it before the number of panels changes.

A site measurement that differs from the model by a few millimetres can flip the count; the
one who measures should know where. Found by laying the changed room out again, so it holds
for every policy and shape.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.explanation import Flip
from ifcgrid.domain.layout import Layout

__all__ = ["find_flips"]

_STEPS = 24
"""Sizes that are tried within one module, each way, before the change is narrowed down."""

_FINEST = 1.0
"""Walls are measured to this in mm."""


def find_flips(outline: Polygon, layout: Layout, solve: Callable[[Polygon], Layout]) -> tuple[Flip, ...]:
    """The nearest change each way, along both axes, at which the count across changes.

    Args:
        outline: the room in model coordinates in mm.
        layout: its layout.
        solve: lays out an outline with the same settings and the same direction.

    Returns:
        At most one flip an axis and way, within one module; none for an axis at whose far
        end no wall stands square to it.
    """
    flips: list[Flip] = []
    for axis in (0, 1):
        for way in (-1.0, 1.0):
            flip = _find_flip(outline, layout, solve, axis, way)
            if flip is not None:
                flips.append(flip)
    return tuple(flips)


def _find_flip(
    outline: Polygon, layout: Layout, solve: Callable[[Polygon], Layout], axis: int, way: float
) -> Flip | None:
    module = (layout.along, layout.across)[axis]
    before = _count(layout, axis)

    def trial(change: float) -> Layout | None:
        """The layout at a change; None where the room cannot be changed so far."""
        moved = _move_wall(outline, layout, axis, way * change)
        try:
            return None if moved is None else solve(moved)
        except NoLayoutError:
            return None

    low, high, found = 0.0, None, None
    for step in range(1, _STEPS + 1):
        change = float(round(step * module / _STEPS))
        tried = trial(change)
        if tried is None:
            return None
        if _count(tried, axis) != before:
            high, found = change, tried
            break
        low = change
    if high is None or found is None:
        return None
    while high - low > _FINEST:
        middle = float(round((low + high) / 2))
        tried = trial(middle)
        if tried is not None and _count(tried, axis) != before:
            high, found = middle, tried
        else:
            low = middle
    return Flip(
        axis="uv"[axis],
        change=way * high,
        before=before,
        after=_count(found, axis),
        border=_least(found, "uv"[axis]),
    )


def _count(layout: Layout, axis: int) -> int:
    return layout.rows if axis else layout.columns


def _least(layout: Layout, axis: str) -> float:
    return min((b.least for b in layout.borders if b.axis == axis and b.ring == 0), default=0.0)


def _move_wall(outline: Polygon, layout: Layout, axis: int, change: float) -> Polygon | None:
    """The room with the wall at the far end of an axis moved outwards by `change` mm.

    None where no wall stands square to the axis there, or the room would no longer be one.
    """
    local = layout.frame.shape_to_local(outline)
    far = local.bounds[2 + axis]
    ring = np.asarray(local.exterior.coords)[:, axis]
    at_far = np.abs(ring - far) <= tolerance.SHORTEST_EDGE
    if not (at_far[1:] & at_far[:-1]).any():
        return None
    nearest = float((far - ring[~at_far]).min())
    if change < 0 and -change >= nearest:
        return None

    def shift(points: np.ndarray) -> np.ndarray:
        moved = points.copy()
        moved[np.abs(points[:, axis] - far) <= tolerance.SHORTEST_EDGE, axis] += change
        return moved

    moved = shapely.transform(local, shift)
    return layout.frame.shape_to_world(moved) if moved.is_valid and moved.area > 0 else None
