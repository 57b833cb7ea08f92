"""What holds an outline where nothing was measured: first its angles, then its lengths.

A room that is measured 19 mm shorter on one wall stays a rectangle, so the wall opposite is
shorter too; of walls that share what is missing, long ones take more than short ones. A
column keeps its shape and moves along with the room around it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.measured.network import Rows
from ifcgrid.design.measured.outline import Outline
from ifcgrid.domain import tolerance

__all__ = ["shape_prior"]

Array = NDArray[np.float64]

TURN = 1e-3
"""Weight of a wall's end set aside by 1 mm on each metre of the wall, beside a length measured to 1 mm."""

STRETCH = 1e-7
"""Weight of 1 mm more or less on a wall of 1 m; it falls with the root of the length."""

FIXED_TURN, FIXED_STRETCH = 1e4, 1e-5
"""The same where the model's angles are to be kept: no length bends a wall by what floats could tell."""

COLUMN = 100.0
"""How much more a length of a column or shaft weighs: it moves rather than shrinks."""

METRE = 1000.0


def shape_prior(outline: Outline, deviation: float, *, is_fixed: bool = False) -> Rows:
    """Rows that draw corners (m, 2) towards the shape of the outline: turns, lengths, columns.

    All are linear: a wall's end counts by how far it stands aside and along of where the
    model has it, so that no wall grows in order to turn less. `deviation` is that of the
    weakest length, beside which the rows still are weak; but where `is_fixed` no wall turns.
    """
    start = np.array([span.start for span in outline.spans])
    end = np.array([span.end for span in outline.spans])
    step = outline.corners[end] - outline.corners[start]
    length = np.maximum(np.hypot(*step.T), tolerance.SHORTEST_EDGE)
    unit = step / length[:, None]
    turn, stretch = (FIXED_TURN, FIXED_STRETCH) if is_fixed else (TURN, STRETCH)
    aside = turn * METRE * np.stack([-unit[:, 1], unit[:, 0]], axis=1) / length[:, None]
    hold = np.where([span.ring > 0 for span in outline.spans], COLUMN, 1.0) * stretch
    along = (hold * np.sqrt(METRE / length))[:, None] * unit
    count = len(outline.spans)
    matrix = np.zeros((2 * count, len(outline.corners), 2))
    for first, part in ((0, aside), (count, along)):
        row = first + np.arange(count)
        matrix[row, end] += part
        matrix[row, start] -= part
    flat = np.concatenate([matrix.reshape(2 * count, -1), stretch * _column_ties(outline)]) / deviation
    wanted = flat @ outline.corners.ravel()
    return lambda corners: (flat @ corners.ravel() - wanted, flat)


def _column_ties(outline: Outline) -> Array:
    """Rows (2 h, 2 m) that are zero while the middle of every hole goes along with the outer corners."""
    count = len(outline.corners)
    outer = sorted({i for s in outline.on_ring(0) for i in (s.start, s.end)})
    ties = []
    for ring in range(1, len(outline.rings)):
        own = sorted({i for s in outline.on_ring(ring) for i in (s.start, s.end)})
        middle = outline.corners[own].mean(axis=0)
        share = _shares(outline.corners[outer], middle)
        for axis in (0, 1):
            row = np.zeros((count, 2))
            row[own, axis] += 1.0 / len(own)
            row[outer] -= share[axis]
            ties.append(row.ravel())
    return np.array(ties).reshape(-1, 2 * count)


def _shares(corners: Array, point: Array) -> Array:
    """Weights (2, m, 2) that make up a point's x and y from the corners, in a way that turns with them."""
    shares = np.zeros((2, len(corners), 2))
    system = np.concatenate([corners.T, np.ones((1, len(corners)))])
    if len(corners) > 2:
        plain = np.linalg.lstsq(system, np.array([*point, 1.0]), rcond=tolerance.RELATIVE)[0]
        shares[0, :, 0] = shares[1, :, 1] = plain
        return shares
    first, step = corners[0], corners[1] - corners[0]
    along = complex(*(point - first)) / complex(*step)
    a, b = along.real, along.imag
    shares[0] = [[1 - a, b], [a, -b]]
    shares[1] = [[-b, 1 - a], [b, a]]
    return shares
