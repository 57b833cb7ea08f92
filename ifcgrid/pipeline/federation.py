"""Everything in the way, of the model with the rooms and of further ones, in one place.

Models that lie nowhere near the rooms, or are of another size than a building, are told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import PurePath

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.federation import Alignment
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.alignment import align
from ifcgrid.ifc.reading.obstacles import read_obstacles

__all__ = ["OnModel", "read_federation"]

OnModel = Callable[[str, int, int], None]
"""Called after each model that is read with its name, how many are done and how many there are."""

_Boxes = NDArray[np.float64]

OTHER_SIZE = 50.0
"""A model so many times larger or smaller than the rooms is taken to be in another unit than it says."""


def read_federation(
    model: ModelFile,
    kernel: Kernel,
    others: Sequence[ModelFile],
    rooms: Sequence[Room],
    on_model: OnModel | None = None,
) -> tuple[tuple[Obstacle, ...], tuple[Alignment, ...]]:
    """The obstacles of all models in the coordinates of the one with the rooms, and how others lie to it."""
    found = [*read_obstacles(model, kernel)]
    alignments: list[Alignment] = []
    for done, one in enumerate((model, *others), start=1):
        if one is not model:
            matrix, alignment = align(model, one)
            its = read_obstacles(one, Kernel(one.file, into=matrix))
            alignments.append(_with_strays(alignment, rooms, its))
            found += its
        if on_model:
            on_model(PurePath(one.path).name or "model", done, 1 + len(others))
    return tuple(found), tuple(alignments)


def _with_strays(alignment: Alignment, rooms: Sequence[Room], obstacles: Sequence[Obstacle]) -> Alignment:
    """The alignment with a note where nothing of the model comes near a room, or its size cannot be.

    Both are common and silent: without them a check of an empty place finds nothing wrong.
    """
    if not rooms:
        return alignment
    if not obstacles:
        return _noted(alignment, "it holds nothing that a ceiling could run into or hang from")
    boxes = np.array([[*o.outline.bounds, o.bottom, o.top] for o in obstacles])
    own = np.array([[*r.outline.bounds, r.floor, r.level] for r in rooms])
    reach = _span(boxes) / _span(own)
    if reach > OTHER_SIZE or reach < 1.0 / OTHER_SIZE:
        return _noted(
            alignment,
            f"it reaches over {_span(boxes) / 1000:,.1f} m and the rooms over {_span(own) / 1000:,.1f} m; "
            "is its length unit what it says?",
        )
    if _comes_near(boxes, own, tolerance.NEAR_ROOM):
        return alignment
    return _noted(
        alignment,
        f"nothing of it comes within {tolerance.NEAR_ROOM / 1000:g} m of a room; is its origin or its map "
        "conversion that of the model with the rooms?",
    )


def _comes_near(boxes: _Boxes, rooms: _Boxes, near: float) -> bool:
    """Whether any box (least x, y, greatest x, y, least z, greatest z) comes that near to a room's."""
    tree = shapely.STRtree(list(shapely.box(boxes[:, 0], boxes[:, 1], boxes[:, 2], boxes[:, 3])))
    low, high = rooms[:, :2] - near, rooms[:, 2:4] + near
    room, one = tree.query(list(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])))
    is_level = (boxes[one, 4] <= rooms[room, 5] + near) & (boxes[one, 5] >= rooms[room, 4] - near)
    return bool(is_level.any())


def _noted(alignment: Alignment, note: str) -> Alignment:
    return replace(alignment, notes=(*alignment.notes, note))


def _span(boxes: _Boxes) -> float:
    return float(np.hypot(*(boxes[:, 2:4].max(axis=0) - boxes[:, :2].min(axis=0))))
