"""The cells of a laid-out zone as seats: which are whole, which are free, how far they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.design.seating.wishes import Asked
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Panels
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.seat import Hold, Seat

__all__ = ["Cells", "Stand", "see_cells", "stand_of"]

_Floats = NDArray[np.float64]
_Bools = NDArray[np.bool_]

_Block = tuple[float, tuple[float, float]]
"""Distance in mm to a block of cells, and the block's middle (local)."""

_POINTS = {Seat.CELL: (0.5,), Seat.CENTRE: (0.5,), Seat.CENTRE_OR_QUARTER: (0.25, 0.5, 0.75)}
"""Agreed points of a panel along each axis."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """One device as it stands, in local axes: its `middle`, the rectangle around it, its cells.

    `size` (2,) are the rectangle's sides as nearly as they run to u and v, `turn_deg` its
    angle to u within 45 degrees; a device that would have to be laid in across has its
    sides exchanged and 90 degrees more. `box` (4,) are its bounds as it stands. `cells` (2,) counts
    columns and rows of a device that wants cells. `reach` is how far it may move, in mm.
    """

    asked: Asked
    middle: tuple[float, float]
    size: _Floats
    turn_deg: float
    box: _Floats
    cells: NDArray[np.int64]
    reach: float


def stand_of(asked: Asked, layout: Layout) -> Stand:
    """A device in the axes of a layout."""
    module = np.array([layout.along, layout.across])
    outline = layout.frame.shape_to_local(asked.outline)
    size, turn = _rectangle(outline)
    cells = np.maximum(np.rint(size / module), 1).astype(np.int64)
    if asked.wants_cells:
        turned = np.maximum(np.rint(size[::-1] / module), 1).astype(np.int64)
        if (
            np.abs(size[::-1] - turned * module).max()
            < np.abs(size - cells * module).max() - tolerance.LENGTH
        ):
            size, cells = size[::-1], turned
            turn += -90.0 if turn > 0 else 90.0
    (middle,) = layout.frame.to_local([asked.middle]).tolist()
    wish = asked.wish
    reach = wish.within if wish.hold is Hold.MOVABLE and wish.within is not None else np.inf
    return Stand(
        asked=asked,
        middle=(middle[0], middle[1]),
        size=size,
        turn_deg=turn,
        box=np.array(outline.bounds),
        cells=cells,
        reach=reach + tolerance.LENGTH,
    )


def _rectangle(outline: shapely.Polygon) -> tuple[_Floats, float]:
    """Sides along u and v, and turn in degrees, of the smallest rectangle around an outline."""
    box = shapely.oriented_envelope(outline)
    corners = shapely.get_coordinates(box)
    if len(corners) < 5:
        low_u, low_v, high_u, high_v = outline.bounds
        return np.array([high_u - low_u, high_v - low_v]), 0.0
    sides = corners[1:3] - corners[0:2]
    first = 0 if abs(sides[0, 0]) >= abs(sides[0, 1]) else 1
    along, across = sides[first], sides[1 - first]
    along = along if along[0] >= 0 else -along
    size = np.array([np.hypot(*along), np.hypot(*across)])
    return size, float(np.degrees(np.arctan2(along[1], along[0])))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """The panels of a zone as cells of a block that begins at (`column`, `row`).

    `is_whole`, `is_used` (columns, rows): whole cells, and cells with any panel. `low`,
    `high` (columns, rows, 2) bound the largest piece of the panel in each cell;
    `is_plain` tells that this piece is a rectangle.
    """

    layout: Layout
    column: int
    row: int
    is_whole: _Bools
    is_used: _Bools
    is_plain: _Bools
    low: _Floats
    high: _Floats

    @property
    def module(self) -> _Floats:
        """Cell sizes (2,) along u and v."""
        return np.array([self.layout.along, self.layout.across])

    @property
    def _first(self) -> _Floats:
        return np.array([self.column, self.row], dtype=float)

    def is_seated(self, stand: Stand) -> bool:
        """Whether a device is on its seat now."""
        if stand.asked.wants_cells:
            return self._is_on_module(stand)
        number = np.floor((np.array(stand.middle) + tolerance.LENGTH) / self.module - self._first).astype(int)
        if (number < 0).any() or (number >= self.is_used.shape).any():
            return False
        i, j = number.tolist()
        if not self.is_used[i, j] or (stand.asked.seat is Seat.CELL and not self.is_whole[i, j]):
            return False
        low, extent = self.low[i, j], self.high[i, j] - self.low[i, j]
        cell = (number + self._first) * self.module
        return self._is_at_point(stand, low, extent) or self._is_at_point(stand, cell, self.module)

    @staticmethod
    def _is_at_point(stand: Stand, low: _Floats, extent: _Floats) -> bool:
        shares = np.array(_POINTS[stand.asked.seat or Seat.CENTRE])
        points = low[:, None] + extent[:, None] * shares
        away = np.abs(points - np.array(stand.middle)[:, None]).min(axis=1)
        return bool((away <= tolerance.SEAT + tolerance.LENGTH).all())

    def _is_on_module(self, stand: Stand) -> bool:
        half = stand.cells * self.module / 2
        first = np.rint((np.array(stand.middle) - half) / self.module)
        away = np.abs(np.array(stand.middle) - first * self.module - half)
        i, j = (first - self._first).astype(int).tolist()
        columns, rows = stand.cells.tolist()
        if i < 0 or j < 0 or i + columns > self.is_whole.shape[0] or j + rows > self.is_whole.shape[1]:
            return False
        if not self.is_whole[i : i + columns, j : j + rows].all() or self._has_main(j, rows):
            return False
        return bool((away + _corner_shift(stand)).max() <= tolerance.ON_MODULE + tolerance.LENGTH)

    def _has_main(self, row: int, rows: int) -> bool:
        """Whether a main runs between the rows of a block."""
        inner = range(self.row + row + 1, self.row + row + rows)
        return any((j - self.layout.main_phase) % self.layout.main_every == 0 for j in inner)

    def free_of(self, stands: Sequence[Stand]) -> _Bools:
        """Cells (columns, rows) with a panel that none of the devices touches."""
        free = self.is_used.copy()
        hair = tolerance.SHORTEST_EDGE
        for stand in stands:
            on_module = stand.asked.wants_cells and self._is_on_module(stand)
            half = stand.cells * self.module / 2
            low = np.array(stand.middle) - half if on_module else stand.box[:2]
            high = np.array(stand.middle) + half if on_module else stand.box[2:]
            inset = tolerance.ON_MODULE + hair if on_module else hair
            i, j = np.floor((low + inset) / self.module - self._first).astype(int).clip(0)
            k, m = np.ceil((high - inset) / self.module - self._first).astype(int).clip(0)
            free[i : max(k, i + 1), j : max(m, j + 1)] = False
        return free

    def take(self, free: _Bools, middle: tuple[float, float], cells: NDArray[np.int64]) -> None:
        """Mark a block of cells as no longer free."""
        i, j = np.rint(np.array(middle) / self.module - cells / 2 - self._first).astype(int).tolist()
        free[i : i + int(cells[0]), j : j + int(cells[1])] = False

    def nearest_block(self, stand: Stand, free: _Bools, *, is_any: bool = False) -> _Block | None:
        """The nearest block of free whole cells within reach (at any distance with `is_any`)."""
        good = free & self.is_whole
        columns, rows = stand.cells.tolist()
        if columns > good.shape[0] or rows > good.shape[1]:
            return None
        windows = np.lib.stride_tricks.sliding_window_view(good, (columns, rows))
        fits: _Bools = np.array(windows.all(axis=(2, 3)))
        for j in range(fits.shape[1]):
            fits[:, j] &= not self._has_main(j, rows)
        places = np.argwhere(fits)
        if len(places) == 0:
            return None
        middles = (places + self._first + stand.cells / 2) * self.module
        distance = np.hypot(*(middles - np.array(stand.middle)).T)
        k = int(np.argmin(np.round(distance, 3)))
        if distance[k] > stand.reach and not is_any:
            return None
        return float(distance[k]), (float(middles[k, 0]), float(middles[k, 1]))

    def options(self, stand: Stand, free: _Bools) -> tuple[_Floats, _Floats]:
        """Distances (cells,) to the best point of each cell, `inf` where there is none, and the points."""
        if stand.asked.wants_cells:
            good = free & self.is_whole
            points = ((self.low + self.high) / 2).reshape(-1, 2)
            distance = np.hypot(*(points - np.array(stand.middle)).T)
            return np.where(good.ravel(), np.round(distance, 3), np.inf), points
        good = free & self.is_plain
        if stand.asked.seat is Seat.CELL:
            good &= self.is_whole
        extent = self.high - self.low
        own = np.array(stand.middle)
        points, is_clear = np.zeros_like(self.low), np.ones(good.shape, dtype=bool)
        for axis in (0, 1):
            half = (stand.box[axis + 2] - stand.box[axis]) / 2
            shares = np.array(_POINTS[stand.asked.seat or Seat.CENTRE])
            at = self.low[..., axis, None] + extent[..., axis, None] * shares
            # A point at which the device would reach over the edge of its panel is none.
            room = np.minimum(at - self.low[..., axis, None], self.high[..., axis, None] - at)
            away = np.where(room >= half, np.abs(at - own[axis]), np.inf)
            best = away.argmin(axis=-1)
            points[..., axis] = np.take_along_axis(at, best[..., None], axis=-1)[..., 0]
            is_clear &= np.isfinite(away.min(axis=-1))
        distance = np.hypot(*np.moveaxis(points - own, -1, 0))
        return np.where(good & is_clear, np.round(distance, 3), np.inf).ravel(), points.reshape(-1, 2)


def _corner_shift(stand: Stand) -> _Floats:
    """How far (2,) the corners of a turned device stand from where they would be."""
    angle = np.radians(stand.turn_deg)
    half = stand.size / 2
    worst = np.zeros(2)
    for sign in (1.0, -1.0):
        u, v = half[0], sign * half[1]
        turned = np.array([np.cos(angle) * u - np.sin(angle) * v, np.sin(angle) * u + np.cos(angle) * v])
        worst = np.maximum(worst, np.abs(turned - np.array([u, v])))
    return worst


def see_cells(layout: Layout, panels: Panels) -> Cells:
    """The cells of a zone from its panels before any device is cut out of them."""
    column, row = int(panels.column.min()), int(panels.row.min())
    shape = (int(panels.column.max()) - column + 1, int(panels.row.max()) - row + 1)
    i, j = panels.column - column, panels.row - row
    # The largest piece of a cell comes last and stays.
    order = np.argsort(panels.area, kind="stable")
    i, j = i[order], j[order]
    low, high = np.zeros((*shape, 2)), np.zeros((*shape, 2))
    is_whole, is_used, is_plain = (np.zeros(shape, dtype=bool) for _ in range(3))
    low[i, j], high[i, j] = panels.bounds[order, :2], panels.bounds[order, 2:]
    is_used[i, j] = True
    is_whole[i, j] = panels.is_full[order]
    is_plain[i, j] = [k not in panels.outlines for k in order.tolist()]
    return Cells(
        layout=layout,
        column=column,
        row=row,
        is_whole=is_whole,
        is_used=is_used,
        is_plain=is_plain,
        low=low,
        high=high,
    )
