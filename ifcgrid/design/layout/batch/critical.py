"""The offsets of one direction at which a score of a rectilinear room may be least.

Compared are offsets at which a line meets some wall, or no wall has a line within
`tolerance.STRIP` on its room's side or within a hair outside: such a line would be set out
on the wall. On this closed set every separable term is linear between neighbouring critical
offsets and never jumps to the worse at one, so its least value lies at one of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.axes import Axes, Walls
from ifcgrid.design.layout.ragged import firsts, pair_up
from ifcgrid.domain import tolerance

__all__ = ["Offsets", "find_offsets"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]

_HAIR = 2 * tolerance.LENGTH
"""A line that misses a wall on the other side, outside the room, does so by this at least."""

_EXACT, _BESIDE = 0, 1
"""Ranks of offsets that are equally good: those with a meaning before those a hair beside something."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offsets:
    """Offsets to be compared, by case and rising: `value`, `case`, `rank`, `stretch` (n,).

    Lower ranks are preferred among equals. Offsets with the same `stretch` of the same case
    lie between the same two walls, so lines through them meet the same walls and cut the
    same panels; an offset on a wall has a stretch of its own.
    """

    value: _Floats
    case: _Ints
    rank: _Ints
    stretch: _Ints
    is_on_wall: _Bools

    def pick(self, chosen: _Bools | _Ints) -> Offsets:
        """The chosen offsets."""
        return Offsets(
            value=self.value[chosen],
            case=self.case[chosen],
            rank=self.rank[chosen],
            stretch=self.stretch[chosen],
            is_on_wall=self.is_on_wall[chosen],
        )


def find_offsets(axes: Axes) -> Offsets:
    """All critical offsets of one direction of all cases, in [0, module)."""
    cases = axes.cases
    value, case, rank = _collect(axes)
    module = axes.module[case]
    value = value - module * np.floor(value / module)
    value = np.where(value > module - tolerance.SCORE / 10, 0.0, value)
    order = np.lexsort((rank, value, case))
    value, case, rank = value[order], case[order], rank[order]
    begins = np.ones(len(value), dtype=bool)
    begins[1:] = (np.diff(value) > tolerance.SCORE / 10) | (np.diff(case) != 0)
    group = np.cumsum(begins) - 1
    # Of places that differ by noise only, the one with the most meaning.
    best = np.lexsort((rank, group))
    best = best[np.concatenate([[True], np.diff(group[best]) > 0])] if len(best) else best
    value, case, rank = value[best], case[best], rank[best]
    for (number, axis), place in cases.kept.items():
        if axis == axes.number:
            keep = (case != number) | (np.cumsum(case == number) == 1)
            value, case, rank = value[keep], case[keep], rank[keep]
            value[case == number] = place % float(axes.module[number])
            rank[case == number] = _EXACT
    return _within_reach(axes, value, case, rank)


def _collect(axes: Axes) -> tuple[_Floats, _Ints, _Ints]:
    """Critical places, their cases and ranks, unsorted and some of them twice."""
    found: list[tuple[_Floats, _Ints, int]] = []
    for walls in (axes.borders, axes.returns, axes.notches):
        found.append((walls.place, walls.case, _EXACT))
        found.append((walls.place + walls.sign * tolerance.STRIP, walls.case, _BESIDE))
        found.append((walls.place - walls.sign * _HAIR, walls.case, _BESIDE))
    for walls in (axes.borders, axes.returns):
        wanted = np.minimum(axes.minimum[walls.case], walls.chord)
        found.append((walls.place + walls.sign * wanted, walls.case, _EXACT))
        for twice, case in _meeting(walls, wanted, len(axes.cases)):
            found.append((twice / 2, case, _EXACT))
            found.append((twice / 2 + axes.module[case] / 2, case, _EXACT))
    if axes.equal_within > 0.0:
        middle = axes.facing.sum(axis=1) / 2
        case = np.repeat(np.arange(len(axes.cases)), axes.facing_count)
        half = axes.module[case] / 2
        for shift in (-axes.equal_within / 2, axes.equal_within / 2):
            found += [(middle + shift, case, _EXACT), (middle + half + shift, case, _EXACT)]
    for number, holds in axes.cases.holds.items():
        module = float(axes.module[number])
        for places, rank in (
            (holds[axes.number].centred(module), _EXACT),
            *((places, _BESIDE) for places in holds[axes.number].critical(module)),
        ):
            found.append((places, np.full(len(places), number), rank))
    values, cases, ranks = zip(*found, strict=True)
    return (
        np.concatenate(values),
        np.concatenate(cases),
        np.repeat(np.array(ranks, dtype=np.int64), [len(v) for v in values]),
    )


