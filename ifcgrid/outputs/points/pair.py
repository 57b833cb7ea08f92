"""Check points: a few far apart, with the distances between them that anybody can tape."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.points import PointRole, SetPoint

__all__ = ["CheckDistance", "find_checks"]

MOST = 4
"""Check points of a room with distances in the file: two diagonals and the sides between."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckDistance:
    """Two check points by index in a list of points, and from the first to the second in plan, in mm.

    `distance` is in the plane, `north` and `east` its parts.
    """

    first: int
    second: int
    distance: float
    north: float
    east: float


def find_checks(points: Sequence[SetPoint], site: NDArray[np.float64]) -> tuple[CheckDistance, ...]:
    """Between the check points of each room, as far apart as they can be: three or four a room.

    Where a room has fewer than three corners, corners of its grid stand in for them.

    Args:
        points: all points that are written.
        site: their northing, easting and elevation (n, 3) in mm.
    """
    rooms: dict[str, list[int]] = {}
    for k, point in enumerate(points):
        rooms.setdefault(point.name.rpartition("-")[0], []).append(k)
    found = []
    for members in rooms.values():
        for role in (PointRole.CHECK, PointRole.GRID):
            own = [k for k in members if points[k].role is role]
            if len(own) >= 3:
                chosen = _far_apart(own, site)
                found += [_between(a, b, site) for a, b in combinations(chosen, 2)]
                break
    return tuple(found)


def _far_apart(members: Sequence[int], site: NDArray[np.float64]) -> list[int]:
    """The two farthest apart, then those that are farthest from all that were chosen."""
    plan = site[list(members), :2]
    apart = np.hypot(*(plan[:, None] - plan[None, :]).transpose(2, 0, 1))
    first, second = np.unravel_index(int(np.argmax(np.round(apart, 3))), apart.shape)
    chosen = [int(first), int(second)]
    step = plan[chosen[1]] - plan[chosen[0]]
    aside = np.abs((plan - plan[chosen[0]]) @ np.array([-step[1], step[0]]))
    # The third stands well off the line of the first two, so that mirrored axes show.
    chosen.append(int(np.argmax(np.round(aside, 3))))
    while len(chosen) < min(MOST, len(members)):
        least = np.round(apart[:, chosen].min(axis=1), 3)
        chosen.append(int(np.argmax(least)))
    return [members[k] for k in sorted(set(chosen))]


def _between(a: int, b: int, site: NDArray[np.float64]) -> CheckDistance:
    north, east = (site[b, :2] - site[a, :2]).tolist()
    return CheckDistance(first=a, second=b, distance=math.hypot(north, east), north=north, east=east)
