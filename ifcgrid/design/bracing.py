"""Brace sets: four splay wires and a post at crossings of mains and cross tees.

Source of the numbers: `ifcgrid.domain.bracing`. A pass on spacing says nothing about the
strength of wires, posts and fixings.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.brace_grid import choose_crossings
from ifcgrid.design.splay import Surroundings, find_anchors
from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import BracingRules
from ifcgrid.domain.ceiling import Members, Role
from ifcgrid.domain.hanging import Braces
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["find_crossings", "needs_braces", "place_braces"]


def needs_braces(zone: Zone, rules: BracingRules) -> bool:
    """Whether the rules ask for brace sets in a zone: more area than `brace_area`."""
    return rules.is_braced and tolerance.is_greater(zone.outline.area, rules.brace_area, tolerance.AREA)


def place_braces(
    zone: Zone,
    system: GridSystem,
    layout: Layout,
    members: Members,
    rules: BracingRules,
    obstacles: Sequence[Obstacle],
    parts: Sequence[Polygon] = (),
) -> Braces | None:
    """Brace sets of a zone, None where the rules ask for none.

    Each of `parts` (local; the whole zone when none are given) gets the fewest sets that
    keep the spacing and the distance from its walls, at crossings where wires and post find
    clear ways to the structure; among as few the most equal held areas. Where a part has
    too few such crossings others are taken, and what found no way is NaN.
    """
    if not needs_braces(zone, rules):
        return None
    line, column, point = find_crossings(members, layout, rules.node_reach)
    surroundings = Surroundings(obstacles, rules)
    top = zone.level + system.main.height
    anchors = find_anchors(point, top, layout.frame, surroundings, rules)
    is_good = anchors.missing == 0
    if not is_good.any():
        is_good[:] = True  # without structure, or under a closed lid, no crossing is better than another
    chosen: list[int] = []
    for part in parts or (layout.frame.shape_to_local(zone.outline),):
        inside = np.flatnonzero(shapely.contains_properly(part, np.asarray(shapely.points(point))))
        found = choose_crossings(point[inside], is_good[inside], part, rules.spacing, rules.first_brace)
        chosen += inside[found].tolist()
    at = np.array(sorted(chosen, key=lambda k: (line[k], column[k])), dtype=np.int64)
    moved = point[at] + np.column_stack([anchors.offset[at], np.zeros(len(at))])
    return Braces(
        line=line[at],
        column=column[at],
        point=moved,
        post_top=anchors.post_top[at],
        wire_top=anchors.wire_top[at],
        support=tuple(anchors.support[k] for k in at.tolist()),
    )


def find_crossings(
    members: Members, layout: Layout, reach: float
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.float64]]:
    """Where a cross tee meets a main that goes on for `reach` mm on both sides.

    Returns:
        the mains' lines (n,), the cross tees' lines (n,) and the local points (n, 2), sorted.
    """
    tees = np.flatnonzero(members.role == Role.CROSS_TEE)
    ends = np.concatenate([members.start[tees], members.end[tees]])
    column = np.tile(members.line[tees], 2)
    line = np.rint(ends[:, 1] / layout.across).astype(np.int32)
    on_line = np.abs(ends[:, 1] - line * layout.across) <= tolerance.LENGTH
    is_main = line % layout.main_every == layout.main_phase % layout.main_every
    met = np.column_stack([line, column, ends[:, 0].round(3)])[on_line & is_main]
    nodes = np.unique(met, axis=0)
    point = np.column_stack([nodes[:, 2], nodes[:, 0] * layout.across])
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER)
    same = nodes[:, 0][:, None] == members.line[mains][None]
    low, high = members.start[mains, 0] + reach, members.end[mains, 0] - reach
    held = same & (point[:, :1] >= low[None]) & (point[:, :1] <= high[None])
    kept = held.any(axis=1)
    return nodes[kept, 0].astype(np.int32), nodes[kept, 1].astype(np.int32), point[kept].astype(np.float64)
