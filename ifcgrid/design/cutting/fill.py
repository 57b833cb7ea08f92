"""Quick plans: best fit decreasing, and the exact pairing of parts that need a factory end.

A pattern is a tuple of sort indices, one an entry of the bar. Best fit decreasing takes the
longest part first and puts it into the fullest bar that still takes it (Johnson 1973).
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence

from ifcgrid.design.cutting.sorts import Instance

__all__ = ["Pattern", "fill_bars", "pair_ends"]

Pattern = tuple[int, ...]


def fill_bars(instance: Instance, counts: Sequence[int]) -> list[Pattern]:
    """Bars for so many parts of each sort, by best fit decreasing; sorts come by falling cost."""
    # free[e] holds (room left, bar) of the bars that may still take e parts with an end.
    free: list[list[tuple[int, int]]] = [[] for _ in range(instance.end_parts + 1)]
    bars: list[list[int]] = []
    for sort, count in enumerate(counts):
        cost, ends = instance.sorts[sort].cost, instance.sorts[sort].ends
        for _ in range(count):
            level = _fullest(free, cost, ends)
            if level is None:
                bars.append([sort])
                insort(free[instance.end_parts - ends], (instance.capacity - cost, len(bars) - 1))
                continue
            place = bisect_left(free[level], (cost, -1))
            left, bar = free[level].pop(place)
            bars[bar].append(sort)
            insort(free[level - ends], (left - cost, bar))
    return [tuple(bar) for bar in bars]


def _fullest(free: Sequence[list[tuple[int, int]]], cost: int, ends: int) -> int | None:
    """Which list holds the fullest bar that takes the part; None when a new bar must be opened."""
    best: tuple[int, int] | None = None
    for level in range(ends, len(free)):
        place = bisect_left(free[level], (cost, -1))
        if place < len(free[level]) and (best is None or free[level][place][0] < best[0]):
            best = (free[level][place][0], level)
    return None if best is None else best[1]


def pair_ends(lengths: Sequence[float], room: float) -> list[tuple[int, ...]]:
    """The fewest bars that each give one or two parts: groups of indices into `lengths`.

    Two parts go together when their lengths sum to at most `room`. Taking the longest that
    is left with the shortest that is left makes the most pairs: whatever the longest could
    be paired with, the shortest can be, and any other partner of the shortest could have
    taken that one's place.
    """
    order = sorted(range(len(lengths)), key=lambda k: (lengths[k], k))
    low, high = 0, len(order) - 1
    bars: list[tuple[int, ...]] = []
    while low < high:
        if lengths[order[low]] + lengths[order[high]] <= room:
            bars.append((order[high], order[low]))
            low += 1
        else:
            bars.append((order[high],))
        high -= 1
    if low == high:
        bars.append((order[low],))
    return bars
