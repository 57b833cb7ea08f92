"""Ways for a hanger from a main to the structure: straight up, leaning, or by a trapeze.

A hanger leans by at most 1 in 6 and a second one leans the other way to cancel its side
pull (City of Daly City; NWCB Technical Document 401). Where nothing passes, a bar spans
what is in the way and hangs by two rods, one past each side of it (NWCB 401).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, floor

import numpy as np

from ifcgrid.design.covering import Cost
from ifcgrid.design.overhead import Line, Overhead
from ifcgrid.design.stretches import (
    Stretch,
    common,
    complement,
    first_after,
    holds,
    last_before,
    nearest,
    unite,
    widen,
)
from ifcgrid.domain import tolerance
from ifcgrid.domain.scheme import HangerRules

__all__ = ["Bar", "Bars", "Lean", "Leans", "Places", "find_bar"]

STEEPNESSES = (0.25, 0.5, 0.75, 1.0)
"""Shares of the greatest lean that are tried, the least first."""

BAR_STEP = 25.0
"""Trapezes stand at multiples of this along the mains, in mm, so that neighbours share a bar."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """A kind of hanger that is possible within stretches of a run."""

    cost: Cost
    stretches: Sequence[Stretch]

    def last(self, after: float, limit: float) -> float | None:
        """The last possible place in (after, limit]."""
        return last_before(self.stretches, after, limit)

    def first(self, after: float) -> float | None:
        """The first possible place after one."""
        return first_after(self.stretches, after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How a splayed hanger leans for each mm of rise, along and aside, and where its counter stands."""

    along: float
    aside: float
    counter: float


class Leans:
    """Where along a run splayed hangers are possible, and how they lean there.

    `shut` are stretches of the line in which no hanger of any kind may begin.
    """

    def __init__(self, overhead: Overhead, line: Line, shut: Sequence[Stretch], rules: HangerRules) -> None:
        self._free: list[tuple[float, float, list[Stretch], list[Stretch]]] = []
        tops = overhead.soffits(line.points([line.low, (line.low + line.high) / 2, line.high]))[0]
        known = tops[np.isfinite(tops)]
        if len(known) == 0:
            return
        height = float(known.max()) - overhead.floor
        for share in STEEPNESSES:
            lean = share / rules.splay
            for along, aside in ((0.0, lean), (lean, 0.0)):
                one = _free(overhead, line, shut, height, along, aside)
                other = _free(overhead, line, shut, height, -along, -aside)
                reach = line.high - line.low if along else rules.counter_reach
                self._free.append((along, aside, common(one, widen(other, reach)), other))
                self._free.append((-along, -aside, common(other, widen(one, reach)), one))

    @property
    def stretches(self) -> list[Stretch]:
        """Where a hanger may lean one way while its counter leans the other."""
        return unite(s for _, _, free, _ in self._free for s in free)

    def at(self, place: float) -> Lean:
        """The least lean that is possible at a place, with its counter as near as can be."""
        able = []
        for along, aside, free, other in self._free:
            counter = nearest(other, place)
            if counter is not None and holds(free, place):
                able.append((abs(along + aside), abs(counter - place), along, aside, counter))
        _, _, along, aside, counter = min(able)
        return Lean(along=along, aside=aside, counter=counter)


def _free(
    overhead: Overhead, line: Line, shut: Sequence[Stretch], height: float, along: float, aside: float
) -> list[Stretch]:
    """Where along a line a leaning hanger passes everything and ends in the room."""
    taken = [s for s, _ in overhead.taken(line, along, aside)]
    free = complement([*taken, *shut], line.low, line.high)
    low, high = line.low + max(-along * height, 0.0), line.high - max(along * height, 0.0)
    ends = Line(axis=line.axis, at=line.at + aside * height, low=line.low, high=line.high)
    return common(common(free, [(low, high)] if low <= high else []), overhead.inside(ends))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A trapeze's bar: the axis it runs along, where it begins and ends on it, its underside's z."""

    axis: int
    at: float
    low: float
    high: float
    z: float
    spans: tuple[int, ...]


def find_bar(overhead: Overhead, point: tuple[float, float], rules: HangerRules) -> Bar | None:
    """The shortest bar over a local point that spans what is above it; None where none fits.

    Its rods go up just clear of what it spans, inside the room, to known structure.
    """
    bars = []
    for axis in (1, 0):
        place = point[axis]
        line = Line(
            axis=axis,
            at=point[1 - axis],
            low=place - rules.bar_longest - rules.clearance,
            high=place + rules.bar_longest + rules.clearance,
        )
        taken = overhead.taken(line)
        around = [s for s in unite(s for s, _ in taken) if s[0] < place < s[1]]
        if not around:
            continue
        low, high = around[0]
        if high - low > rules.bar_longest + tolerance.LENGTH:
            continue
        over = sorted({k for (a, b), k in taken if a < high and b > low})
        z = min(overhead.hurdles[k].bottom for k in over) - rules.clearance - rules.bar_depth
        is_inside = any(a <= low and high <= b for a, b in overhead.inside(line))
        tops = overhead.soffits(line.points([low, high]))[0]
        if is_inside and z >= overhead.floor + rules.shortest and bool((tops > z + rules.bar_depth).all()):
            bars.append(Bar(axis=axis, at=line.at, low=low, high=high, z=z, spans=tuple(over)))
    return min(bars, key=lambda bar: bar.high - bar.low, default=None)


@dataclass(slots=True, kw_only=True)
class Bars:
    """Where along a run a trapeze is possible: looked up at multiples of `BAR_STEP` as it is asked."""

    overhead: Overhead
    line: Line
    rules: HangerRules
    within: Sequence[Stretch]
    cost: Cost = (0, 1, 0, 1)
    _known: dict[float, Bar | None] = field(default_factory=dict)

    def at(self, place: float) -> Bar | None:
        """The bar at a place, None where none is possible."""
        if place not in self._known:
            point = self.line.points([place])[0]
            able = any(low < place < high for low, high in self.within)
            self._known[place] = (
                find_bar(self.overhead, (float(point[0]), float(point[1])), self.rules) if able else None
            )
        return self._known[place]

    def last(self, after: float, limit: float) -> float | None:
        """The last possible place in (after, limit]."""
        for low, high in reversed(self.within):
            begin, end = max(low, after), min(high, limit)
            if end <= begin:
                continue
            steps = range(floor(end / BAR_STEP), ceil(begin / BAR_STEP) - 1, -1)
            for place in (*(k * BAR_STEP for k in steps), end):
                if after + tolerance.LENGTH < place <= limit and self.at(place):
                    return place
        return None

    def first(self, after: float) -> float | None:
        """The first possible place after one."""
        for low, high in self.within:
            begin = max(low, after)
            steps = range(ceil(begin / BAR_STEP), floor(high / BAR_STEP) + 1)
            for place in (k * BAR_STEP for k in steps):
                if place > after + tolerance.LENGTH and self.at(place):
                    return place
        return None
