"""The edges of outlines as arrays: which way they run, which are curves, what faces what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.layout.ragged import expand, firsts, pair_up
from ifcgrid.domain import tolerance

__all__ = ["Chords", "Edges", "cut_chords", "find_chords", "read_all_edges", "read_edges"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]

_CURVE_TURN_DEG = 30.0
"""Neighbouring edges of a curve that was drawn as a polyline turn by no more than this."""

_CURVE_SWEEP_DEG = 20.0
"""A polyline that turns less than this in all is a wall that was built crooked, no curve."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Edges of all rings with the room on their left, one entry an edge.

    `start`, `end` (n, 2) in mm; `ring` 0 for the room's outer ring, 1.. for holes; `index`
    the number of the edge in its ring as the outline has it; `is_reversed` where the outline
    runs through it from end to start; `is_curve` for the parts of a curve. Edges of a ring
    follow each other.
    """

    start: _Floats
    end: _Floats
    ring: _Ints
    index: _Ints
    is_reversed: _Bools
    is_curve: _Bools

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

    A trapezoid lies between heights `low` and `high` on the t axis and
    between the edges numbered `left` and `right`; `left_s`, `right_s` (n, 2) are where
    these are on the s axis at the low and at the high end. All (n,) but the last two; mm.
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
    return read_all_edges([outline])[0]


def read_all_edges(outlines: Sequence[Polygon]) -> tuple[Edges, _Ints]:
    """The edges of many rooms, one room after the other, and the number of each edge's room."""
    rings, ring_room = shapely.get_rings(np.array(outlines, dtype=object), return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    at = np.flatnonzero(ring[1:] == ring[:-1])
    at = at[np.any(points[at + 1] != points[at], axis=1)]
    ring_counts = np.bincount(ring, minlength=len(rings))
    number = np.arange(len(rings)) - firsts(np.bincount(ring_room, minlength=len(outlines)))[ring_room]
    turned = (shapely.is_ccw(rings) == (number > 0))[ring[at]]
    a, b = points[at], points[at + 1]
    own = ring[at]
    edges = Edges(
        start=np.where(turned[:, None], b, a),
        end=np.where(turned[:, None], a, b),
        ring=number[own],
        index=at - firsts(ring_counts)[own],
        is_reversed=turned,
        is_curve=_curves(a, b, np.bincount(own, minlength=len(rings))),
    )
    return edges, ring_room[own]


def _curves(start: _Floats, end: _Floats, counts: _Ints) -> _Bools:
    """Which edges are parts of a curve drawn as a polyline; rings have `counts` edges.

    A curve is a run of at least three edges, each turning a little from the one before,
    that turns noticeably in all. Straight walls that run into a curve are much longer
    than its parts.
    """
    angle = np.degrees(np.arctan2(*(end - start).T[::-1]))
    owner, nth = expand(counts)
    after = np.where(nth + 1 < counts[owner], np.arange(len(angle)) + 1, firsts(counts)[owner])
    turn = np.abs((angle[after] - angle + 180.0) % 360.0 - 180.0)
    is_linked = (turn > tolerance.ANGLE_DEG) & (turn <= _CURVE_TURN_DEG)
    is_curve = np.zeros(len(angle), dtype=bool)
    bends = np.bincount(owner, weights=is_linked, minlength=len(counts))
    for ring in np.flatnonzero(bends >= 2).tolist():
        begin = int(firsts(counts)[ring])
        own = slice(begin, begin + int(counts[ring]))
        length = np.hypot(*(end[own] - start[own]).T)
        is_curve[own] = _curves_of_ring(turn[own], is_linked[own], length)
    return is_curve


def _curves_of_ring(turn: _Floats, is_linked: _Bools, length: _Floats) -> _Bools:
    count = len(turn)
    is_curve = np.zeros(count, dtype=bool)
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
    return cut_chords(start, end, np.zeros(len(start), dtype=np.int64), 1, axis)[0]


def cut_chords(start: _Floats, end: _Floats, room: _Ints, count: int, axis: int) -> tuple[Chords, _Ints]:
    """The chords of many rooms, by room and height, and the number of each one's room.

    `room` (n,) numbers the room of each edge from 0 to `count`, in order.
    """
    s0, t0, s1, t1 = start[:, axis], start[:, 1 - axis], end[:, axis], end[:, 1 - axis]
    at, owner = np.concatenate([t0, t1]), np.concatenate([room, room])
    order = np.lexsort((at, owner))
    at, owner = at[order], owner[order]
    is_new = np.ones(len(at), dtype=bool)
    is_new[1:] = (np.diff(at) > tolerance.LENGTH) | (owner[1:] != owner[:-1])
    at, owner = at[is_new], owner[is_new]
    is_slab = owner[1:] == owner[:-1]
    low, high, slab_room = at[:-1][is_slab], at[1:][is_slab], owner[1:][is_slab]
    sizes = np.bincount(room, minlength=count)
    slab, edge = pair_up(slab_room, firsts(sizes), sizes)
    middle = ((low + high) / 2)[slab]
    crossed = (np.minimum(t0, t1)[edge] < middle) & (np.maximum(t0, t1)[edge] > middle)
    slab, edge, middle = slab[crossed], edge[crossed], middle[crossed]
    slope = (s1 - s0)[edge] / (t1 - t0)[edge]
    place = s0[edge] + slope * (middle - t0[edge])
    order = np.lexsort((place, slab))
    slab, edge, slope, place = slab[order], edge[order], slope[order], place[order]
    half = ((high - low) / 2)[slab]
    # A wall that is straight up stays at its own s, without the rounding of the division.
    places = np.stack([place - slope * half, place + slope * half], axis=1)
    chords = Chords(
        low=low[slab[0::2]],
        high=high[slab[0::2]],
        left=edge[0::2],
        right=edge[1::2],
        left_s=places[0::2],
        right_s=places[1::2],
    )
    return chords, slab_room[slab[0::2]]
