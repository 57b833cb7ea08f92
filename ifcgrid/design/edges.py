"""How a grid that has to bear earthquakes ends at its walls: held at two, free at the others.

Source of the numbers: `ifcgrid.domain.bracing`. Each direction gets one end that is attached
and one that rests on the wall angle with a gap (ASCE 7-05 13.5.6.2.2 b); at most two
adjacent walls are attached (plan sheet filed with San Joaquin County, note 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from ifcgrid.design.field import Field, see_field
from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import BracingRules, PerimeterWall, Stabilisers
from ifcgrid.domain.ceiling import Members, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone

__all__ = ["find_perimeter", "place_stabilisers", "shorten_members"]

SQUARE = 0.7
"""Least sine of the angle between two attached walls: about 45 degrees (our choice)."""

FACING = 0.3
"""Least share of a runner's direction across a wall for it to end there, not to run along it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wall:
    """Edges of the outer ring that go straight on: their indices in the field, first and last corner."""

    edges: tuple[int, ...]
    start: NDArray[np.float64]
    end: NDArray[np.float64]

    @property
    def length(self) -> float:
        return float(np.hypot(*(self.end - self.start)))

    @property
    def direction(self) -> NDArray[np.float64]:
        unit: NDArray[np.float64] = (self.end - self.start) / self.length
        return unit


def find_perimeter(
    zone: Zone, layout: Layout, parts: Sequence[Polygon], rules: BracingRules
) -> tuple[PerimeterWall, ...]:
    """How the grid of each part (local) ends at each wall that the part has.

    The two adjacent walls with the greatest length together are attached: such that stand
    about square to each other at an outside corner of the part, else any two that meet.
    """
    field = see_field(zone, layout)
    walls: list[PerimeterWall] = []
    for number, part in enumerate(parts):
        own = _edges_of(field, part)
        held = _attached(field, own) if rules.is_attached else frozenset()
        walls += [
            PerimeterWall(
                part=number,
                ring=int(field.ring[k]),
                edge=int(field.edge[k]),
                is_attached=k in held,
                gap=0.0 if k in held else rules.free_gap,
            )
            for k in own
        ]
    return tuple(sorted(walls, key=lambda w: (w.part, w.ring, w.edge)))


def _edges_of(field: Field, part: Polygon) -> list[int]:
    """The edges of the field that a part lies along, in their order."""
    lines = np.asarray(shapely.linestrings(np.stack([field.start, field.end], axis=1)))
    rim = part.boundary.buffer(2 * tolerance.LENGTH)
    shared = np.asarray(shapely.length(shapely.intersection(lines, rim)))
    long_enough = np.hypot(*(field.end - field.start).T) >= tolerance.SHORTEST_MEMBER
    return np.flatnonzero((shared >= tolerance.SHORTEST_MEMBER) & long_enough).tolist()


def _attached(field: Field, own: Sequence[int]) -> frozenset[int]:
    walls = _walls(field, [k for k in own if field.ring[k] == 0])
    pairs = [
        (_is_square(one, other), one.length + other.length, number)
        for number, (one, other) in enumerate(pairwise([*walls, walls[0]] if walls else []))
        if one is not other and np.hypot(*(one.end - other.start)) <= tolerance.SHORTEST_EDGE
    ]
    if not pairs:
        return frozenset(max(walls, key=lambda w: w.length).edges) if walls else frozenset()
    _, _, number = max(pairs, key=lambda p: (p[0], round(p[1], 3), -p[2]))
    following = (number + 1) % len(walls)
    return frozenset((*walls[number].edges, *walls[following].edges))


def _is_square(one: _Wall, other: _Wall) -> bool:
    """Whether two walls meet at an outside corner at 45 degrees or more; the room is on their left."""
    a, b = one.direction, other.direction
    return float(a[0] * b[1] - a[1] * b[0]) >= SQUARE


