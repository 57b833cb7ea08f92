"""Panels: what of the room lies in each cell of the lattice.

Cells that no wall enters are whole. Cells that one straight wall on the grid cuts through
are rectangles and are computed for all cells at once; only cells with corners, columns,
oblique or curved walls are cut with polygons.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.field import Field, see_field
from ifcgrid.design.rows import join_panels, openings_in, plain_layouts
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Opening, Panels
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone

__all__ = ["cut_panels"]

_Ints = NDArray[np.int64]
_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cells:
    """The block of cells over a field; a cell's number is counted column by column."""

    along: float
    across: float
    column: int
    row: int
    columns: int
    rows: int

    def number(self, column: _Ints, row: _Ints) -> _Ints:
        return (column - self.column) * self.rows + (row - self.row)

    def place(self, number: _Ints) -> tuple[_Ints, _Ints]:
        return number // self.rows + self.column, number % self.rows + self.row

    def boxes(self, number: _Ints) -> _Floats:
        column, row = self.place(number)
        return np.stack(
            [
                column * self.along,
                row * self.across,
                (column + 1) * self.along,
                (row + 1) * self.across,
            ],
            axis=1,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pieces:
    """Pieces of room: their cell's number, area, bounds, and a polygon for those that are no rectangle."""

    cell: _Ints
    area: _Floats
    bounds: _Floats
    shapes: dict[int, Polygon]


def cut_panels(zone: Zone, layout: Layout, openings: Sequence[Opening] = ()) -> Panels:
    """The panels of a zone, sorted by column, row and place in the cell.

    One panel for each connected piece of room in a cell; scraps below
    `tolerance.PIECE_AREA` are none, cells that a lay-in opening fills have none, and a piece
    of which any other opening leaves no more than a scrap is none. The areas sum to the
    zone's, less those and scraps; holes are not taken off. Column i of a shifted row begins at
    i * along + `layout.row_offset(row)`, so a room's first column can be -1 there.
    """
    if layout.row_shift:
        return join_panels(
            layout,
            [
                cut_panels(zone, plain, openings_in(openings, layout, number))
                for number, _, plain in plain_layouts(layout)
            ],
        )
    field = see_field(zone, layout)
    cells = _cells_over(field, layout)
    edge, number = _entered(field, cells)
    straight, crossed = _sort_out(field, cells, edge, number)
    parts = [
        _whole(field, cells, np.concatenate([crossed, number[straight]])),
        _strips(field, cells, edge[straight], number[straight]),
        _shapes(field, cells, crossed),
    ]
    pieces = _without_covered(_without_lay_in(_join(parts), cells, openings), openings)
    column, row = cells.place(pieces.cell)
    cell_area = layout.along * layout.across
    return Panels(
        column=column.astype(np.int32),
        row=row.astype(np.int32),
        piece=_count_in_cell(pieces.cell),
        room=_rooms_of(zone, layout, pieces),
        area=pieces.area,
        is_full=pieces.area >= cell_area - tolerance.AREA,
        bounds=pieces.bounds,
        outlines=pieces.shapes,
    )


def _cells_over(field: Field, layout: Layout) -> _Cells:
    module = np.array([layout.along, layout.across])
    # Nothing but points on a line lies within LENGTH of it, so half of that tells the sides apart.
    low = np.floor((field.start.min(axis=0) + tolerance.LENGTH / 2) / module).astype(int)
    high = np.ceil((field.start.max(axis=0) - tolerance.LENGTH / 2) / module).astype(int)
    return _Cells(
        along=layout.along,
        across=layout.across,
        column=int(low[0]),
        row=int(low[1]),
        columns=int(high[0] - low[0]),
        rows=int(high[1] - low[1]),
    )


def _spread(low: _Floats, high: _Floats, module: float) -> tuple[_Ints, _Ints]:
    """Every step of the lattice that each range [low, high] enters: (which range, step)."""
    half = tolerance.LENGTH / 2
    first = np.floor((low + half) / module).astype(np.int64)
    last = np.ceil((high - half) / module).astype(np.int64) - 1
    count = np.maximum(last - first + 1, 0)
    which = np.repeat(np.arange(len(low)), count)
    step = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count) + first[which]
    return which, step


