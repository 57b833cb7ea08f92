"""How much room lies in every cell of a lattice, exactly and for many offsets at once.

Edges are split where they meet grid lines; each part adds its signed area to its own cell
and a full cell's worth to all cells left of it, which a cumulative sum along the rows
completes. This is how font rasterisers measure pixel coverage; it holds for any polygon
with holes. The bounding extent of each piece comes from the same parts and from those
corners of the cell that lie in the room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance

__all__ = ["Coverage", "Pieces", "measure_cells"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """The cells that edges of the room pass through, one entry a cell and offset.

    `offset`, `row`, `column` (n,) int name the cell; `extent` (n, 2) is the size in mm of
    the bounding box, in grid axes, of the room in it; `is_marked` (n,) tells whether one
    of the marked edges bounds it. `edge`, `cell` (m,) pair each edge with the entries that
    it passes through.
    """

    offset: _Ints
    row: _Ints
    column: _Ints
    extent: _Floats
    is_marked: NDArray[np.bool_]
    edge: _Ints
    cell: _Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coverage:
    """Room in the cells: `area` (offsets, rows, columns) in mm², rows along y.

    Cell (row, column) of offset k spans x from `offsets[k, 0] + (first[k, 0] + column) * a`
    and y from `offsets[k, 1] + (first[k, 1] + row) * c`. `pieces` is None unless asked for.
    """

    area: _Floats
    first: _Ints
    module: tuple[float, float]
    pieces: Pieces | None

    def corners(self, offsets: _Floats, layout: _Ints, row: _Ints, column: _Ints) -> _Floats:
        """Least corners (n, 2) of cells of layouts whose nodes lie at `offsets` (k, 2)."""
        number = self.first[layout] + np.stack([column, row], axis=1)
        low: _Floats = offsets[layout] + number * np.array(self.module)
        return low

    @property
    def is_piece(self) -> NDArray[np.bool_]:
        """Cells (offsets, rows, columns) that hold a panel, full or cut."""
        return self.area >= tolerance.PIECE_AREA

    @property
    def is_full(self) -> NDArray[np.bool_]:
        """Cells (offsets, rows, columns) that hold a full panel."""
        return self.area >= self.module[0] * self.module[1] - tolerance.AREA

    @property
    def full(self) -> _Ints:
        """Number of full panels at each offset (offsets,)."""
        count: _Ints = self.is_full.sum(axis=(1, 2), dtype=np.int64)
        return count

    @property
    def cut(self) -> _Ints:
        """Number of cut panels at each offset (offsets,)."""
        count: _Ints = (self.is_piece & ~self.is_full).sum(axis=(1, 2), dtype=np.int64)
        return count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """Parts of edges in cell units: `ends` (n, 4) x0, y0, x1, y1, `edge` and `offset` (n,)."""

    ends: _Floats
    edge: _Ints
    offset: _Ints


def measure_cells(
    start: _Floats,
    end: _Floats,
    module: tuple[float, float],
    offsets: _Floats,
    *,
    marked: NDArray[np.bool_] | None = None,
) -> Coverage:
    """Cover a lattice at several offsets with one room.

    `start` and `end` (n, 2) are the room's edges with the room on their left (outer ring
    counter-clockwise, holes clockwise); `module` the cell size (x, y); `offsets` (k, 2) the
    place of one node. All in mm, in grid axes. With `marked` (n,), which may be all False,
    the extents of the pieces are measured too.
    """
    size = np.array(module)
    low = np.minimum(start, end).min(axis=0)
    high = np.maximum(start, end).max(axis=0)
    first = np.floor((low - offsets) / size + tolerance.LENGTH / size).astype(np.int64)
    base = offsets + first * size
    columns, rows = (np.ceil((high - base) / size).max(axis=0) + 1).astype(int).tolist()
    ends = np.concatenate([start, end], axis=1)[None] - np.tile(base, 2)[:, None]
    ends = (ends / np.tile(size, 2)).reshape(-1, 4)
    count, edges = len(offsets), len(start)
    whole = _Parts(
        ends=ends, edge=np.tile(np.arange(edges), count), offset=np.repeat(np.arange(count), edges)
    )
    parts = _split(_split(whole, 0), 1)
    column, row = _cells_of(parts, size, columns, rows)
    cell = (parts.offset * rows + row) * columns + column
    area = _areas(parts, cell, column, (count, rows, columns)) * (size[0] * size[1])
    pieces = None
    if marked is not None:
        pieces = _measure_pieces(whole, parts, cell, marked, size, (count, rows, columns))
    return Coverage(area=area, first=first, module=module, pieces=pieces)


def _split(parts: _Parts, axis: int) -> _Parts:
    """The parts cut at every grid line across an axis; the cuts lie on the lines exactly."""
    a, b = parts.ends[:, axis], parts.ends[:, axis + 2]
    below, above = np.floor(np.minimum(a, b)), np.ceil(np.maximum(a, b))
    cuts = np.maximum(above - below - 1, 0).astype(np.int64)
    if not cuts.any():
        return parts
    owner = np.repeat(np.arange(len(a)), cuts + 1)
    nth = np.arange(len(owner)) - np.repeat(np.cumsum(cuts + 1) - cuts - 1, cuts + 1)
    rising = (b >= a)[owner]
    lines = np.where(rising, below[owner] + nth + 1, above[owner] - nth - 1)
    ends = parts.ends[owner]
    is_last = nth == cuts[owner]
    run = np.where(is_last, 1.0, b[owner] - a[owner])
    share = np.where(is_last, 1.0, (lines - a[owner]) / run)
    other = 1 - axis
    meets = ends[:, other] + share * (ends[:, other + 2] - ends[:, other])
    ends[:, axis + 2] = np.where(is_last, ends[:, axis + 2], lines)
    ends[:, other + 2] = np.where(is_last, ends[:, other + 2], meets)
    is_first = nth == 0
    follows = np.flatnonzero(~is_first)
    ends[follows, :2] = ends[follows - 1, 2:]
    return _Parts(ends=ends, edge=parts.edge[owner], offset=parts.offset[owner])


def _cells_of(parts: _Parts, size: _Floats, columns: int, rows: int) -> tuple[_Ints, _Ints]:
    """Column and row of each part: the cell on its room side, so that walls on lines belong inside."""
    x0, y0, x1, y1 = parts.ends.T
    normal = np.stack([(y0 - y1) * size[1], (x1 - x0) * size[0]])
    length = np.hypot(*normal)
    normal /= np.where(length > 0, length, 1.0)
    nudge = tolerance.LENGTH / size
    column = np.floor((x0 + x1) / 2 + normal[0] * nudge[0]).astype(np.int64)
    row = np.floor((y0 + y1) / 2 + normal[1] * nudge[1]).astype(np.int64)
    return np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)


def _areas(parts: _Parts, cell: _Ints, column: _Ints, shape: tuple[int, int, int]) -> _Floats:
    """Covered share (offsets, rows, columns) of each cell."""
    x0, y0, x1, y1 = parts.ends.T
    rise = y1 - y0
    total = shape[0] * shape[1] * shape[2]
    own = np.bincount(cell, weights=rise * ((x0 + x1) / 2 - column), minlength=total).reshape(shape)
    passed = np.bincount(cell, weights=rise, minlength=total).reshape(shape)
    right = np.cumsum(passed[:, :, ::-1], axis=2)[:, :, ::-1] - passed
    return own + right


def _measure_pieces(
    whole: _Parts,
    parts: _Parts,
    cell: _Ints,
    marked: NDArray[np.bool_],
    size: _Floats,
    shape: tuple[int, int, int],
) -> Pieces:
    order = np.argsort(cell, kind="stable")
    cells, begin, entry = np.unique(cell[order], return_index=True, return_inverse=True)
    offset, row, column = np.unravel_index(cells, shape)
    low, high = np.empty((len(cells), 2)), np.empty((len(cells), 2))
    for axis, place in ((0, column), (1, row)):
        a, b = parts.ends[order, axis], parts.ends[order, axis + 2]
        low[:, axis] = np.minimum.reduceat(np.minimum(a, b), begin) - place
        high[:, axis] = np.maximum.reduceat(np.maximum(a, b), begin) - place
    for right in (0, 1):
        for top in (0, 1):
            inside = _corners_inside(whole, right, top, size, shape)[offset, row, column]
            for axis, at in ((0, right), (1, top)):
                low[inside, axis] = np.minimum(low[inside, axis], at)
                high[inside, axis] = np.maximum(high[inside, axis], at)
    extent = (np.clip(high, 0, 1) - np.clip(low, 0, 1)) * size
    is_marked = np.logical_or.reduceat(marked[parts.edge[order]], begin)
    return Pieces(
        offset=offset,
        row=row,
        column=column,
        extent=extent,
        is_marked=is_marked,
        edge=parts.edge[order],
        cell=entry,
    )


def _corners_inside(
    whole: _Parts, right: int, top: int, size: _Floats, shape: tuple[int, int, int]
) -> NDArray[np.bool_]:
    """Whether one corner of every cell, moved a hair into the cell, lies in the room."""
    hair = 2 * tolerance.LENGTH / size
    x_at = 1 - hair[0] if right else hair[0]
    y_at = 1 - hair[1] if top else hair[1]
    x0, y0, x1, y1 = whole.ends.T
    y0, y1 = y0 - y_at, y1 - y_at
    below, above = np.floor(np.minimum(y0, y1)), np.floor(np.maximum(y0, y1))
    crossings = (above - below).astype(np.int64)
    owner = np.repeat(np.arange(len(y0)), crossings)
    nth = np.arange(len(owner)) - np.repeat(np.cumsum(crossings) - crossings, crossings)
    row = (below[owner] + 1 + nth).astype(np.int64)
    x = x0[owner] + (row - y0[owner]) / (y1 - y0)[owner] * (x1 - x0)[owner]
    column = np.ceil(x - x_at).astype(np.int64) - 1
    seen = (column >= 0) & (row >= 0) & (row < shape[1])
    owner, row, column = owner[seen], row[seen], np.minimum(column[seen], shape[2] - 1)
    flat = (whole.offset[owner] * shape[1] + row) * shape[2] + column
    total = shape[0] * shape[1] * shape[2]
    turns = np.bincount(flat, weights=np.sign(y1 - y0)[owner], minlength=total).reshape(shape)
    winding = np.cumsum(turns[:, :, ::-1], axis=2)[:, :, ::-1]
    inside: NDArray[np.bool_] = winding > 0.5
    return inside
