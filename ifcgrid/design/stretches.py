"""Stretches of a line: sorted, disjoint closed intervals in mm, as plain pairs of floats."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence

from ifcgrid.domain import tolerance

__all__ = [
    "Stretch",
    "common",
    "complement",
    "first_after",
    "holds",
    "last_before",
    "mirror",
    "nearest",
    "unite",
    "widen",
]

Stretch = tuple[float, float]


def unite(stretches: Iterable[Stretch]) -> list[Stretch]:
    """What lies in any of them."""
    united: list[Stretch] = []
    for low, high in sorted(stretches):
        if united and low <= united[-1][1]:
            united[-1] = (united[-1][0], max(united[-1][1], high))
        else:
            united.append((low, high))
    return united


def complement(stretches: Iterable[Stretch], low: float, high: float) -> list[Stretch]:
    """What of [low, high] lies outside of open stretches; their ends stay in."""
    rest: list[Stretch] = []
    place = low
    for start, end in unite(stretches):
        if start >= place and start <= high:
            rest.append((place, start))
        place = max(place, end)
    if place <= high:
        rest.append((place, high))
    return rest


def common(one: Sequence[Stretch], other: Sequence[Stretch]) -> list[Stretch]:
    """What lies in both."""
    both = [(max(a, c), min(b, d)) for a, b in one for c, d in other if max(a, c) <= min(b, d)]
    return unite(both)


def widen(stretches: Iterable[Stretch], by: float) -> list[Stretch]:
    """All that is within a distance of them."""
    return unite((low - by, high + by) for low, high in stretches)


def mirror(stretches: Sequence[Stretch], length: float) -> list[Stretch]:
    """The same seen from the other end of a line of a length."""
    return [(length - high, length - low) for low, high in reversed(stretches)]


def last_before(stretches: Sequence[Stretch], after: float, limit: float) -> float | None:
    """The last place in (after, limit]."""
    k = bisect_right(stretches, limit, key=lambda s: s[0]) - 1
    if k < 0:
        return None
    place = min(limit, stretches[k][1])
    return place if place > after + tolerance.LENGTH else None


def first_after(stretches: Sequence[Stretch], after: float) -> float | None:
    """The first place that is greater than `after`, by more than a hair."""
    least = after + 2 * tolerance.LENGTH
    k = bisect_left(stretches, least, key=lambda s: s[1])
    return max(least, stretches[k][0]) if k < len(stretches) else None


def nearest(stretches: Sequence[Stretch], place: float) -> float | None:
    """The place of them that is nearest to a place."""
    places = [min(max(place, low), high) for low, high in stretches]
    return min(places, key=lambda p: (abs(p - place), p), default=None)


def holds(stretches: Sequence[Stretch], place: float) -> bool:
    """Whether a place lies in one of them, within the tolerance."""
    k = bisect_right(stretches, place + tolerance.LENGTH, key=lambda s: s[0]) - 1
    return k >= 0 and place <= stretches[k][1] + tolerance.LENGTH
