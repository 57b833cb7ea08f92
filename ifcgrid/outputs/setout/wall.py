"""The walls of a room as a sheet names them: lettered, curves taken together, with their borders."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.layout import Border
from ifcgrid.domain.wall_runs import wall_letter, wall_runs

__all__ = ["Wall", "name_walls", "wall_letter"]


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
        for edges, is_curve in wall_runs(points):
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