def _walls(field: Field, edges: Sequence[int]) -> list[_Wall]:
    """Straight walls along the ring; edges in the order in which one goes round with the room on the left."""
    order = _round(field, edges)
    numbers, wall = {}, 0
    for before, k in pairwise([order[0], *order] if order else []):
        if k != order[0] and not _goes_on(field, before, k):
            wall += 1
        numbers[k] = wall
    grouped = [list(g) for _, g in groupby(order, key=lambda k: numbers[k])]
    if len(grouped) > 1 and _goes_on(field, grouped[-1][-1], grouped[0][0]):
        grouped[0] = grouped.pop() + grouped[0]
    return [_Wall(edges=tuple(g), start=field.start[g[0]], end=field.end[g[-1]]) for g in grouped]


def _round(field: Field, edges: Sequence[int]) -> list[int]:
    """Edges of the outer ring in the order in which one goes round with the room on the left."""
    ring = np.flatnonzero(field.ring == 0)
    gaps = np.hypot(*(field.end[ring[:-1]] - field.start[ring[1:]]).T)
    return sorted(edges, reverse=bool(gaps.max(initial=0.0) > tolerance.SHORTEST_EDGE))


def _goes_on(field: Field, one: int, other: int) -> bool:
    a, b = field.end[one] - field.start[one], field.end[other] - field.start[other]
    meet = np.hypot(*(field.end[one] - field.start[other])) <= tolerance.SHORTEST_EDGE
    turn = abs(float(a[0] * b[1] - a[1] * b[0])) / float(np.hypot(*a) * np.hypot(*b))
    return bool(meet and turn <= np.sin(np.radians(tolerance.ANGLE_DEG)) and float(a @ b) > 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ends:
    """Ends of runners at free walls: the member (n,), which end (0, 1), the edge, its part, the gap."""

    member: NDArray[np.int64]
    side: NDArray[np.int64]
    edge: NDArray[np.int64]
    gap: NDArray[np.float64]


def _free_ends(
    members: Members, field: Field, parts: Sequence[Polygon], perimeter: Sequence[PerimeterWall]
) -> _Ends:
    runners = np.flatnonzero(members.role != Role.WALL_ANGLE)
    points = np.stack([members.start[runners], members.end[runners]])
    along = (points[1] - points[0]) / np.hypot(*(points[1] - points[0]).T)[:, None]
    lines = np.asarray(shapely.linestrings(np.stack([field.start, field.end], axis=1)))
    tree = shapely.STRtree(lines)
    end, edge = tree.query(
        np.asarray(shapely.points(points.reshape(-1, 2))), predicate="dwithin", distance=2 * tolerance.LENGTH
    )
    side, place = np.divmod(end, len(runners))
    unit = (field.end - field.start) / np.hypot(*(field.end - field.start).T)[:, None]
    across = np.abs(unit[edge, 0] * along[place, 1] - unit[edge, 1] * along[place, 0])
    part = _part_at((points[0] + points[1])[place] / 2, parts)
    gap_of = {(w.part, w.ring, w.edge): w.gap for w in perimeter}
    gaps = np.array(
        [
            gap_of.get((p, int(field.ring[e]), int(field.edge[e])), 0.0)
            for p, e in zip(part.tolist(), edge.tolist(), strict=True)
        ]
    ).reshape(-1)
    is_end = across >= FACING
    # At a corner of an attached and a free wall that both face the runner it is attached.
    held = {(m, s) for m, s, g in zip(place[is_end], side[is_end], gaps[is_end], strict=True) if g == 0}
    is_free = (
        is_end & (gaps > 0) & np.array([(m, s) not in held for m, s in zip(place, side, strict=True)], bool)
    )
    return _Ends(
        member=runners[place[is_free]],
        side=side[is_free],
        edge=edge[is_free],
        gap=gaps[is_free] / across[is_free],
    )


def _part_at(points: NDArray[np.float64], parts: Sequence[Polygon]) -> NDArray[np.int64]:
    if len(parts) == 1 or len(points) == 0:
        return np.zeros(len(points), dtype=np.int64)
    spots = np.asarray(shapely.points(points))
    gaps = np.array([shapely.distance(part, spots) for part in parts])
    nearest: NDArray[np.int64] = gaps.argmin(axis=0).astype(np.int64)
    return nearest


def shorten_members(
    members: Members, zone: Zone, layout: Layout, parts: Sequence[Polygon], perimeter: Sequence[PerimeterWall]
) -> Members:
    """Members whose ends at free walls stop a gap short of the wall's face."""
    ends = _free_ends(members, see_field(zone, layout), parts, perimeter)
    start, end = members.start.copy(), members.end.copy()
    cut = np.zeros((2, len(members)))
    np.maximum.at(cut, (ends.side, ends.member), ends.gap)
    # What the gaps would eat up stays: so short a piece is fitted by hand.
    cut[:, members.length - cut.sum(axis=0) < tolerance.SHORTEST_MEMBER] = 0.0
    along = (end - start) / np.maximum(members.length, tolerance.LENGTH)[:, None]
    return replace(members, start=start + along * cut[0][:, None], end=end - along * cut[1][:, None])


def place_stabilisers(
    members: Members,
    zone: Zone,
    layout: Layout,
    parts: Sequence[Polygon],
    perimeter: Sequence[PerimeterWall],
    rules: BracingRules,
) -> Stabilisers:
    """Bars that tie the ends of runners at each free wall to their neighbours.

    `members` reach the walls (not shortened yet). A bar lies at three quarters of
    `bar_within` from the wall's face. Walls whose first parallel runner is at most `bar_free`
    away need none.
    """
    field = see_field(zone, layout)
    ends = _free_ends(members, field, parts, perimeter)
    rows: list[tuple[int, int, int, NDArray[np.float64], NDArray[np.float64]]] = []
    for k in np.unique(ends.edge).tolist():
        if _first_parallel(members, field, k) <= rules.bar_free + tolerance.LENGTH:
            continue
        own = ends.edge == k
        spots = _spots(members, field, k, ends.member[own], ends.side[own], 0.75 * rules.bar_within)
        reach = 2.0 * max(layout.along, layout.across)
        pairs = [(a, b) for a, b in pairwise(spots) if np.hypot(*(b - a)) <= reach]
        ring, edge = int(field.ring[k]), int(field.edge[k])
        rows += [(ring, edge, number, a, b) for number, (a, b) in enumerate(pairs)]
    rows.sort(key=lambda r: r[:3])
    return Stabilisers(
        ring=np.array([r[0] for r in rows], dtype=np.int32),
        edge=np.array([r[1] for r in rows], dtype=np.int32),
        number=np.array([r[2] for r in rows], dtype=np.int32),
        start=np.array([r[3] for r in rows]).reshape(-1, 2),
        end=np.array([r[4] for r in rows]).reshape(-1, 2),
    )


def _spots(
    members: Members,
    field: Field,
    edge: int,
    member: NDArray[np.int64],
    side: NDArray[np.int64],
    inset: float,
) -> list[NDArray[np.float64]]:
    """Where the bar meets the runners that end at an edge, in order along it; too short ones are left out."""
    at, far = members.start[member].copy(), members.end[member].copy()
    turned = side == 1
    at[turned], far[turned] = members.end[member[turned]], members.start[member[turned]]
    unit = _unit(field, edge)
    normal = np.array([-unit[1], unit[0]])
    depth = (far - at) @ normal
    reaches = depth > inset + tolerance.LENGTH
    share = np.where(reaches, inset / np.where(reaches, depth, 1.0), 0.0)
    spots = (at + share[:, None] * (far - at))[reaches]
    places = spots @ unit
    return [spots[k] for k in np.argsort(places, kind="stable")]


def _unit(field: Field, edge: int) -> NDArray[np.float64]:
    step = field.end[edge] - field.start[edge]
    unit: NDArray[np.float64] = step / np.hypot(*step)
    return unit


def _first_parallel(members: Members, field: Field, edge: int) -> float:
    """Distance of the nearest runner along a wall from its face, infinite where there is none."""
    runners = members.role != Role.WALL_ANGLE
    start, end = members.start[runners], members.end[runners]
    unit = _unit(field, edge)
    step = end - start
    turn = np.abs(step @ np.array([-unit[1], unit[0]])) / np.hypot(*step.T)
    distance = (start - field.start[edge]) @ np.array([-unit[1], unit[0]])
    low, high = np.sort(np.stack([(p - field.start[edge]) @ unit for p in (start, end)]), axis=0)
    length = LineString([field.start[edge], field.end[edge]]).length
    beside = (turn < FACING) & (distance > tolerance.LENGTH) & (low < length) & (high > 0)
    return float(distance[beside].min(initial=np.inf))
