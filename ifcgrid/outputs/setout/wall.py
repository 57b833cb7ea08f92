"""The walls of a room as a sheet names them: lettered, curves taken together, with their borders."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.layout import Border

__all__ = ["Wall", "name_walls", "wall_letter"]

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""I and O are left out: they read as 1 and 0 (common practice, no source)."""

_CURVE_TURN_DEG = 30.0
_CURVE_RATIO = 2.5
_CURVE_EDGES = 5
"""A bay of fewer edges is so many walls, each with its own border."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wall:
    """One straight wall, or one curve made of several edges of the outline.

    `points` (n, 2) are local, in the direction of the ring; `inward` is the unit normal
    (local) into the room at its middle. `least`, `greatest` are the border's widths in mm
    and `axis` its direction as in `Border`; None and "" where the layout gives no border.
    """

    letter: str
    ring: int
    edges: tuple[int, ...]
    points: NDArray[np.float64]
    inward: tuple[float, float]
    is_curve: bool
    axis: str
    least: float | None
    greatest: float | None

    @property
    def length(self) -> float:
        """Length along the wall in mm."""
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())

    @property
    def is_tapered(self) -> bool:
        """Whether the border is wider at one end than at the other."""
        return (
            self.least is not None
            and self.greatest is not None
            and tolerance.is_greater(self.greatest, self.least)
        )

    def middle(self, part: float = 0.5) -> NDArray[np.float64]:
        """The point at that part of the wall's length, local."""
        steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.points, axis=0).T))])
        at = part * steps[-1]
        return np.array([np.interp(at, steps, self.points[:, k]) for k in (0, 1)])


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


def _runs(points: NDArray[np.float64]) -> Iterator[tuple[tuple[int, ...], bool]]:
    """Edges of a ring (n, 2 points, not closed) grouped to walls, in ring order; and which are curves."""
    steps = np.roll(points, -1, axis=0) - points
    lengths = np.hypot(*steps.T)
    before = np.roll(steps, 1, axis=0)
    cross = before[:, 0] * steps[:, 1] - before[:, 1] * steps[:, 0]
    turns = np.degrees(np.arctan2(cross, (before * steps).sum(axis=1)))
    curve = _curve_edges(turns, lengths)
    straight_on = np.abs(turns) <= tolerance.ANGLE_DEG
    bent_on = curve & np.roll(curve, 1) & (np.abs(turns) <= _CURVE_TURN_DEG)
    joined = straight_on | bent_on
    count = len(points)
    starts = [i for i in range(count) if not joined[i]]
    if not starts:
        yield tuple(range(count)), True
        return
    for position, first in enumerate(starts):
        beyond = starts[(position + 1) % len(starts)]
        span = (beyond - first - 1) % count + 1
        edges = tuple((first + k) % count for k in range(span))
        if not any(bent_on[e] for e in edges[1:]):
            yield edges, False
        elif span >= _CURVE_EDGES:
            yield edges, True
        else:
            yield from (((e,), False) for e in edges)


def _inward(points: NDArray[np.float64], is_left: bool) -> tuple[float, float]:
    middle = len(points) // 2
    dx, dy = points[middle] - points[middle - 1]
    length = float(np.hypot(dx, dy)) or 1.0
    sign = 1.0 if is_left else -1.0
    return (float(-sign * dy / length), float(sign * dx / length))


def name_walls(ceiling: Ceiling) -> tuple[Wall, ...]:
    """The walls of the zone's outline with letters: the outer ring first, then the holes, in ring order."""
    outline = ceiling.zone.outline
    borders: dict[tuple[int, int], Border] = {(b.ring, b.edge): b for b in ceiling.layout.borders}
    walls: list[Wall] = []
    for ring_index, ring in enumerate((outline.exterior, *outline.interiors)):
        points = ceiling.layout.frame.to_local(np.asarray(ring.coords)[:-1, :2])
        # The room lies on the left of a counter-clockwise outer ring and of a clockwise hole.
        is_left = bool(ring.is_ccw) == (ring_index == 0)
        for edges, is_curve in _runs(points):
            met = [borders[ring_index, e] for e in edges if (ring_index, e) in borders]
            axes = {b.axis for b in met}
            corners = points[[*edges, (edges[-1] + 1) % len(points)]]
            walls.append(
                Wall(
                    letter=wall_letter(len(walls)),
                    ring=ring_index,
                    edges=edges,
                    points=corners,
                    inward=_inward(corners, is_left),
                    is_curve=is_curve,
                    axis=axes.pop() if len(axes) == 1 else ("oblique" if axes else ""),
                    least=min((b.least for b in met), default=None),
                    greatest=max((b.greatest for b in met), default=None),
                )
            )
    return tuple(walls)
