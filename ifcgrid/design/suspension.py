"""Hangers along the mains.

On every run of every main the fewest hangers that keep the spacing and the end distance
(least number ceil((L - 2 e) / s) + 1). They stand at equal distances, and use up the same
share of both limits: with n hangers the spacing is t s and the end distance t e, where
t = L / (2 e + (n - 1) s). So a hanger that is set a little off still keeps both.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.field import rooms_at
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Hangers, Members, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.soffit import SoffitIndex
from ifcgrid.domain.system import GridSystem

__all__ = ["place_hangers"]

DEEPEST_BEAM = 1000.0
"""Structure is looked for from this far below a ceiling, in mm: a beam may hang through it."""


def place_hangers(
    zone: Zone,
    system: GridSystem,
    layout: Layout,
    members: Members,
    structure: Sequence[Obstacle] = (),
) -> Hangers:
    """Hangers of all mains, from the main's top straight up to the soffit above.

    `structure` is what may carry a hanger; where it leaves a point uncovered the hanger's
    top is NaN and its support "". Where structure stands so low that it leaves no room above
    the main, the top is NaN too and the support names it. The limits are the system's
    `hanger_spacing` and `hanger_end`; `system.basis` says where they come from.
    """
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER)
    line, start = members.line[mains], members.start[mains]
    length = members.length[mains]
    spacing, end = system.hanger_spacing, system.hanger_end
    gaps = np.maximum(np.ceil((length - 2 * end - tolerance.LENGTH) / spacing), 0).astype(np.int64)
    share = length / (2 * end + gaps * spacing)
    count = gaps + 1
    first = np.cumsum(count) - count
    number = np.arange(int(count.sum())) - np.repeat(first, count)
    point = np.repeat(start, count, axis=0)
    point[:, 0] += np.repeat(share, count) * (end + number * spacing)
    hanger_line = np.repeat(line, count)
    bottom = np.full(len(point), zone.level + system.main.height)
    top, above = _find_tops(layout.frame.to_world(point), zone.level, bottom, structure)
    return Hangers(
        line=hanger_line,
        index=_count_on_line(hanger_line),
        room=rooms_at(zone, layout, point),
        point=point,
        bottom=bottom,
        top=top,
        support=tuple(structure[k].key if k >= 0 else "" for k in above.tolist()),
    )


def _find_tops(
    points: NDArray[np.float64], level: float, bottom: NDArray[np.float64], structure: Sequence[Obstacle]
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """The soffit over each point and whose it is; NaN where structure reaches below the main's top."""
    over = [k for k, s in enumerate(structure) if s.top > level]
    index = SoffitIndex([structure[k] for k in over])  # the rest stands wholly under the ceiling
    top, above = index.find(points, bottom)
    low, lowest = index.find(points, np.full(len(points), level - DEEPEST_BEAM))
    is_blocked = low < bottom
    owner = np.array([*over, -1], dtype=np.int64)[np.where(is_blocked, lowest, above)]
    return np.where(is_blocked, np.nan, top), owner


def _count_on_line(line: NDArray[np.int32]) -> NDArray[np.int32]:
    """Each hanger's number along its line over all runs; members come sorted by line and place."""
    _, first, count = np.unique(line, return_index=True, return_counts=True)
    numbers: NDArray[np.int32] = (np.arange(len(line)) - np.repeat(first, count)).astype(np.int32)
    return numbers
