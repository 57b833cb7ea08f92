"""Pieces of one service as one cause: a run of duct is one thing to a coordinator."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely

from ifcgrid.domain.obstacle import SERVICES, Kind, Obstacle

__all__ = ["group_runs"]


def group_runs(obstacles: Sequence[Obstacle], gap: float) -> list[list[int]]:
    """Indices of obstacles in runs: of one kind, and no farther apart than a gap in plan and height.

    What is no service is one run with all of its kind: beams that are too low are one cause.
    """
    leader = list(range(len(obstacles)))

    def find(i: int) -> int:
        while leader[i] != i:
            i = leader[i]
        return i

    first_of: dict[Kind, int] = {}
    pairs: list[tuple[int, int]] = []
    for i, obstacle in enumerate(obstacles):
        if obstacle.kind not in SERVICES:
            pairs.append((first_of.setdefault(obstacle.kind, i), i))
    outlines = np.array([o.outline for o in obstacles], dtype=object)
    near = shapely.STRtree(outlines).query(outlines, predicate="dwithin", distance=gap)
    pairs += [(a, b) for a, b in near.T.tolist() if a < b and _is_joined(obstacles[a], obstacles[b], gap)]
    for a, b in pairs:
        one, other = sorted((find(a), find(b)))
        leader[other] = one
    runs: dict[int, list[int]] = defaultdict(list)
    for i in range(len(obstacles)):
        runs[find(i)].append(i)
    return [runs[k] for k in sorted(runs)]


def _is_joined(one: Obstacle, other: Obstacle, gap: float) -> bool:
    return one.kind is other.kind and one.bottom <= other.top + gap and other.bottom <= one.top + gap
