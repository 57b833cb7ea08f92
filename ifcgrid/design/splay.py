"""Splay wires and posts of brace sets: which way they go so that nothing is in their way.

The four wires of a set leave the main at right angles to each other in plan. A set may be
turned as a whole, each of its wires may be flatter than the limit, and the set may stand a
little beside the crossing of main and cross runner; the first way that is clear is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import BracingRules
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import DEVICES, SERVICES, STRUCTURE, Kind, Obstacle
from ifcgrid.domain.segments import gaps_between, meets_at, triangles_of

__all__ = ["Anchors", "Surroundings", "find_anchors"]

Points = NDArray[np.float64]

TURNS = (0.0, 45.0, 30.0, 60.0, 15.0, 75.0)
"""Angles in degrees from the mains of a set's first wire, in the order of preference (our choice)."""

FLATTER = (0.0, 7.5, 15.0)
"""Degrees by which a wire may be flatter than the limit, in the order of preference (our choice)."""

POST_CLEARANCE = 25.0
"""Distance in mm of a post's axis from what it passes: half of a slender post (our choice)."""

WIRE_CLEARANCE = 5.0
"""Distance in mm of a wire from walls, columns and devices that it passes (our choice)."""

FARTHEST = 12000.0
"""Structure farther than this along a wire, in mm, is not looked at."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Anchors:
    """Where the sets at some points end; arrays as in `Braces`.

    `offset` (n,) is how far along the main each stands from its crossing; `missing` (n,)
    counts of the five parts those that found no clear way.
    """

    offset: Points
    post_top: Points
    wire_top: Points
    support: tuple[tuple[str, ...], ...]
    missing: NDArray[np.int64]


class _Faces:
    """Triangles of some obstacles with an index in plan."""

    def __init__(self, obstacles: Sequence[Obstacle], clearance: Sequence[float]) -> None:
        faces = [triangles_of(o) for o in obstacles]
        self.triangles = np.concatenate([np.empty((0, 3, 3)), *faces])
        self.owner = np.repeat(np.arange(len(obstacles)), [len(f) for f in faces])
        self.clearance = np.asarray(clearance, dtype=float)[self.owner]
        plan = self.triangles[:, :, :2]
        low, high = plan.min(axis=1), plan.max(axis=1)
        self._tree = shapely.STRtree(np.asarray(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])))

    def near(self, start: Points, end: Points, reach: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Pairs (segment, triangle) that come within reach of each other in plan."""
        if len(self.triangles) == 0 or len(start) == 0:
            return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
        lines = np.asarray(shapely.linestrings(np.stack([start[:, :2], end[:, :2]], axis=1)))
        segment, face = self._tree.query(lines, predicate="dwithin", distance=reach + tolerance.LENGTH)
        return segment.astype(np.int64), face.astype(np.int64)


class Surroundings:
    """Structure, services and everything else about one zone, prepared for many questions."""

    def __init__(self, obstacles: Sequence[Obstacle], rules: BracingRules) -> None:
        carrying = [o for o in obstacles if o.kind in STRUCTURE]
        passed = [o for o in obstacles if o.kind in SERVICES | DEVICES | {Kind.WALL, Kind.COLUMN}]
        gaps = [rules.clearance if o.kind in SERVICES else WIRE_CLEARANCE for o in passed]
        self.keys = [o.key for o in carrying]
        self._structure = _Faces(carrying, [0.0] * len(carrying))
        self._others = _Faces(passed, gaps)

    @property
    def has_structure(self) -> bool:
        """Whether there is anything to be fixed to."""
        return bool(self.keys)

    def meet(self, start: Points, step: Points) -> tuple[Points, NDArray[np.int64]]:
        """Where (n, 3) lines from `start` along unit `step` first meet structure, and whose it is.

        NaN and -1 where they meet nothing.
        """
        end = start + step * FARTHEST
        line, face = self._structure.near(start, end, 0.0)
        t = meets_at(start[line], step[line], self._structure.triangles[face])
        order = np.lexsort((self._structure.owner[face], t, line))
        hit, first = np.unique(line[order], return_index=True)
        length = np.full(len(start), np.inf)
        owner = np.full(len(start), -1, dtype=np.int64)
        length[hit] = t[order][first]
        owner[hit] = self._structure.owner[face][order][first]
        is_met = length <= FARTHEST
        tops = np.where(is_met[:, None], start + step * np.where(is_met, length, 0.0)[:, None], np.nan)
        return tops, np.where(is_met, owner, -1)

    def are_clear(self, start: Points, end: Points, least: float | None = None) -> NDArray[np.bool_]:
        """Whether segments (n, 3) keep their distance from all that does not carry them.

        `least` in mm goes for everything; by default services have the rules' clearance.
        """
        reach = float(self._others.clearance.max(initial=0.0)) if least is None else least
        line, face = self._others.near(start, end, reach)
        gaps = gaps_between(start[line], end[line], self._others.triangles[face])
        wanted = self._others.clearance[face] if least is None else least
        clear = np.ones(len(start), dtype=bool)
        clear[line[gaps < wanted - tolerance.LENGTH]] = False
        return clear


