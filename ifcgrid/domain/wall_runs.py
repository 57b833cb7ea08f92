"""How the edges of an outline make up walls, and what letters these bear on drawings."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance

__all__ = ["wall_letter", "wall_runs"]

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""I and O are left out: they read as 1 and 0 (common practice, no source)."""

_CURVE_TURN_DEG = 30.0
_CURVE_RATIO = 2.5
_CURVE_EDGES = 5
"""A bay of fewer edges is so many walls, each with its own border."""


def wall_letter(index: int) -> str:
    """A, B, C ... Z, AA, AB ... without I and O, counted from 0.

    >>> [wall_letter(i) for i in (0, 8, 23, 24)]
    ['A', 'J', 'Z', 'AA']
    """
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, len(_LETTERS))
        text = _LETTERS[rest] + text
    return text


def _curve_edges(turns: NDArray[np.float64], lengths: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which edges belong to a curve: small turns of one sign at both ends, no long straight among them."""
    after, before = np.roll(turns, -1), turns
    bends = (np.abs(turns) > tolerance.ANGLE_DEG) & (np.abs(turns) <= _CURVE_TURN_DEG)
    shorter = np.minimum(np.roll(lengths, 1), np.roll(lengths, -1))
    core = bends & np.roll(bends, -1) & (before * after > 0) & (lengths <= _CURVE_RATIO * shorter)
    # The last chord of an arc that ends in a corner has a small turn at one end only.
    from_left = np.roll(core, 1) & bends & (lengths <= 1.5 * np.roll(lengths, 1))
    from_right = np.roll(core & bends, -1) & np.roll(bends, -1) & (lengths <= 1.5 * np.roll(lengths, -1))
    edges: NDArray[np.bool_] = core | from_left | from_right
    return edges


def wall_runs(points: NDArray[np.float64]) -> Iterator[tuple[tuple[int, ...], bool]]:
    """The walls of a ring (n, 2 points, not closed), in ring order: their edges, and whether they curve."""
    count = len(points)
    # A point on a straight edge, where a wall met it, parts no wall and no chord of a curve.
    corners = np.flatnonzero(np.abs(_turns(points)) > tolerance.ANGLE_DEG)
    if len(corners) < 3:
        yield tuple(range(count)), True
        return
    ends = np.roll(corners, -1)
    for run, is_curve in _runs(points[corners]):
        first, beyond = int(corners[run[0]]), int(ends[run[-1]])
        yield tuple((first + k) % count for k in range((beyond - first - 1) % count + 1)), is_curve


def _turns(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far the ring turns at each point, in degrees."""
    after = np.roll(points, -1, axis=0) - points
    before = np.roll(after, 1, axis=0)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns: NDArray[np.float64] = np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))
    return turns


def _runs(points: NDArray[np.float64]) -> Iterator[tuple[tuple[int, ...], bool]]:
    """The walls of a ring that turns at every point."""
    turns, count = _turns(points), len(points)
    curve = _curve_edges(turns, np.hypot(*(np.roll(points, -1, axis=0) - points).T))
    bent_on = curve & np.roll(curve, 1) & (np.abs(turns) <= _CURVE_TURN_DEG)
    starts = [i for i in range(count) if not bent_on[i]]
    if not starts:
        yield tuple(range(count)), True
        return
    for position, first in enumerate(starts):
        beyond = starts[(position + 1) % len(starts)]
        edges = tuple((first + k) % count for k in range((beyond - first - 1) % count + 1))
        if len(edges) == 1:
            yield edges, False
        elif len(edges) >= _CURVE_EDGES:
            yield edges, True
        else:
            yield from (((e,), False) for e in edges)
