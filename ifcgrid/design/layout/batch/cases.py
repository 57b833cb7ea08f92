"""Rooms seen along possible grids: one case for each room, direction and cell size, all in flat arrays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.layout.batch.holds import Holds
from ifcgrid.design.layout.ragged import firsts, fold, pair_up, sum_up
from ifcgrid.design.layout.seats import HeldPoint, see_seats
from ifcgrid.design.layout.walls import Edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = ["Cases", "Directions", "Request", "see_cases", "set_in_line", "share_ways"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]

Directions = Sequence[tuple[float, tuple[int, ...]]]
"""Directions modulo 90 degrees, each with the ways of the mains that are allowed in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One room to be laid out: what `solve_layout` takes, without what all rooms share."""

    outline: Polygon
    key: str = ""
    fixtures: Sequence[Polygon] = ()
    points: Sequence[HeldPoint] = ()
    angles: Sequence[float] | None = None
    lines: Sequence[HeldLine] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cases:
    """What is searched: cases numbered from 0, those of a room one after the other.

    `room` (c,) is the number of the room, `ways` the ways of the mains that share the case:
    way 0 runs them along x, way 1 along y (then v is minus x). `module`, `minimum`, `span`
    (c, 2) along x and y; each case's least x and y are 0, at `origin` (c, 2) of the model,
    its x axis at `angle` (c,). `edges` are in those axes, `edge_case` numbers their case;
    each case has `edge_count` (c,) of them. `holds` has the devices in both directions of
    those cases that have any. `is_rectilinear` (c,): all walls run along the grid; corners
    that are less than the tolerance out of line have then been set in line. `kept` names
    offsets that are given and not searched, by case and axis.
    """

    policy: Policy
    every: int
    room: _Ints
    ways: tuple[tuple[int, ...], ...]
    module: _Floats
    minimum: _Floats
    origin: _Floats
    angle: _Floats
    span: _Floats
    area: _Floats
    edges: Edges
    edge_case: _Ints
    edge_count: _Ints
    holds: dict[int, tuple[Holds, Holds]]
    is_rectilinear: _Bools
    kept: dict[tuple[int, int], float] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.room)

    def frame(self, case: int) -> Frame:
        """A case's axes."""
        x, y = self.origin[case].tolist()
        return Frame(x=x, y=y, angle_deg=float(self.angle[case]))

    def to_world(self, case: _Ints, points: _Floats) -> _Floats:
        """Model coordinates (n, 2) of points (n, 2) in the axes of their cases (n,)."""
        return self.origin[case] + _rotated(points, self.angle[case])

    def first_line(self, case: _Ints, axis: int, offset: _Floats, mirrored: _Bools) -> _Floats:
        """Place (n,) of line 0, the last one at or before the least coordinate (of the mirrored axis)."""
        module = self.module[case, axis]
        place = np.where(mirrored, self.span[case, axis] - offset, offset)
        rest = np.mod(place, module)
        first: _Floats = np.where(rest <= tolerance.LENGTH, rest, rest - module)
        return first


def see_cases(
    edges: Edges,
    owner: _Ints,
    requests: Sequence[Request],
    directions: Sequence[Directions],
    system: GridSystem,
    policy: Policy,
) -> Cases:
    """The cases of rooms in their directions; `owner` (n,) numbers the room of each edge."""
    rows = [
        (room, angle, group)
        for room, (own, request) in enumerate(zip(directions, requests, strict=True))
        for angle, ways in own
        for group in _groups(ways, system, policy, has_devices=bool(request.fixtures or request.points))
    ]
    room = np.array([row[0] for row in rows], dtype=np.int64)
    angle = np.array([row[1] for row in rows], dtype=float)
    turned = np.array([row[2][0] == 1 for row in rows], dtype=bool)
    module = np.where(turned[:, None], (system.across, system.along), (system.along, system.across))
    minimum = {m: float(policy.minimum(m)) for m in (system.along, system.across)}
    least = np.where(module == system.along, minimum[system.along], minimum[system.across])
    sizes = np.bincount(owner, minlength=len(requests))
    case, edge = pair_up(room, firsts(sizes), sizes)
    local, origin = _turn(edges, case, edge, angle)
    counts = sizes[room]
    run = np.abs(local.end - local.start).min(axis=1)
    straight = fold(np.maximum, run, counts, 0.0) <= tolerance.LENGTH
    local, shift = set_in_line(local, case, straight, len(rows))
    origin = origin + _rotated(shift, angle)
    areas = shapely.area(np.array([r.outline for r in requests], dtype=object))
    return Cases(
        policy=policy,
        every=system.main_every,
        room=room,
        ways=tuple(row[2] for row in rows),
        module=module.astype(float),
        minimum=least,
        origin=origin,
        angle=angle,
        span=np.stack([fold(np.maximum, local.start[:, k], counts, 0.0) for k in (0, 1)], axis=1),
        area=areas[room],
        edges=local,
        edge_case=case,
        edge_count=counts,
        holds=_see_holds(requests, room, origin, angle),
        is_rectilinear=straight,
    )


