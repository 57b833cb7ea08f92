"""One direction of many rectilinear rooms: walls, what faces what, and the terms that split by direction.

Each such term is the sum of one part for each direction, and each part a function of the
offset of the lines alone, linear between critical offsets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.cases import Cases
from ifcgrid.design.layout.ragged import firsts, fold, pair_up, sum_up
from ifcgrid.design.layout.walls import Chords, cut_chords
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = ["Axes", "Walls", "read_axes"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walls:
    """Walls across one direction, by case: `place`, `sign` (+1: the room lies at greater s), and `chord`.

    `edge` (n,) is their number among the edges, `chord` the greatest and `chord_least` the
    least clear width in front of the wall; case k has `count[k]` walls from `first[k]` on.
    """

    edge: _Ints
    case: _Ints
    place: _Floats
    sign: _Floats
    chord: _Floats
    chord_least: _Floats
    count: _Ints

    @property
    def first(self) -> _Ints:
        """Number of each case's first wall (c,)."""
        return firsts(self.count)

    def widths(self, offsets: _Floats, case: _Ints, module: _Floats) -> tuple[_Ints, _Ints, _Floats]:
        """Strips at offsets (k,) of cases: the offset's number, the wall's, and the width.

        Widths reach up to the next line. A wall on a line has a strip of a whole module: a full panel.
        """
        owner, wall = pair_up(case, self.first, self.count)
        size = module[case][owner]
        away = self.sign[wall] * (offsets[owner] - self.place[wall])
        width = away - size * np.floor(away / size)
        return owner, wall, np.where(width <= tolerance.LENGTH, size, width)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axes:
    """One direction of all cases: `number` 0 measures along x, 1 along y.

    `module`, `minimum`, `span` (c,); `borders` are long walls of the outer ring, `returns`
    those of holes and the outer ring's shorter ones, `notches` the returns so short that
    they lie within one border panel. `facing` (n, 2) are the places of opposite borders,
    `facing_length` how long they face each other, `facing_count` their number in each case;
    `whole` (c,) is the width of a border that no line cuts. `chords` cross the whole rooms
    along this direction, `chord_count` (c,) of them in each case.
    """

    number: int
    cases: Cases
    equal_within: float
    borders: Walls
    returns: Walls
    notches: Walls
    facing: _Floats
    facing_length: _Floats
    facing_count: _Ints
    whole: _Floats
    chords: Chords
    chord_count: _Ints

    @property
    def module(self) -> _Floats:
        """Cell size in this direction (c,)."""
        return self.cases.module[:, self.number]

    @property
    def minimum(self) -> _Floats:
        """Least border in this direction (c,)."""
        return self.cases.minimum[:, self.number]

    def measure(self, term: Term, offsets: _Floats, case: _Ints) -> _Floats:
        """This direction's part of a separable term at offsets (k,) of cases (k,)."""
        if term is Term.BORDER_MINIMUM:
            return self._shortfalls(self.borders, offsets, case)
        if term is Term.COLUMN_STRIPS:
            return self._shortfalls(self.returns, offsets, case)
        if term is Term.SMALLEST_BORDER:
            return -self._narrowest(offsets, case)
        if term is Term.EQUAL_BORDERS:
            return self._difference(offsets, case)
        assert term is Term.FIXTURES
        off = np.zeros(len(offsets))
        for number, holds in self.cases.holds.items():
            own = case == number
            off[own] = holds[self.number].count_off(offsets[own], float(self.module[number]))
        return off

    def _shortfalls(self, walls: Walls, offsets: _Floats, case: _Ints) -> _Floats:
        """How far the worst strip falls short; where the room itself is narrower, only cutting it counts."""
        if not self.minimum.any():
            return np.zeros(len(offsets))
        owner, wall, width = walls.widths(offsets, case, self.module)
        chord = walls.chord[wall]
        short = np.minimum(self.minimum[case][owner], chord) - width
        short = np.where(width < chord - tolerance.LENGTH, short, 0.0)
        worst: _Floats = np.maximum(fold(np.maximum, short, walls.count[case], 0.0), 0.0)
        return worst

    def _narrowest(self, offsets: _Floats, case: _Ints) -> _Floats:
        """The narrowest border; opposite no wall more than the minimum is no gain."""
        _, wall, width = self.borders.widths(offsets, case, self.module)
        is_strip = width < self.borders.chord[wall] - tolerance.LENGTH
        least = fold(np.minimum, np.where(is_strip, width, np.inf), self.borders.count[case], np.inf)
        least = np.where(np.isfinite(least), least, self.whole[case])
        capped = (self.facing_count[case] == 0) & (self.minimum[case] > 0.0)
        return np.where(capped, np.minimum(least, self.minimum[case]), least)

    def _difference(self, offsets: _Floats, case: _Ints) -> _Floats:
        """Difference of opposite borders, averaged over the facing length."""
        owner, pair = pair_up(case, firsts(self.facing_count), self.facing_count)
        size, at = self.module[case][owner], offsets[owner]
        left, right = self.facing[pair].T
        first, last = at - left, right - at
        first, last = first - size * np.floor(first / size), last - size * np.floor(last / size)
        first = np.minimum(np.where(first <= tolerance.LENGTH, size, first), right - left)
        last = np.minimum(np.where(last <= tolerance.LENGTH, size, last), right - left)
        apart = np.abs(first - last)
        apart = np.where(apart <= self.equal_within + tolerance.SCORE / 10, 0.0, apart)
        total = sum_up(owner, self.facing_length[pair], len(offsets))
        summed = sum_up(owner, apart * self.facing_length[pair], len(offsets))
        mean: _Floats = summed / np.where(total > 0.0, total, 1.0)
        return mean