def _entered(field: Field, cells: _Cells) -> tuple[_Ints, _Ints]:
    """The cells that each edge enters: (edge, cell number). An edge on a line enters none."""
    u, v = field.start.T
    du, dv = (field.end - field.start).T
    left = np.minimum(u, u + du)
    right = np.maximum(u, u + du)
    edge, column = _spread(left, right, cells.along)
    low = np.maximum(left[edge], column * cells.along)
    high = np.minimum(right[edge], (column + 1) * cells.along)
    steep = np.abs(du[edge]) <= tolerance.LENGTH
    slope = dv[edge] / np.where(steep, 1.0, du[edge])
    v_low = np.where(steep, v[edge], v[edge] + (low - u[edge]) * slope)
    v_high = np.where(steep, v[edge] + dv[edge], v[edge] + (high - u[edge]) * slope)
    which, row = _spread(np.minimum(v_low, v_high), np.maximum(v_low, v_high), cells.across)
    return edge[which], cells.number(column[which], row)


def _sort_out(field: Field, cells: _Cells, edge: _Ints, number: _Ints) -> tuple[NDArray[np.bool_], _Ints]:
    """Which entries are the one straight wall through their cell, and the cells of all others."""
    box = cells.boxes(number)
    low = np.minimum(field.start, field.end)[edge]
    high = np.maximum(field.start, field.end)[edge]
    flat = high - low <= tolerance.LENGTH
    through = (low <= box[:, :2] + tolerance.LENGTH) & (high >= box[:, 2:] - tolerance.LENGTH)
    _, place, count = np.unique(number, return_inverse=True, return_counts=True)
    straight = (count[place] == 1) & ((flat[:, 0] & through[:, 1]) | (flat[:, 1] & through[:, 0]))
    return straight, np.unique(number[~straight])


def _whole(field: Field, cells: _Cells, entered: _Ints) -> _Pieces:
    """Cells inside the room that no edge enters."""
    free = np.ones(cells.columns * cells.rows, dtype=bool)
    free[entered] = False
    number = np.flatnonzero(free)
    box = cells.boxes(number)
    shapely.prepare(field.outline)
    middle = (box[:, :2] + box[:, 2:]) / 2
    inside = shapely.contains_xy(field.outline, middle[:, 0], middle[:, 1])
    number, box = number[inside], box[inside]
    return _Pieces(cell=number, area=np.full(len(number), cells.along * cells.across), bounds=box, shapes={})


def _strips(field: Field, cells: _Cells, edge: _Ints, number: _Ints) -> _Pieces:
    """What one straight wall through a cell leaves of it: the part on the wall's left."""
    box = cells.boxes(number)
    start, step = field.start[edge], (field.end - field.start)[edge]
    axis = (np.abs(step[:, 1]) > np.abs(step[:, 0])).astype(int)  # the axis along which the wall runs
    entry = np.arange(len(edge))
    middle = (box[entry, axis] + box[entry, axis + 2]) / 2
    # Taken at the cell's middle, the strip's area is exact even if the wall is a hair askew.
    share = (middle - start[entry, axis]) / step[entry, axis]
    wall = start[entry, 1 - axis] + share * step[entry, 1 - axis]
    # A wall that runs along +u has the room above it, along +v on its lower u.
    room_after = (step[entry, axis] > 0) == (axis == 0)
    box[entry, np.where(room_after, 1 - axis, 3 - axis)] = wall
    area = (box[:, 2] - box[:, 0]) * (box[:, 3] - box[:, 1])
    kept = area >= tolerance.PIECE_AREA
    return _Pieces(cell=number[kept], area=area[kept], bounds=box[kept], shapes={})


def _shapes(field: Field, cells: _Cells, number: _Ints) -> _Pieces:
    """Pieces of cells that the outline crosses in any other way."""
    box = cells.boxes(number)
    cuts = shapely.intersection(field.outline, shapely.box(*box.T))
    parts, cell = shapely.get_parts(cuts, return_index=True)
    area = shapely.area(parts)
    kept = area >= tolerance.PIECE_AREA  # points and lines, where cells are only touched, have none
    parts, cell, area = parts[kept], cell[kept], area[kept]
    bounds = shapely.bounds(parts).reshape(-1, 4)
    extent = (bounds[:, 2] - bounds[:, 0]) * (bounds[:, 3] - bounds[:, 1])
    shapes = {int(k): parts[k] for k in np.flatnonzero(extent - area > tolerance.AREA)}
    return _Pieces(cell=number[cell], area=area, bounds=bounds, shapes=shapes)


