"""The best pattern at given worths: a bounded knapsack by dynamic programming."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.cutting.sorts import Instance
from ifcgrid.domain import tolerance

__all__ = ["best_pattern", "quick_pattern"]


def _lots(count: int) -> list[int]:
    """Numbers of which some sum gives each whole number up to count."""
    lots, lot = [], 1
    while count > 0:
        lots.append(min(lot, count))
        count -= lots[-1]
        lot *= 2
    return lots


def best_pattern(
    instance: Instance, worth: NDArray[np.float64], counts: Sequence[int]
) -> tuple[float, dict[int, int]]:
    """The pattern of the greatest worth: its worth and how many of each sort it holds.

    Exact: `table[e, w]` is the best worth of parts that cost at most w, at most e of them
    with a factory end.
    """
    capacity, has_ends = instance.capacity, any(s.ends for s in instance.sorts)
    table = np.zeros((instance.end_parts + 1 if has_ends else 1, capacity + 1))
    steps: list[tuple[int, int, int, int]] = []
    taken: list[NDArray[np.bool_]] = []
    for index, sort in enumerate(instance.sorts):
        most = min(counts[index], capacity // sort.cost, instance.end_parts if sort.ends else capacity)
        if worth[index] <= tolerance.SCORE or most < 1:
            continue
        for lot in _lots(most):
            ends, cost = lot * sort.ends, lot * sort.cost
            if ends >= len(table):
                continue
            offered = table[: len(table) - ends, : capacity + 1 - cost] + lot * worth[index]
            target = table[ends:, cost:]
            better = offered > target
            np.copyto(target, offered, where=better)
            steps.append((index, lot, ends, cost))
            taken.append(better)
    held: dict[int, int] = {}
    e, w = len(table) - 1, capacity
    for (index, lot, ends, cost), better in zip(reversed(steps), reversed(taken), strict=True):
        if e >= ends and w >= cost and better[e - ends, w - cost]:
            held[index] = held.get(index, 0) + lot
            e, w = e - ends, w - cost
    return float(table[-1, capacity]), held


def quick_pattern(
    instance: Instance, worth: NDArray[np.float64], counts: Sequence[int], order: Sequence[int]
) -> tuple[float, dict[int, int]]:
    """A good pattern: sorts taken greedily in the given order."""
    left, ends, total = instance.capacity, instance.end_parts, 0.0
    held: dict[int, int] = {}
    for index in order:
        sort = instance.sorts[index]
        most = min(counts[index], left // sort.cost, ends if sort.ends else left)
        if most > 0 and worth[index] > tolerance.SCORE:
            held[index] = most
            left -= most * sort.cost
            ends -= most * sort.ends
            total += most * float(worth[index])
    return total, held
