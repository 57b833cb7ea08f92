"""What holds an outline where nothing was measured: first its angles, then its lengths.

A room that is measured 19 mm shorter on one wall stays a rectangle, so the wall opposite is
shorter too; of walls that share what is missing, long ones take more than short ones. A
column keeps its shape and moves along with the room around it.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.measured.network import Rows
from ifcgrid.design.measured.outline import Outline
from ifcgrid.domain import tolerance

__all__ = ["Shape"]

Array = NDArray[np.float64]

TURN, STRETCH = 1000.0, 10000.0
"""How many deviations of a measured length count as much as one: of a wall's end set aside, on each metre
of the wall, and of a wall of 1 m made longer or shorter. Walls less than about 10 degrees out of square
turn before others stretch."""

COLUMN, TIE = 10.0, 0.1
"""How much more a length of a column or shaft weighs, and how much less its place in the room: it moves
rather than shrinks."""

METRE = 1000.0


class Shape:
    """The shape of an outline as rows for an adjustment.

    All rows are linear: a wall's end counts by how far it stands aside and along of where
    the model has it, so that no wall grows in order to turn less. Longer walls stretch more
    easily, by the root of their length.

    Args:
        outline: the model's.
        deviation: that of the weakest length, beside which the rows still are weak.
        measured: letters of walls whose length is known and has no say here.
    """

    def __init__(self, outline: Outline, deviation: float, measured: Collection[str] = ()) -> None:
        step = np.array([outline.corners[s.end] - outline.corners[s.start] for s in outline.spans])
        length = np.maximum(np.hypot(*step.T), tolerance.SHORTEST_EDGE)
        unit = step / length[:, None]
        hold = np.array(
            [0.0 if s.letter in measured else COLUMN if s.ring else 1.0 for s in outline.spans], dtype=float
        )
        self._outline = outline
        self._deviation = deviation
        self._aside = self._rows_of(METRE * np.stack([-unit[:, 1], unit[:, 0]], axis=1) / length[:, None])
        along = self._rows_of((hold * np.sqrt(METRE / length))[:, None] * unit)
        self._along = np.concatenate([along, TIE * _column_ties(outline)])

    def _rows_of(self, part: Array) -> Array:
        """Rows (k, 2 m) of what is counted from each wall's start to its end."""
        matrix = np.zeros((len(part), len(self._outline.corners), 2))
        row = np.arange(len(part))
        matrix[row, [s.end for s in self._outline.spans]] += part
        matrix[row, [s.start for s in self._outline.spans]] -= part
        return matrix.reshape(len(part), -1)

    def _drawn(self, rows: Array) -> Rows:
        wanted = rows @ self._outline.corners.ravel()
        return lambda corners: (rows @ corners.ravel() - wanted, rows)

    def free(self) -> Rows:
        """Rows that draw walls towards their direction, and less so towards their length."""
        return self._drawn(np.concatenate([self._aside / TURN, self._along / STRETCH]) / self._deviation)

    def square(self) -> tuple[Rows, Array]:
        """Rows that draw walls towards their length, and the ways (2 m, k) that turn none."""
        _, sizes, directions = np.linalg.svd(self._aside)
        rank = int((sizes > tolerance.RANK * sizes.max()).sum())
        return self._drawn(self._along / STRETCH / self._deviation), directions[rank:].T


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