def _meeting(walls: Walls, wanted: _Floats, count: int) -> list[tuple[_Floats, _Ints]]:
    """Twice the places at which strips of opposite walls are equally wide, or equally short, by case."""
    order = np.lexsort((wanted, walls.place, walls.sign, walls.case))
    place, sign, case, wanted = walls.place[order], walls.sign[order], walls.case[order], wanted[order]
    is_new = np.ones(len(place), dtype=bool)
    is_new[1:] = (np.diff(place) != 0) | (np.diff(sign) != 0) | (np.diff(case) != 0) | (np.diff(wanted) != 0)
    ahead, back = np.flatnonzero(is_new & (sign > 0)), np.flatnonzero(is_new & (sign < 0))
    counts = np.bincount(case[back], minlength=count)
    owner, item = pair_up(case[ahead], firsts(counts), counts)
    one, other = ahead[owner], back[item]
    twice = place[one] + place[other]
    skew = wanted[one] - wanted[other]
    is_skewed = skew != 0.0
    return [(twice, case[one]), ((twice + skew)[is_skewed], case[one][is_skewed])]


def _within_reach(axes: Axes, value: _Floats, case: _Ints, rank: _Ints) -> Offsets:
    """The offsets that are on walls or clear of them, with the stretch in which they lie."""
    cases = axes.cases
    groups = (axes.borders, axes.returns, axes.notches)
    place = np.concatenate([walls.place for walls in groups])
    owner = np.concatenate([walls.case for walls in groups])
    sign = np.concatenate([walls.sign for walls in groups])
    module = axes.module[owner]
    place = place - module * np.floor(place / module)
    after, ahead, back = _nearest(axes, place, owner, value, case)
    is_on = np.minimum(ahead, back) <= tolerance.SCORE
    is_clear = np.ones(len(value), dtype=bool)
    for side in (1.0, -1.0):
        own = sign == side
        _, ahead, back = _nearest(axes, place[own], owner[own], value, case)
        inside, outside = (back, ahead) if side > 0 else (ahead, back)
        is_clear &= (inside >= tolerance.STRIP - tolerance.SCORE) & (outside >= _HAIR - tolerance.SCORE)
    kept = np.zeros(len(cases), dtype=bool)
    kept[[number for number, axis in cases.kept if axis == axes.number]] = True
    stretch = np.where(is_on, -1 - np.arange(len(value)), after)
    offsets = Offsets(value=value, case=case, rank=rank, stretch=stretch, is_on_wall=is_on)
    return offsets.pick(is_on | is_clear | kept[case])


def _nearest(
    axes: Axes, place: _Floats, owner: _Ints, value: _Floats, case: _Ints
) -> tuple[_Ints, _Floats, _Floats]:
    """How many places of its case lie before each value (mod all), and how far the next and the last are.

    `place` (n,) are in [0, module), of cases `owner`; values (k,) rise within their cases.
    """
    order = np.lexsort((place, owner))
    place, owner = place[order], owner[order]
    counts = np.bincount(owner, minlength=len(axes.cases))
    size, first = counts[case], firsts(counts)[case]
    if len(place) == 0:
        return np.zeros(len(value), dtype=np.int64), *np.full((2, len(value)), np.inf)
    # Both lists are sorted by case: shifting each case past all others makes one sorted list.
    reach = 2.0 * float(axes.module.max(initial=1.0))
    after = np.searchsorted(place + owner * reach, value + case * reach, side="right")
    after = np.clip(after - first, 0, size)
    any_size, module = np.maximum(size, 1), axes.module[case]
    last = len(place) - 1
    above = place[np.minimum(first + after % any_size, last)] - value
    below = value - place[np.minimum(first + (after - 1) % any_size, last)]
    # Noise of the shift may put a place on the wrong hand of a value: then it is next to nothing.
    ahead = np.where(above < -tolerance.SCORE, above + module, np.maximum(above, 0.0))
    back = np.where(below < -tolerance.SCORE, below + module, np.maximum(below, 0.0))
    none = size == 0
    return after % any_size, np.where(none, np.inf, ahead), np.where(none, np.inf, back)
