"""Which way a grid may run in a room: along the walls that are longest in all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.walls import Edges
from ifcgrid.domain import tolerance

__all__ = ["find_directions"]

_Floats = NDArray[np.float64]

_CLOSE_SECOND = 0.95
"""Directions whose walls are at least this share of the longest are tried as well."""

_ROUND = 1.02
"""A curved room whose main second moments differ by less than this factor has no long side."""


def find_directions(edges: Edges) -> tuple[float, ...]:
    """Directions in degrees in [0, 90), modulo 90, in order of wall length.

    Straight edges are grouped by direction modulo 90 degrees and weighted by their length;
    a group's direction is its length-weighted mean. The longest group wins, as a frame
    squares to its control wall; others are tried only when they are all but as long. A
    room without straight walls follows its longer axis, or the model's X axis if round.
    """
    straight = ~edges.is_curve
    if not straight.any():
        return (_main_axis(edges),)
    run = (edges.end - edges.start)[straight]
    length = edges.length[straight]
    angle = np.degrees(np.arctan2(run[:, 1], run[:, 0])) % 90.0
    order = np.argsort(angle, kind="stable")
    angle, length = angle[order], length[order]
    group = np.concatenate([[0], np.cumsum(np.diff(angle) > tolerance.ANGLE_DEG)])
    if angle[0] + 90.0 - angle[-1] <= tolerance.ANGLE_DEG:
        group[group == group[-1]] = 0
    total = np.bincount(group, weights=length)
    chosen = [
        g for g in np.argsort(-total, kind="stable").tolist() if total[g] >= _CLOSE_SECOND * total.max()
    ]
    found = [_mean(angle[group == g], length[group == g]) for g in chosen]
    return tuple(sorted(found, key=lambda a: a)) if len(found) > 1 else tuple(found)


def _mean(angle: _Floats, length: _Floats) -> float:
    """Length-weighted mean of directions that lie close together, modulo 90 degrees."""
    anchor = angle[np.argmax(length)]
    away = (angle - anchor + 45.0) % 90.0 - 45.0
    mean = float(anchor + np.average(away, weights=length))
    # Nine decimals keep a hall of a kilometre within a tenth of the length tolerance.
    return round(mean, 9) % 90.0


def _main_axis(edges: Edges) -> float:
    """Direction modulo 90 of the longer main axis of the outer ring's area; 0.0 when it is round."""
    outer = edges.ring == 0
    middle = edges.start[outer].mean(axis=0)
    (x0, y0), (x1, y1) = (edges.start[outer] - middle).T, (edges.end[outer] - middle).T
    cross = x0 * y1 - x1 * y0
    area = cross.sum() / 2
    cx, cy = ((x0 + x1) @ cross / (6 * area), (y0 + y1) @ cross / (6 * area))
    xx = (x0**2 + x0 * x1 + x1**2) @ cross / 12 - area * cx**2
    yy = (y0**2 + y0 * y1 + y1**2) @ cross / 12 - area * cy**2
    xy = (x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) @ cross / 24 - area * cx * cy
    values, vectors = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]))
    if values[1] < _ROUND * values[0]:
        return 0.0
    return round(float(np.degrees(np.arctan2(vectors[1, 1], vectors[0, 1]))), 9) % 90.0
