"""Which member carries what: loads in a plan are handed to the members on both sides of them.

A load between two parallel members goes to each by the lever rule, as a tee that spans
from one to the other would hand it on. Beside a wall it goes to the one member alone: a
wall angle counts as carrying nothing (City of Daly City, brochure b18; TSIB bulletin
40.101 on ASTM E580 5.2.1), so the members carry the whole weight. What the wall angle
would take by the lever rule is told by `rests_on_walls`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from ifcgrid.domain import tolerance
from ifcgrid.domain.beam import Patches

__all__ = ["Items", "Runs", "hand_over", "join_items", "rests_on_walls"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Items:
    """Loads in the plan. `middle` (n, 2) centroid; `low`, `high` (n, 2) their bounds; mm and N.

    `area` (n,) mm² is what of the ceiling's area they stand for; `shift` (n,) how far across
    the lines of their row lie from where those of an unshifted row would.
    """

    middle: _Floats
    low: _Floats
    high: _Floats
    force: _Floats
    area: _Floats
    shift: _Floats | float = 0.0

    def __len__(self) -> int:
        return len(self.force)


def join_items(parts: list[Items]) -> Items:
    """All items of several lists."""
    return Items(
        **{
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ("middle", "low", "high", "force", "area")
        }
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Parallel members. `line` (r,) int; `at` (r,) their place across; `start`, `end` (r,) along.

    `shift` (r,) is how far they lie across from where they would in an unshifted row.
    """

    line: NDArray[np.int64]
    at: _Floats
    start: _Floats
    end: _Floats
    shift: _Floats | float = 0.0

    def __len__(self) -> int:
        return len(self.line)

    def covering(self, line: NDArray[np.int64], along: _Floats) -> NDArray[np.int64]:
        """The run of each line (n,) that passes a place along it, -1 where none does."""
        if len(self) == 0 or len(line) == 0:
            return np.full(len(line), -1, dtype=np.int64)
        every = np.concatenate([self.start, self.end, along])
        low, stride = every.min() - 1.0, float(np.ptp(every)) + 2.0
        key = self.line * stride + (self.start - low)
        order = np.argsort(key, kind="stable")
        wanted = line * stride + (along - low) + tolerance.LENGTH
        found = order[np.maximum(np.searchsorted(key[order], wanted, side="right") - 1, 0)]
        fits = (self.line[found] == line) & (self.start[found] <= along + tolerance.LENGTH)
        fits &= self.end[found] >= along - tolerance.LENGTH
        return np.where(fits, found, -1)


def hand_over(items: Items, runs: Runs, axis: int, *, far: bool) -> tuple[Patches, _Floats, _Floats]:
    """Loads of the members, as patches along them.

    Args:
        items: what is to be carried.
        runs: the members, along local axis `axis`.
        axis: 0 for members along u, 1 for members along v.
        far: whether what no neighbouring member passes goes to the nearest one all the same.

    Returns:
        Patches with `beam` the index of the run; the area (p,) that each stands for; the
        force (n,) of each item that no member took.
    """
    count = len(items)
    if len(runs) == 0 or count == 0:
        return _no_patches(), np.empty(0), items.force.copy()
    below, over = _neighbours(items, runs, axis)
    share = _share_over(runs, items.middle[:, 1 - axis], below, over)
    lost = (below < 0) & (over < 0)
    if far and lost.any():
        below[lost] = _nearest(runs, items.middle[lost], axis)
        lost = np.zeros(count, dtype=bool)
    owner = np.concatenate([np.flatnonzero(below >= 0), np.flatnonzero(over >= 0)])
    run = np.concatenate([below[below >= 0], over[over >= 0]])
    part = np.concatenate([1 - share[below >= 0], share[over >= 0]])
    patches = Patches(
        beam=run,
        start=np.clip(items.low[owner, axis], runs.start[run], runs.end[run]),
        end=np.clip(items.high[owner, axis], runs.start[run], runs.end[run]),
        force=items.force[owner] * part,
    )
    return patches, items.area[owner] * part, np.where(lost, items.force, 0.0)


def rests_on_walls(items: Items, runs: Runs, axis: int, boundary: Geometry) -> _Floats:
    """What share (n,) of each item the wall beyond it takes by the lever rule, 0 between two members.

    The first three arguments are those of `hand_over`; `boundary` are the walls, local.
    """
    rest = np.zeros(len(items))
    if len(runs) == 0 or len(items) == 0:
        return rest
    far = float(np.abs(shapely.bounds(boundary)).sum())
    below, over = _neighbours(items, runs, axis)
    for held, other, way in ((below, over, 1.0), (over, below, -1.0)):
        chosen = np.flatnonzero((held >= 0) & (other < 0))
        start = items.middle[chosen]
        end = start.copy()
        end[:, 1 - axis] += way * (far + np.abs(start).sum(axis=1))
        rays = np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))
        reach = shapely.distance(shapely.points(start), shapely.intersection(rays, boundary))
        arm = np.abs(start[:, 1 - axis] - runs.at[held[chosen]])
        rest[chosen] = np.nan_to_num(arm / np.maximum(arm + reach, tolerance.LENGTH))
    return rest


def _neighbours(items: Items, runs: Runs, axis: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The runs (n,) on both sides of each item that pass it, -1 where none does."""
    lines, first = np.unique(runs.line, return_index=True)
    place = (runs.at - runs.shift)[first]
    middle, along = items.middle[:, 1 - axis] - items.shift, items.middle[:, axis]
    above = np.searchsorted(place, middle, side="right")
    sides = []
    for k in (above - 1, above):
        inside = (k >= 0) & (k < len(lines))
        line = lines[np.clip(k, 0, len(lines) - 1)]
        sides.append(np.where(inside, runs.covering(line, along), -1))
    return sides[0], sides[1]


def _no_patches() -> Patches:
    none = np.empty(0)
    return Patches(beam=np.empty(0, dtype=np.int64), start=none, end=none, force=none)


def _share_over(runs: Runs, middle: _Floats, below: NDArray[np.int64], over: NDArray[np.int64]) -> _Floats:
    """What of each load goes to the member over it: the lever rule, all or nothing beside a wall."""
    low, high = runs.at[np.maximum(below, 0)], runs.at[np.maximum(over, 0)]
    gap = high - low
    lever = np.divide(middle - low, gap, out=np.ones_like(middle), where=gap > tolerance.LENGTH)
    share: _Floats = np.where(over < 0, 0.0, np.where(below < 0, 1.0, np.clip(lever, 0.0, 1.0)))
    return share


def _nearest(runs: Runs, middle: _Floats, axis: int) -> NDArray[np.int64]:
    ends = np.empty((len(runs), 2, 2))
    ends[:, 0, axis], ends[:, 1, axis] = runs.start, runs.end
    ends[:, :, 1 - axis] = runs.at[:, None]
    tree = shapely.STRtree(np.asarray(shapely.linestrings(ends)))
    return np.asarray(tree.nearest(np.asarray(shapely.points(middle))), dtype=np.int64)
