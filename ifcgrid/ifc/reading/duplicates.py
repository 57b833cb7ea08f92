"""Spaces that are one room modelled several times, and spaces that overlap otherwise."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from ifcgrid.domain import tolerance
from ifcgrid.domain.room import SkippedRoom
from ifcgrid.ifc.reading.space import Body, Space

__all__ = ["merge_duplicates", "note_overlaps"]

COVERED = 0.9
"""Least share of the smaller of two plans that the larger covers when both are one room."""

MOST = 0.5
"""Least size of the smaller of two plans against the larger when both are one room."""

THICKEST_WALL = 600.0
"""The plans of one room differ by no strip wider than this, in mm: area schemes measure to the
face, the middle or the far side of its walls (common practice, no source)."""


def merge_duplicates(spaces: Sequence[Space]) -> tuple[tuple[Space, ...], tuple[SkippedRoom, ...]]:
    """Keeps one space of each room; the order of the spaces is kept.

    Two spaces are one room when they stand in one storey, share more than half of the
    lower one's height, the larger plan covers `COVERED` of the smaller, which has more than
    `MOST` of its size, and what is left of the larger is nowhere wider than `THICKEST_WALL`.
    Of the spaces of a room the one with the smallest plan is kept, because a ceiling ends
    at the finished face of the walls and other schemes of area measure into them; between
    equal plans the least key decides. The others become skipped rooms and stand in `also`
    of the one that is kept.

    Spaces that overlap but are not one room are kept, with a note on both.
    """
    if len(spaces) < 2:
        return tuple(spaces), ()
    pairs = _overlapping(spaces)
    leader = list(range(len(spaces)))
    for i, j in pairs:
        if _is_one_room(spaces[i], spaces[j]):
            _join(leader, i, j)
    groups: dict[int, list[int]] = defaultdict(list)
    for i in range(len(spaces)):
        groups[_find(leader, i)].append(i)
    kept_of: dict[int, int] = {}
    for group in groups.values():
        # Areas are compared in whole mm²: rounding noise must not choose.
        first = min(group, key=lambda i: (round(spaces[i].body.plan.area), spaces[i].key))
        kept_of.update(dict.fromkeys(group, first))
    notes = _overlap_notes(spaces, pairs, kept_of)
    kept = tuple(_kept(spaces, i, kept_of, notes[i]) for i in range(len(spaces)) if kept_of[i] == i)
    skipped = tuple(_set_aside(spaces[i], spaces[kept_of[i]]) for i in range(len(spaces)) if kept_of[i] != i)
    return kept, skipped


def note_overlaps(spaces: Sequence[Space], others: Sequence[tuple[str, Body]]) -> tuple[Space, ...]:
    """Notes on each space how much of what passes through it, named bodies, lies in its plan."""
    if not spaces or not others:
        return tuple(spaces)
    tree = shapely.STRtree([body.plan for _, body in others])
    noted = []
    for space in spaces:
        notes = []
        for i in sorted(tree.query(space.body.plan, predicate="intersects").tolist()):
            name, body = others[i]
            common = shapely.intersection(space.body.plan, body.plan)
            if _shared_height(space.body, body) > tolerance.GAP and not _is_touch(common):
                notes.append(f"{name} lies in it by {common.area / 1e6:.2f} m² in plan")
        noted.append(replace(space, notes=(*space.notes, *notes)) if notes else space)
    return tuple(noted)


def _shared_height(one: Body, two: Body) -> float:
    return min(one.top, two.top) - max(one.floor, two.floor)


def _is_touch(common: shapely.Geometry) -> bool:
    """Whether two plans only touch, or overlap by drawing noise."""
    return bool(shapely.buffer(common, -tolerance.GAP).is_empty)


def _overlapping(spaces: Sequence[Space]) -> list[tuple[int, int]]:
    """Index pairs of spaces that share volume: plan and height."""
    plans = np.asarray([s.body.plan for s in spaces], dtype=object)
    first, second = shapely.STRtree(plans).query(plans, predicate="intersects")
    ahead = first < second
    first, second = first[ahead], second[ahead]
    floors, tops = np.array([s.floor for s in spaces]), np.array([s.top for s in spaces])
    shared = np.minimum(tops[first], tops[second]) - np.maximum(floors[first], floors[second])
    met = shared > tolerance.GAP
    return sorted(zip(first[met].tolist(), second[met].tolist(), strict=True))


def _is_one_room(one: Space, two: Space) -> bool:
    if one.storey_key != two.storey_key:
        return False
    lower = min(one.top - one.floor, two.top - two.floor)
    if _shared_height(one.body, two.body) <= 0.5 * lower:
        return False
    small, large = sorted((one.body.plan, two.body.plan), key=lambda p: float(p.area))
    if small.area <= MOST * large.area:
        return False
    if shapely.intersection(small, large).area < COVERED * small.area:
        return False
    rest = shapely.difference(large, small)
    # Mitred, so that a corner of the strip counts as its width and not as its diagonal.
    return bool(rest.buffer(-0.5 * THICKEST_WALL, join_style="mitre").is_empty)


def _find(leader: list[int], i: int) -> int:
    while leader[i] != i:
        leader[i] = leader[leader[i]]
        i = leader[i]
    return i


def _join(leader: list[int], i: int, j: int) -> None:
    a, b = _find(leader, i), _find(leader, j)
    leader[max(a, b)] = min(a, b)


def _overlap_notes(
    spaces: Sequence[Space], pairs: list[tuple[int, int]], kept_of: dict[int, int]
) -> dict[int, list[str]]:
    notes: dict[int, list[str]] = defaultdict(list)
    for i, j in pairs:
        if kept_of[i] != i or kept_of[j] != j:
            continue
        common = shapely.intersection(spaces[i].body.plan, spaces[j].body.plan)
        if _is_touch(common):
            continue
        for a, b in ((i, j), (j, i)):
            notes[a].append(f"overlaps {_called(spaces[b])} by {common.area / 1e6:.2f} m² in plan")
    return notes


def _called(space: Space) -> str:
    words = " ".join(dict.fromkeys(w for w in (space.number, space.name) if w))
    return f"{words} ({space.key})" if words else space.key


def _kept(spaces: Sequence[Space], i: int, kept_of: dict[int, int], overlaps: list[str]) -> Space:
    space = spaces[i]
    others = tuple(sorted(spaces[j].key for j, k in kept_of.items() if k == i and j != i))
    notes = [*space.notes]
    if others:
        notes.append(
            f"the model holds this room {len(others) + 1} times; the space with the smallest plan was kept"
        )
    return replace(space, notes=(*notes, *overlaps), also=others)


def _set_aside(space: Space, kept: Space) -> SkippedRoom:
    return SkippedRoom(
        key=space.key,
        name=space.name,
        number=space.number,
        storey=space.storey,
        status="skipped",
        reason=f"same room as {_called(kept)}",
    )
