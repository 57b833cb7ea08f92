"""Least numbers of bars that no plan can undercut, without a linear program.

Volume: the parts' costs over a bar's. Large parts: those over a threshold cannot share a
bar; the second bound of Martello and Toth, Lower bounds and reduction procedures for the
bin packing problem, Discrete Applied Mathematics 28 (1990).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ifcgrid.design.cutting.sorts import Instance

__all__ = ["quick_bound"]


def quick_bound(instance: Instance, counts: Sequence[int] | None = None) -> tuple[int, str]:
    """The greatest of the quick bounds and its name."""
    wanted = instance.counts if counts is None else counts
    cost = np.repeat([s.cost for s in instance.sorts], wanted).astype(np.int64)
    if not len(cost):
        return 0, "nothing to cut"
    volume = -(-int(cost.sum()) // instance.capacity)
    ends = sum(n for s, n in zip(instance.sorts, wanted, strict=True) if s.ends)
    found = [
        (volume, "total length"),
        (_large_parts(cost, instance.capacity), "long parts"),
        (-(-ends // instance.end_parts), "factory ends"),
    ]
    return max(found, key=lambda b: b[0])


def _large_parts(cost: np.ndarray[tuple[int], np.dtype[np.int64]], capacity: int) -> int:
    """The bound of Martello and Toth over all thresholds."""
    cost = np.sort(cost)
    total = np.concatenate([[0], np.cumsum(cost)])
    thresholds = np.unique(np.concatenate([[0], cost[2 * cost <= capacity]]))
    half = int(np.searchsorted(cost, capacity // 2, side="right"))  # parts over half a bar start here
    above = np.searchsorted(cost, capacity - thresholds, side="right")  # these share with nothing small
    above = np.maximum(above, half)
    alone = len(cost) - above
    shared = above - half
    low = np.searchsorted(cost, thresholds, side="left")
    small = total[half] - total[np.minimum(low, half)]
    room_left = shared * capacity - (total[above] - total[half])
    more = np.maximum(0, -(-(small - room_left) // capacity))
    return int((alone + shared + more).max())
