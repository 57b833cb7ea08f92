"""The edges of an outline as arrays: which way they run, which are curves, what faces what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance

__all__ = ["Chords", "Edges", "find_chords", "read_edges"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_CURVE_TURN_DEG = 30.0
"""Neighbouring edges of a curve that was drawn as a polyline turn by no more than this."""

_CURVE_SWEEP_DEG = 20.0
"""A polyline that turns less than this in all is a wall that was built crooked, no curve."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Edges of all rings with the room on their left, one entry an edge.

    `start`, `end` (n, 2) in mm; `ring` 0 for the outer ring, 1.. for holes; `index` the
    number of the edge in its ring as the outline has it; `is_reversed` where the outline
    runs through it from end to start; `is_curve` for the parts of a curve.
    """

    start: _Floats
    end: _Floats
    ring: _Ints
    index: _Ints
    is_reversed: NDArray[np.bool_]
    is_curve: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.start)

    @property
    def length(self) -> _Floats:
        """Lengths (n,) in mm."""
        lengths: _Floats = np.hypot(*(self.end - self.start).T)
        return lengths


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chords:
    """The room cut into trapezoids at the height of every vertex, one entry a trapezoid.

    A trapezoid lies between heights `low` and `high` on the t axis and between the edges
    numbered `left` and `right`; `left_s`, `right_s` (n, 2) are where these are on the s
    axis at the low and at the high end. All (n,) but the last two; mm.
    """

    low: _Floats
    high: _Floats
    left: _Ints
    right: _Ints
    left_s: _Floats
    right_s: _Floats

    @property
    def height(self) -> _Floats:
        """Heights (n,) in mm."""
        return self.high - self.low

    @property
    def width(self) -> _Floats:
        """Widths (n, 2) in mm at the low and the high end."""
        return self.right_s - self.left_s


def read_edges(outline: Polygon) -> Edges:
    """All edges of an outline; edges without length are left out."""
    parts = []
    for ring, line in enumerate([outline.exterior, *outline.interiors]):
        points = np.asarray(line.coords, dtype=float)[:, :2]
        index = np.flatnonzero(np.any(points[1:] != points[:-1], axis=1))
        start, end = points[index], points[index + 1]
        turned = line.is_ccw == (ring > 0)
        a, b = (end, start) if turned else (start, end)
        parts.append(
            (a, b, np.full(len(index), ring), index, np.full(len(index), turned), _curves(start, end))
        )
    start, end, ring_number, index, is_reversed, is_curve = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    return Edges(
        start=start, end=end, ring=ring_number, index=index, is_reversed=is_reversed, is_curve=is_curve
    )


def _curves(start: _Floats, end: _Floats) -> NDArray[np.bool_]:
    """Which edges of one ring are parts of a curve drawn as a polyline.

    A curve is a run of at least three edges, each turning a little from the one before,
    that turns noticeably in all. Straight walls that run into a curve are much longer
    than its parts.
    """
    count = len(start)
    angle = np.degrees(np.arctan2(*(end - start).T[::-1]))
    turn = np.abs((np.roll(angle, -1) - angle + 180.0) % 360.0 - 180.0)
    is_linked = (turn > tolerance.ANGLE_DEG) & (turn <= _CURVE_TURN_DEG)
    is_curve = np.zeros(count, dtype=bool)
    if np.count_nonzero(is_linked) < 2:
        return is_curve
    length = np.hypot(*(end - start).T)
    breaks = np.flatnonzero(~is_linked)
    if len(breaks) == 0:
        runs = [np.arange(count)]
    else:
        order = (np.arange(count) + breaks[0] + 1) % count
        runs = np.split(order, np.flatnonzero(~is_linked[order])[:-1] + 1)
    for run in runs:
        inner = turn[run] if len(breaks) == 0 else turn[run[:-1]]
        if len(run) >= 3 and inner.sum() >= _CURVE_SWEEP_DEG:
            is_curve[run] = length[run] <= 2.0 * np.median(length[run])
    return is_curve


def find_chords(start: _Floats, end: _Floats, axis: int) -> Chords:
    """Cut what the edges (n, 2) enclose into trapezoids between neighbouring vertices.

    `axis` is the axis of s, along which the chords run; the other one is t.
    """
    s0, t0, s1, t1 = start[:, axis], start[:, 1 - axis], end[:, axis], end[:, 1 - axis]
    levels = np.unique(np.concatenate([t0, t1]))
    levels = levels[np.concatenate([[True], np.diff(levels) > tolerance.LENGTH])]
    middle = (levels[1:] + levels[:-1]) / 2
    crossed = (np.minimum(t0, t1) < middle[:, None]) & (np.maximum(t0, t1) > middle[:, None])
    slab, edge = np.nonzero(crossed)
    slope = (s1 - s0)[edge] / (t1 - t0)[edge]
    at = s0[edge] + slope * (middle[slab] - t0[edge])
    order = np.lexsort((at, slab))
    slab, edge, slope, at = slab[order], edge[order], slope[order], at[order]
    half = ((levels[1:] - levels[:-1]) / 2)[slab]
    # A wall that is straight up stays at its own s, without the rounding of the division.
    places = np.stack([at - slope * half, at + slope * half], axis=1)
    return Chords(
        low=levels[slab[0::2]],
        high=levels[slab[0::2] + 1],
        left=edge[0::2],
        right=edge[1::2],
        left_s=places[0::2],
        right_s=places[1::2],
    )