def read_axes(cases: Cases, number: int) -> Axes:
    """Read one direction of rooms whose walls all run along the grid."""
    edges, case, count = cases.edges, cases.edge_case, len(cases)
    run = edges.end[:, 1 - number] - edges.start[:, 1 - number]
    length = np.abs(run)
    place = edges.start[:, number]
    # The room is on an edge's left: at greater x when it runs down, at greater y when it runs right.
    sign = np.sign(run) if number else -np.sign(run)
    is_wall = length > tolerance.LENGTH
    outer = edges.ring <= 0  # later parts of a plan of several rooms have -1, -2 ...
    chords, owner = cut_chords(edges.start, edges.end, case, count, number)
    around, around_owner = chords, owner
    outer_edge = np.arange(len(edges))
    if not outer.all():
        outer_edge = np.flatnonzero(outer)
        around, around_owner = cut_chords(edges.start[outer], edges.end[outer], case[outer], count, number)
    lengths = _run_lengths(cases, is_wall & outer, place, sign, length)
    other, least = cases.module[case, 1 - number], cases.minimum[case, 1 - number]
    longest = fold(np.maximum, lengths, cases.edge_count, 0.0)
    long_enough = np.minimum(other, longest[case] / 2) - tolerance.LENGTH
    is_border = is_wall & outer & (lengths >= long_enough)
    is_notch = is_wall & outer & ~is_border & (lengths <= least + tolerance.LENGTH)
    left, right = outer_edge[around.left], outer_edge[around.right]
    clear = _clear_widths(len(edges), left, right, around)
    clear_all = clear if outer.all() else _clear_widths(len(edges), chords.left, chords.right, chords)

    def walls(chosen: _Bools, chord: tuple[_Floats, _Floats]) -> Walls:
        edge = np.flatnonzero(chosen)
        return Walls(
            edge=edge,
            case=case[edge],
            place=place[edge],
            sign=sign[edge],
            chord=chord[0][edge],
            chord_least=chord[1][edge],
            count=np.bincount(case[edge], minlength=count),
        )

    borders = walls(is_border, clear)
    both = is_border[left] & is_border[right]
    facing = _facing(around.left_s[both, 0], around.right_s[both, 0], around.height[both], around_owner[both])
    widest = fold(np.maximum, borders.chord, borders.count, 0.0)
    within = cases.policy.equal_within
    return Axes(
        number=number,
        cases=cases,
        # Within the tolerance of lengths it would only blur the best offset.
        equal_within=within if within > tolerance.LENGTH else 0.0,
        borders=borders,
        returns=walls(is_wall & ~is_border & ~is_notch, clear_all),
        notches=walls(is_notch, clear_all),
        facing=facing[0],
        facing_length=facing[1],
        facing_count=np.bincount(facing[2], minlength=count),
        whole=np.minimum(widest, cases.module[:, number]),
        chords=chords,
        chord_count=np.bincount(owner, minlength=count),
    )


def _clear_widths(count: int, left: _Ints, right: _Ints, chords: Chords) -> tuple[_Floats, _Floats]:
    """Greatest and least clear width in front of each edge (count,)."""
    greatest, least = np.zeros(count), np.full(count, np.inf)
    width = chords.width.max(axis=1)
    for side in (left, right):
        np.maximum.at(greatest, side, width)
        np.minimum.at(least, side, width)
    return greatest, least


def _facing(left: _Floats, right: _Floats, height: _Floats, case: _Ints) -> tuple[_Floats, _Floats, _Ints]:
    """Places (n, 2) of opposite walls, their facing length and case, each pair of places once."""
    order = np.lexsort((right, left, case))
    left, right, height, case = left[order], right[order], height[order], case[order]
    begins = np.ones(len(left), dtype=bool)
    begins[1:] = (np.diff(left) != 0.0) | (np.diff(right) != 0.0) | (np.diff(case) != 0)
    total = sum_up(np.cumsum(begins) - 1, height, int(begins.sum()))
    return np.stack([left[begins], right[begins]], axis=1), total, case[begins]


def _run_lengths(cases: Cases, chosen: _Bools, place: _Floats, sign: _Floats, length: _Floats) -> _Floats:
    """Length of the straight wall that each chosen edge is part of (edges,); 0 for the others."""
    edges = cases.edges
    begins = np.ones(len(edges), dtype=bool)
    begins[1:] = (np.diff(edges.ring) != 0) | (np.diff(cases.edge_case) != 0)
    sizes = np.diff(np.append(np.flatnonzero(begins), len(edges)))
    last_of_ring = np.flatnonzero(begins) + sizes - 1
    before = np.arange(len(edges)) - 1
    before[begins] = last_of_ring
    goes_on = (place == place[before]) & (sign == sign[before]) & chosen & chosen[before]
    group = np.cumsum(~goes_on | begins) - 1
    # A wall that runs through the ring's first corner is one.
    alias = np.arange(group[-1] + 1)
    wraps = begins & goes_on
    alias[group[wraps]] = group[before[wraps]]
    group = alias[group]
    sums = sum_up(group, np.where(chosen, length, 0.0), len(alias))
    return np.where(chosen, sums[group], 0.0)