def _join(parts: Sequence[_Pieces]) -> _Pieces:
    cell = np.concatenate([part.cell for part in parts])
    bounds = np.concatenate([part.bounds for part in parts])
    first = np.cumsum([0, *(len(part.cell) for part in parts)])
    shapes = {
        int(start) + k: shape
        for start, part in zip(first, parts, strict=False)
        for k, shape in part.shapes.items()
    }
    area = np.concatenate([part.area for part in parts])
    everything = _Pieces(cell=cell, area=area, bounds=bounds, shapes=shapes)
    return _take(everything, np.lexsort((bounds[:, 0], bounds[:, 1], cell)))


def _take(pieces: _Pieces, chosen: _Ints) -> _Pieces:
    place = np.full(len(pieces.cell), -1)
    place[chosen] = np.arange(len(chosen))
    shapes = {int(place[k]): shape for k, shape in pieces.shapes.items() if place[k] >= 0}
    return _Pieces(
        cell=pieces.cell[chosen],
        area=pieces.area[chosen],
        bounds=pieces.bounds[chosen],
        shapes=dict(sorted(shapes.items())),
    )


def _without_lay_in(pieces: _Pieces, cells: _Cells, openings: Sequence[Opening]) -> _Pieces:
    taken = {
        (column, row)
        for opening in openings
        if opening.is_lay_in and opening.cells is not None
        for column in range(opening.cells[0], opening.cells[0] + opening.cells[2])
        for row in range(opening.cells[1], opening.cells[1] + opening.cells[3])
    }
    if not taken:
        return pieces
    column, row = np.array(sorted(taken)).T
    inside = (column >= cells.column) & (column < cells.column + cells.columns)
    inside &= (row >= cells.row) & (row < cells.row + cells.rows)
    gone = cells.number(column[inside], row[inside])
    return _take(pieces, np.flatnonzero(~np.isin(pieces.cell, gone)))


def _without_covered(pieces: _Pieces, openings: Sequence[Opening]) -> _Pieces:
    """A device of 24 in cut into a 600 mm grid takes its whole panel and a strip of the next ones."""
    gone: list[int] = []
    for opening in openings:
        if opening.is_lay_in:
            continue
        low, high = np.array(opening.outline.bounds).reshape(2, 2)
        near = (pieces.bounds[:, :2] < high).all(axis=1) & (pieces.bounds[:, 2:] > low).all(axis=1)
        # What the opening's own extent leaves more of than a scrap needs no polygon.
        size = np.minimum(pieces.bounds[:, 2:], high) - np.maximum(pieces.bounds[:, :2], low)
        near &= size.prod(axis=1) >= pieces.area - tolerance.PIECE_AREA
        for k in np.flatnonzero(near).tolist():
            shape = pieces.shapes.get(k, shapely.box(*pieces.bounds[k]))
            if shape.difference(opening.outline).area <= tolerance.PIECE_AREA:
                gone.append(k)
    return _take(pieces, np.setdiff1d(np.arange(len(pieces.cell)), gone)) if gone else pieces


def _count_in_cell(cell: _Ints) -> NDArray[np.int32]:
    _, first, count = np.unique(cell, return_index=True, return_counts=True)
    numbers: NDArray[np.int32] = (np.arange(len(cell)) - np.repeat(first, count)).astype(np.int32)
    return numbers


def _rooms_of(zone: Zone, layout: Layout, pieces: _Pieces) -> NDArray[np.int32]:
    """The room with the greatest share of each piece; in a gap between rooms the nearest."""
    rooms = np.zeros(len(pieces.cell), dtype=np.int32)
    if len(zone.rooms) == 1 or len(rooms) == 0:
        return rooms
    shapes = np.asarray(shapely.box(*pieces.bounds.T), dtype=object)
    for k, shape in pieces.shapes.items():
        shapes[k] = shape
    outlines = np.array([layout.frame.shape_to_local(room.outline) for room in zone.rooms])
    tree = shapely.STRtree(outlines)
    piece, room = tree.query_nearest(shapes)
    times = np.bincount(piece, minlength=len(rooms))
    shared = times[piece] > 1
    share = np.zeros(len(piece))
    share[shared] = shapely.area(shapely.intersection(shapes[piece[shared]], outlines[room[shared]]))
    # Shares that are equal within the tolerance go to the first room.
    order = np.lexsort((room, -np.rint(share / tolerance.AREA), piece))
    hit, first = np.unique(piece[order], return_index=True)
    rooms[hit] = room[order][first]
    return rooms