def find_anchors(
    nodes: Points, z: float, frame: Frame, surroundings: Surroundings, rules: BracingRules
) -> Anchors:
    """Wires and post of a set at each local node (n, 2), from the top of its main at model height z.

    Where no way is clear for all parts of a set, the one that leaves the fewest missing.
    """
    best = _nothing(len(nodes))
    if not surroundings.has_structure:
        return _named(best, surroundings.keys)
    half = rules.node_reach / 2
    for offset in (0.0, half, -half, 2 * half, -2 * half):
        pending = np.flatnonzero(best.missing > 0)
        for turn in TURNS:
            if len(pending) == 0:
                break
            feet = nodes[pending] + (offset, 0.0)
            tried = _try(feet, z, frame, turn, surroundings, rules)
            better = tried.missing < best.missing[pending]
            _keep(best, pending[better], offset, tried, better)
            # Turning a set does not help its post: where that is in the way one turn is enough.
            pending = pending[(tried.owner[:, 0] >= 0) & (best.missing[pending] > 0)]
    return _named(best, surroundings.keys)


@dataclass(slots=True)
class _Tried:
    offset: Points
    post_top: Points
    wire_top: Points
    owner: NDArray[np.int64]
    missing: NDArray[np.int64]


def _nothing(count: int) -> _Tried:
    return _Tried(
        np.zeros(count),
        np.full(count, np.nan),
        np.full((count, 4, 3), np.nan),
        np.full((count, 5), -1, dtype=np.int64),
        np.full(count, 6, dtype=np.int64),
    )


def _keep(
    best: _Tried, at: NDArray[np.intp], offset: float, tried: _Tried, chosen: NDArray[np.bool_]
) -> None:
    best.offset[at] = offset
    best.post_top[at], best.wire_top[at] = tried.post_top[chosen], tried.wire_top[chosen]
    best.owner[at], best.missing[at] = tried.owner[chosen], tried.missing[chosen]


def _named(found: _Tried, keys: Sequence[str]) -> Anchors:
    names = np.array([*keys, ""], dtype=object)
    return Anchors(
        offset=found.offset,
        post_top=found.post_top,
        wire_top=found.wire_top,
        support=tuple(tuple(map(str, row)) for row in names[found.owner].tolist()),
        missing=np.minimum(found.missing, 5),
    )


def _try(
    feet: Points, z: float, frame: Frame, turn: float, surroundings: Surroundings, rules: BracingRules
) -> _Tried:
    """The sets at local feet (n, 2), their first wires turned from the mains."""
    found = _nothing(len(feet))
    start = np.column_stack([frame.to_world(feet), np.full(len(feet), z)])
    up = np.broadcast_to((0.0, 0.0, 1.0), start.shape)
    tops, owner = surroundings.meet(start, up)
    is_good = owner >= 0
    is_good[is_good] = surroundings.are_clear(start[is_good], tops[is_good], POST_CLEARANCE)
    found.post_top = np.where(is_good, tops[:, 2], np.nan)
    found.owner[:, 0] = np.where(is_good, owner, -1)
    for wire in range(4):
        angle = np.radians(frame.angle_deg + turn + 90.0 * wire)
        for flatter in FLATTER:
            pending = np.flatnonzero(found.owner[:, 1 + wire] < 0)
            rise = np.radians(rules.splay_deg - flatter)
            step = np.array(
                [np.cos(angle) * np.cos(rise), np.sin(angle) * np.cos(rise), np.sin(rise)]
            ) * np.ones((len(pending), 1))
            tops, owner = surroundings.meet(start[pending], step)
            is_good = owner >= 0
            is_good[is_good] = surroundings.are_clear(start[pending][is_good], tops[is_good])
            at = pending[is_good]
            found.wire_top[at, wire, :2] = frame.to_local(tops[is_good, :2])
            found.wire_top[at, wire, 2] = tops[is_good, 2]
            found.owner[at, 1 + wire] = owner[is_good]
    found.missing = (found.owner < 0).sum(axis=1)
    return found
