"""What the offsets between compared ones could still gain in the terms that count panels.

Between two walls a line meets the same walls, so the room's area in each cell changes in
straight lines with either offset: over a rectangle of offsets its least and its greatest
value lie at the rectangle's corners. Where these leave open whether a cell holds a scrap, a
cut or a full panel, the most favourable of these bounds what could be gained; such
rectangles are split until nothing can.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.axes import Axes
from ifcgrid.design.layout.batch.cells import count_panels, measure_areas
from ifcgrid.design.layout.batch.critical import Offsets
from ifcgrid.design.layout.batch.measure import JOINT, Pairs, measure_joint_term, sum_of_parts
from ifcgrid.design.layout.scoring import equal_within
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = ["find_gaps"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_MOST_SPLITS = 200
"""Rectangles of one room that are looked at before its gap is stated as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Region:
    """A rectangle of offsets of one case between the same walls."""

    case: int
    x: tuple[float, float]
    y: tuple[float, float]


def find_gaps(
    axes: tuple[Axes, Axes],
    offsets: tuple[Offsets, Offsets],
    alive: tuple[_Ints, _Ints],
    winners: Pairs,
    rest: Sequence[Term],
) -> tuple[_Floats, tuple[str, ...]]:
    """What is left to gain in each room (r,), and the term in which: 0 and "" where nothing is.

    `alive` numbers the offsets that are equally good in the leading terms, `winners` holds
    one layout a room, `rest` the terms after the leading ones.
    """
    cases, rooms = axes[0].cases, len(winners)
    gap, term = np.zeros(rooms), [""] * rooms
    if not any(t in JOINT for t in rest):
        return gap, tuple(term)
    runs = [_runs(o, a) for o, a in zip(offsets, alive, strict=True)]
    open_cases = sorted(set(runs[0]) & set(runs[1]))
    for case in open_cases:
        regions = [
            _Region(case=case, x=x, y=y)
            for x in runs[0][case]
            for y in runs[1][case]
            if x[0] < x[1] or y[0] < y[1]
        ]
        if not regions:
            continue
        room = int(cases.room[case])
        for missing, name in _close(axes, regions, winners.pick(np.array([room])), rest):
            order = [t.value for t in rest]
            if not term[room] or order.index(name) < order.index(term[room]):
                gap[room], term[room] = missing, name
            elif name == term[room]:
                gap[room] = max(gap[room], missing)
    return gap, tuple(term)


def _runs(offsets: Offsets, alive: _Ints) -> dict[int, list[tuple[float, float]]]:
    """By case the stretches in which every offset is equally good, and single such offsets."""
    if len(alive) == 0:
        return {}
    case, stretch = offsets.case[alive], offsets.stretch[alive]
    begins = np.ones(len(alive), dtype=bool)
    begins[1:] = (np.diff(alive) != 1) | (np.diff(case) != 0) | (np.diff(stretch) != 0)
    first = np.flatnonzero(begins)
    last = np.append(first[1:], len(alive)) - 1
    found: dict[int, list[tuple[float, float]]] = {}
    low, high = offsets.value[alive[first]].tolist(), offsets.value[alive[last]].tolist()
    for number, pair in zip(case[first].tolist(), zip(low, high, strict=True), strict=True):
        found.setdefault(number, []).append(pair)
    return found


def _close(
    axes: tuple[Axes, Axes], regions: list[_Region], winner: Pairs, rest: Sequence[Term]
) -> Iterator[tuple[float, str]]:
    """What regions could gain on the winner: amounts and terms, once they can be split no further."""
    cases = axes[0].cases
    best = count_panels(cases, winner.case, winner.offset)
    looked = 0
    while regions:
        region = regions.pop()
        bound = _bound(axes, region)
        looked += 1
        if bound is None:
            continue
        missing = _lead(axes, region, bound, winner, best, rest)
        if missing is None:
            continue
        if looked < _MOST_SPLITS:
            regions += _halves(region)
        else:
            yield missing


def _halves(region: _Region) -> list[_Region]:
    wide, high = (side[1] - side[0] for side in (region.x, region.y))
    side = region.x if wide >= high else region.y
    middle = (side[0] + side[1]) / 2
    parts = [(side[0], middle), (middle, side[1])]
    if wide >= high:
        return [_Region(case=region.case, x=part, y=region.y) for part in parts]
    return [_Region(case=region.case, x=region.x, y=part) for part in parts]


def _bound(axes: tuple[Axes, Axes], region: _Region) -> tuple[int, int] | None:
    """Least numbers of cut panels and of panels that a region may hold; None where both stay the same."""
    cases = axes[0].cases
    corners = np.array([(x, y) for x in region.x for y in region.y])
    cells = measure_areas(cases, np.full(4, region.case), corners)
    area = cells.area.reshape(4, -1)
    low, high = area.min(axis=0), area.max(axis=0)
    scrap, full = tolerance.PIECE_AREA - tolerance.SCORE, float(cells.whole[0]) - tolerance.AREA
    may_be_none, must_be_none = low < scrap, high < scrap
    may_be_full, must_be_full = high >= full, low >= full
    if (may_be_none == must_be_none).all() and (may_be_full == must_be_full).all():
        return None
    return int((~may_be_none & ~may_be_full).sum()), int((~may_be_none).sum())


def _lead(
    axes: tuple[Axes, Axes],
    region: _Region,
    bound: tuple[int, int],
    winner: Pairs,
    best: tuple[_Ints, _Ints],
    rest: Sequence[Term],
) -> tuple[float, str] | None:
    """By how much a region may beat the winner, and in which term; None when it cannot."""
    cases = axes[0].cases
    least = (np.array([bound[0]]), np.array([bound[1]]))
    corners = np.array([(x, y) for x in region.x for y in region.y for _ in cases.ways[region.case]])
    own = Pairs(
        case=np.full(len(corners), region.case),
        way=np.tile(np.array(cases.ways[region.case], dtype=np.int64), 4),
        offset=corners,
        rank=np.zeros(len(corners), dtype=np.int64),
    )
    for term in rest:
        if term is Term.OBLIQUE_PIECES:
            continue
        if term in JOINT:
            found = float(measure_joint_term(term, least, cases, own.case[:1])[0])
            wanted = float(measure_joint_term(term, best, cases, winner.case)[0])
        else:
            # Linear over the region, so least at a corner.
            found = float(sum_of_parts(cases, axes, term, own).min())
            wanted = float(sum_of_parts(cases, axes, term, winner)[0])
        if found < wanted - equal_within(term):
            return wanted - found, term.value
        if found > wanted + equal_within(term):
            return None
    return None