def share_ways(ways: tuple[int, ...], policy: Policy, *, has_devices: bool) -> list[tuple[int, ...]]:
    """Ways of the mains on square cells by cases: together when only the mains tell them apart."""
    mains_last = Term.MAINS not in policy.terms or policy.terms[-1] is Term.MAINS
    return [ways] if mains_last and not has_devices else [(way,) for way in ways]


def _groups(
    ways: tuple[int, ...], system: GridSystem, policy: Policy, *, has_devices: bool
) -> list[tuple[int, ...]]:
    if system.along != system.across:
        return [(way,) for way in ways]
    return share_ways(ways, policy, has_devices=has_devices)


def _cosines(angle: _Floats) -> tuple[_Floats, _Floats]:
    radians = [math.radians(a) for a in angle.tolist()]
    return np.array([math.cos(a) for a in radians]), np.array([math.sin(a) for a in radians])


def _rotated(points: _Floats, angle: _Floats) -> _Floats:
    """Points (n, 2) turned counter-clockwise, each by its angle in degrees."""
    c, s = _cosines(angle)
    x, y = points.T
    return np.stack([c * x - s * y, s * x + c * y], axis=1)


def _turn(edges: Edges, case: _Ints, edge: _Ints, angle: _Floats) -> tuple[Edges, _Floats]:
    """Edges of all cases in the cases' axes with their least x and y at 0, and where that is."""
    counts = np.bincount(case, minlength=len(angle))
    c, s = (values[case] for values in _cosines(angle))
    corner = edges.start[edge[firsts(counts)]]  # any corner of the room: it only keeps the numbers small
    ends = []
    for points in (edges.start[edge], edges.end[edge]):
        x, y = (points - corner[case]).T
        ends.append(np.stack([c * x + s * y, c * y - s * x], axis=1))
    least = np.stack([fold(np.minimum, ends[0][:, k], counts, 0.0) for k in (0, 1)], axis=1)
    local = Edges(
        start=ends[0] - least[case],
        end=ends[1] - least[case],
        ring=edges.ring[edge],
        index=edges.index[edge],
        is_reversed=edges.is_reversed[edge],
        is_curve=edges.is_curve[edge],
    )
    return local, corner + _rotated(least, angle)


def set_in_line(edges: Edges, case: _Ints, straight: _Bools, count: int) -> tuple[Edges, _Floats]:
    """Coordinates no further apart than the tolerance made equal in straight cases, least ones at 0.

    Rounding of a model and noise of turning it would otherwise tell places apart that no
    tape measure can. Returns also how far each case's least corner has moved (cases, 2).
    """
    ends = np.stack([edges.start, edges.end])
    counts, chosen = np.bincount(case, minlength=count), straight[case]
    moved = np.zeros((count, 2))
    if not chosen.any():
        return edges, moved
    for axis in (0, 1):
        values, owner = ends[:, chosen, axis].ravel(), np.tile(case[chosen], 2)
        order = np.lexsort((values, owner))
        begins = np.ones(len(values), dtype=bool)
        begins[1:] = (np.diff(values[order]) > tolerance.LENGTH) | (np.diff(owner[order]) != 0)
        group = np.cumsum(begins) - 1
        # Counted from the group's first, so that places that agree stay where they are.
        first = values[order][begins]
        mean = first + sum_up(group, values[order] - first[group], len(first)) / np.bincount(group)
        snapped = np.empty(len(values))
        snapped[order] = mean[group]
        ends[:, chosen, axis] = snapped.reshape(2, -1)
        moved[:, axis] = np.where(straight, fold(np.minimum, ends[0, :, axis], counts, 0.0), 0.0)
        ends[:, :, axis] -= moved[case, axis]
    return replace(edges, start=ends[0], end=ends[1]), moved


def _see_holds(
    requests: Sequence[Request], room: _Ints, origin: _Floats, angle: _Floats
) -> dict[int, tuple[Holds, Holds]]:
    found = {}
    for case, owner in enumerate(room.tolist()):
        request = requests[owner]
        if not (request.fixtures or request.points):
            continue
        x, y = origin[case].tolist()
        frame = Frame(x=x, y=y, angle_deg=float(angle[case]))
        boxes = np.array([_box(frame, f) for f in request.fixtures]).reshape(-1, 4)
        seats = see_seats(request.points, frame)
        found[case] = (
            Holds(boxes=boxes[:, [0, 2]], seats=seats[0]),
            Holds(boxes=boxes[:, [1, 3]], seats=seats[1]),
        )
    return found


def _box(frame: Frame, shape: Polygon) -> _Floats:
    points = frame.to_local(np.asarray(shape.exterior.coords)[:, :2])
    return np.concatenate([points.min(axis=0), points.max(axis=0)])
