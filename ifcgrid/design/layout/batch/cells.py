"""How many panels layouts of many rectilinear rooms cut, from the exact areas of all their cells.

Walls across x are split where they meet grid lines; each part adds its signed area to its
own cell and a full cell's worth to all cells left of it, which a cumulative sum along the
rows completes, as font rasterisers do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.cases import Cases
from ifcgrid.design.layout.ragged import expand, firsts, pair_up, sum_up
from ifcgrid.domain import tolerance

__all__ = ["Cells", "count_panels", "measure_areas"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_MOST_CELLS = 1_000_000
"""Cells that are measured in one go, to bound the memory."""

_STEPS = 2.0**40
"""Heights in cells are counted in these steps: whole numbers, whose sums do not depend on the order."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """Areas (n,) in mm² of the cells of layouts, row by row from the least y and x on.

    Layout k has `rows[k]` rows of `columns[k]` cells; its whole cell is `whole[k]` mm².
    """

    area: _Floats
    rows: _Ints
    columns: _Ints
    whole: _Floats


def measure_areas(cases: Cases, case: _Ints, offset: _Floats) -> Cells:
    """The room in every cell of layouts: lattices of cases (k,) with a node at `offset` (k, 2)."""
    module, span = cases.module[case], cases.span[case]
    rest = offset - module * np.floor(offset / module)
    base = np.where(rest <= tolerance.LENGTH, rest, rest - module)
    columns, rows = (np.ceil((span - base - tolerance.SCORE) / module).astype(np.int64) + 1).T
    edges = cases.edges
    across = edges.start[:, 1] != edges.end[:, 1]
    wall = np.flatnonzero(across)
    counts = np.bincount(cases.edge_case[wall], minlength=len(cases))
    owner, item = pair_up(case, firsts(counts), counts)
    edge = wall[item]
    x = (edges.start[edge, 0] - base[owner, 0]) / module[owner, 0]
    start, end = ((p[edge, 1] - base[owner, 1]) / module[owner, 1] for p in (edges.start, edges.end))
    sign = np.sign(end - start)
    low, high = np.minimum(start, end), np.maximum(start, end)
    bottom = np.floor(low).astype(np.int64)
    part, nth = expand(np.maximum(np.ceil(high).astype(np.int64) - bottom, 1))
    row = bottom[part] + nth
    ends = [np.rint(np.clip(level[part] - row, 0.0, 1.0) * _STEPS) for level in (low, high)]
    rise = sign[part] * (ends[1] - ends[0])
    own, at = owner[part], x[part]
    # A wall on a line adds its whole cell on one side or nothing on the other: the same.
    column = np.clip(np.floor(at).astype(np.int64), 0, columns[own] - 1)
    cell = firsts(rows * columns)[own] + np.clip(row, 0, rows[own] - 1) * columns[own] + column
    total = int((rows * columns).sum())
    inside = sum_up(cell, rise * (at - column), total)
    passed = sum_up(cell, rise, total)
    # Whole numbers: every row adds up to nothing, whatever rows there are beside it.
    right = np.cumsum(passed[::-1])[::-1] - passed
    whole = module[:, 0] * module[:, 1]
    area = (inside + right) / _STEPS * np.repeat(whole, rows * columns)
    return Cells(area=area, rows=rows, columns=columns, whole=whole)


def count_panels(cases: Cases, case: _Ints, offset: _Floats) -> tuple[_Ints, _Ints]:
    """Cut panels and panels in all of layouts (k,): scraps are none, and full ones need not be cut."""
    cells = np.prod(np.ceil(cases.span[case] / cases.module[case]) + 2, axis=1)
    chunk = (np.cumsum(cells) // _MOST_CELLS).astype(np.int64)
    cut, pieces = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for number in np.unique(chunk).tolist():
        own = chunk == number
        measured = measure_areas(cases, case[own], offset[own])
        layout, _ = expand(measured.rows * measured.columns)
        is_piece = measured.area >= tolerance.PIECE_AREA - tolerance.SCORE
        is_cut = is_piece & (measured.area < measured.whole[layout] - tolerance.AREA)
        count = int(own.sum())
        cut.append(sum_up(layout, is_cut, count).astype(np.int64))
        pieces.append(sum_up(layout, is_piece, count).astype(np.int64))
    return np.concatenate(cut), np.concatenate(pieces)
