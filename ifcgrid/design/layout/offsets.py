"""What one direction of a room says about where the parallel grid lines may lie.

The terms of a policy that judge strips, opposite borders and devices split into one part a
direction, and each part is a function of one number: the offset of the lines. It changes
its slope, or jumps, only at a few critical offsets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.seats import Seats
from ifcgrid.design.layout.strips import Strips, read_strips, strip_offsets
from ifcgrid.design.layout.walls import Chords, Edges, find_chords
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Policy, Term

__all__ = ["SEPARABLE", "Axis", "make_axis"]

_Floats = NDArray[np.float64]
_Bools = NDArray[np.bool_]

SEPARABLE = frozenset(
    {
        Term.BORDER_MINIMUM,
        Term.FIXTURES,
        Term.EQUAL_BORDERS,
        Term.COLUMN_STRIPS,
        Term.SMALLEST_BORDER,
    }
)
"""Terms that are the sum of one part for each direction."""

_TAPER = float(np.tan(np.radians(20.0)))
"""A wall at more than this slope to the grid has no strip, only cut pieces."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """One direction s of a room whose least s is 0, and the module along it.

    `borders` are the walls of the outer ring, `returns` those of holes and the outer
    ring's returns that are shorter than a module, `notches` the returns so short that
    they lie within one border panel; `facing` (n, 2) are the places of
    opposite parallel walls with their lengths `facing_length`, `mirrored` (n, 2) the
    centre lines between opposite tapering walls at both ends with `mirrored_length` and
    their clear places `mirrored_span` (n, 2); `is_paired` tells whether two borders face each
    other; `fixtures` (n, 2) the devices' ranges, `seats` the points of small ones. `is_wall` (edges,)
    tells which edges have a strip in this direction, `is_border` which of them are
    `borders`, `sign` on which side of each edge the room lies; `chords` cross the whole room.
    """

    number: int
    module: float
    minimum: float
    equal_within: float
    span: float
    borders: Strips
    returns: Strips
    notches: Strips
    facing: _Floats
    facing_length: _Floats
    mirrored: _Floats
    mirrored_span: _Floats
    mirrored_length: _Floats
    is_paired: bool
    fixtures: _Floats
    seats: Seats
    is_wall: _Bools
    is_border: _Bools
    sign: _Floats
    chords: Chords

    def score(self, offsets: _Floats) -> dict[Term, _Floats]:
        """This direction's part of every separable term at each offset (k,)."""
        return {
            Term.BORDER_MINIMUM: self.borders.shortfalls(offsets, self.module, self.minimum),
            Term.FIXTURES: self._fixtures_off(offsets) + self.seats.count_off(offsets, self.module),
            Term.EQUAL_BORDERS: self._difference(offsets),
            Term.COLUMN_STRIPS: self.returns.shortfalls(offsets, self.module, self.minimum),
            Term.SMALLEST_BORDER: -self._narrowest(offsets),
        }

    def _narrowest(self, offsets: _Floats) -> _Floats:
        """Narrowest border (k,); opposite no wall more than the minimum is no gain.

        There the pieces at the oblique or curved end are to decide.
        """
        narrowest = self.borders.narrowest(offsets, self.module)
        if self.is_paired or self.minimum == 0.0:
            return narrowest
        return np.minimum(narrowest, self.minimum)

    def _fixtures_off(self, offsets: _Floats) -> _Floats:
        if len(self.fixtures) == 0:
            return np.zeros(len(offsets))
        low, high = self.fixtures.T
        room = np.maximum(np.ceil((high - low - tolerance.LENGTH) / self.module), 1.0) * self.module
        # Nearest line to where the first line of the device's cells should be, were it centred.
        wanted = (low + high - room) / 2
        away = wanted - offsets[:, None]
        first = offsets[:, None] + np.round(away / self.module) * self.module
        fits = np.abs(first - wanted) <= tolerance.ON_MODULE + tolerance.LENGTH
        fits &= room - (high - low) <= tolerance.LAY_IN_SLACK
        off: _Floats = np.count_nonzero(~fits, axis=1).astype(float)
        return off

    def _difference(self, offsets: _Floats) -> _Floats:
        """Difference of opposite borders, averaged over the facing length (k,)."""
        total = self.facing_length.sum() + self.mirrored_length.sum()
        if total == 0.0:
            return np.zeros(len(offsets))
        summed = self._facing_difference(offsets) @ self.facing_length
        if len(self.mirrored):
            summed += self._mirrored_difference(offsets) @ self.mirrored_length
        averaged: _Floats = summed / total
        return averaged

    def _facing_difference(self, offsets: _Floats) -> _Floats:
        m = self.module
        left, right = self.facing.T
        first = np.mod(offsets[:, None] - left, m)
        last = np.mod(right - offsets[:, None], m)
        first = np.minimum(np.where(first <= tolerance.LENGTH, m, first), right - left)
        last = np.minimum(np.where(last <= tolerance.LENGTH, m, last), right - left)
        difference = np.abs(first - last)
        return np.where(difference <= self.equal_within, 0.0, difference)

    def _mirrored_difference(self, offsets: _Floats) -> _Floats:
        """As above where walls taper: twice the way from the centre to a joint or a panel's middle.

        The centre line runs from one place to another, so the mean of that triangle wave
        over the run is taken from its integral.
        """
        low, high = np.sort(self.mirrored, axis=1).T
        run = high - low
        is_point = run <= tolerance.LENGTH
        middle = (low + high) / 2
        mean = np.where(
            is_point,
            self._wave(middle - offsets[:, None]),
            (self._wave_integral(high - offsets[:, None]) - self._wave_integral(low - offsets[:, None]))
            / np.where(is_point, 1.0, run),
        )
        left, right = self.mirrored_span.T
        next_line = left + np.mod(offsets[:, None] - left, self.module)
        return np.where(next_line >= right - tolerance.LENGTH, 0.0, mean)

    def _wave(self, x: _Floats) -> _Floats:
        half = self.module / 2
        away = 2 * np.abs(x - np.round(x / half) * half)
        return np.where(away <= self.equal_within, 0.0, away)

    def _wave_integral(self, x: _Floats) -> _Floats:
        """Integral of the wave from 0 to x; a period of module / 2 holds two equal humps' halves."""
        half = self.module / 2
        dead = self.equal_within / 2
        periods = np.round(x / half)
        rest = x - periods * half
        hump = np.maximum(np.abs(rest) ** 2 - dead**2, 0.0) * np.sign(rest)
        full = 2 * max((half / 2) ** 2 - dead**2, 0.0)
        integral: _Floats = periods * full + hump
        return integral

    def critical(self) -> _Floats:
        """Offsets in [0, module), sorted, at which a score may be least, and the spots between them.

        These are: a line on a wall (and a hair to its room side, where the strip is
        least), a strip at its minimum, a line or a panel's middle midway between two
        walls, the edges of devices, and the middle between each pair of neighbours.
        """
        m = self.module
        found: list[_Floats] = [np.zeros(1)]
        for strips in (self.borders, self.returns):
            found += strip_offsets(strips, self.minimum, m)
        found.append(self.notches.low)
        found.append(self.facing.ravel())
        twice = self.facing.sum(axis=1)
        twice = np.concatenate([twice, self.mirrored.ravel() * 2, self.mirrored.sum(axis=1)])
        if self.equal_within > 0.0:
            twice = np.concatenate([twice, twice - self.equal_within, twice + self.equal_within])
        found += [twice / 2, twice / 2 + m / 2]
        if len(self.fixtures):
            found += self._fixture_offsets()
        found += self.seats.critical(m)
        places = _distinct(np.mod(np.concatenate(found), m), m)
        between = (places + np.append(places[1:], places[0] + m)) / 2
        places = _distinct(np.mod(np.concatenate([places, between]), m), m)
        return places[self.is_clear(places)]

    @property
    def places(self) -> _Floats:
        """Where walls stand (n,), at both ends if they taper."""
        groups = (self.borders, self.returns, self.notches)
        return np.concatenate([place for strips in groups for place in (strips.low, strips.high)])

    def is_clear(self, offsets: _Floats) -> _Bools:
        """Which offsets (k,) put no line a hair beside a wall.

        Within the tolerance a line beside a wall counts as on it; a search would use up the
        tolerance to gain a hair elsewhere.
        """
        m = self.module
        away = np.abs((offsets[:, None] - self.places + m / 2) % m - m / 2).min(axis=1, initial=m)
        clear: _Bools = (away <= tolerance.SCORE) | (away > 1.5 * tolerance.LENGTH)
        return clear

    def _fixture_offsets(self) -> list[_Floats]:
        low, high = self.fixtures.T
        room = np.maximum(np.ceil((high - low - tolerance.LENGTH) / self.module), 1.0) * self.module
        wanted = (low + high - room) / 2
        return [wanted, wanted - tolerance.ON_MODULE, wanted + tolerance.ON_MODULE]


def _distinct(places: _Floats, module: float) -> _Floats:
    """Sorted places without those that differ by noise only."""
    places = np.sort(places)
    keep = np.concatenate([[True], np.diff(places) > tolerance.SCORE / 10])
    places = places[keep]
    if len(places) > 1 and places[-1] > module - tolerance.SCORE / 10:
        places = places[:-1]
    return places


def make_axis(
    edges: Edges,
    number: int,
    modules: tuple[float, float],
    policy: Policy,
    fixtures: _Floats,
    seats: Seats,
) -> Axis:
    """Read one direction of a room.

    `number` 0 measures along x, 1 along y; `edges` are in grid axes with the least x and y
    at 0; `modules` are the cell's sizes along x and y; `fixtures` (n, 4) the bounding boxes
    of devices as least x, y, greatest x, y; `seats` the points that small ones hold along `number`.
    """
    module, minimum = modules[number], policy.minimum(modules[number])
    s = np.stack([edges.start[:, number], edges.end[:, number]])
    run = edges.end[:, 1 - number] - edges.start[:, 1 - number]
    low, high, length = s.min(axis=0), s.max(axis=0), np.abs(run)
    # The room is on an edge's left: at greater x when it runs down, at greater y when it runs right.
    sign = np.sign(run) if number else -np.sign(run)
    is_straight = (high - low <= tolerance.LENGTH) & (length > tolerance.LENGTH)
    fits = high - low <= np.minimum(length * _TAPER, max(module - minimum, 0.0))
    is_wall = is_straight | (fits & ~edges.is_curve & (length > tolerance.LENGTH))
    outer = edges.ring <= 0  # later parts of a plan of several rooms have -1, -2 ...
    around = find_chords(edges.start[outer], edges.end[outer], number)
    chords = find_chords(edges.start, edges.end, number) if not outer.all() else around
    is_border = is_wall & outer
    lengths = _run_lengths(edges, np.where(is_border, low, np.nan), sign, length)
    is_border &= lengths >= min(modules[1 - number], lengths.max() / 2) - tolerance.LENGTH
    is_notch = (
        is_wall & outer & ~is_border & (lengths <= policy.minimum(modules[1 - number]) + tolerance.LENGTH)
    )
    facing, mirrored, is_paired = _opposites(around, is_straight, is_border, is_wall & ~is_border)
    return Axis(
        number=number,
        module=module,
        minimum=minimum,
        # Within the tolerance of lengths it would only blur the best offset.
        equal_within=policy.equal_within if policy.equal_within > tolerance.LENGTH else 0.0,
        span=float(high.max()),
        borders=read_strips(is_border, low, high, sign, around),
        returns=read_strips(is_wall & ~is_border & ~is_notch, low, high, sign, chords),
        notches=read_strips(is_notch, low, high, sign, chords),
        facing=facing[:, :2],
        facing_length=facing[:, 2],
        mirrored=mirrored[:, :2],
        mirrored_span=mirrored[:, 2:4],
        mirrored_length=mirrored[:, 4],
        is_paired=is_paired,
        fixtures=fixtures[:, [number, number + 2]],
        seats=seats,
        is_wall=is_wall,
        is_border=is_border,
        sign=sign,
        chords=chords,
    )


def _run_lengths(edges: Edges, place: _Floats, sign: _Floats, length: _Floats) -> _Floats:
    """Length of the straight wall that each edge is part of (edges,); 0 where `place` is NaN."""
    is_in = ~np.isnan(place)
    total = np.zeros(len(edges))
    for ring in np.unique(edges.ring[is_in]).tolist():
        number = np.flatnonzero(edges.ring == ring)
        at, turn = place[number], sign[number]
        # NaN compares unequal, so an edge that is no wall always ends a run.
        goes_on = (np.abs(at - np.roll(at, 1)) <= tolerance.LENGTH) & (turn == np.roll(turn, 1))
        group = np.cumsum(~goes_on)
        if goes_on[0]:
            group[group == 0] = group[-1]
        sums = np.bincount(group, weights=np.where(is_in[number], length[number], 0.0))
        total[number] = sums[group]
    return np.where(is_in, total, 0.0)


def _opposites(
    around: Chords, is_straight: _Bools, is_border: _Bools, is_return: _Bools
) -> tuple[_Floats, _Floats, bool]:
    """Pairs of opposite walls: (n, 3) places and length of straight ones; (m, 5) of tapering ones.

    The latter hold the centre line's two ends, the clear span and the length; curved walls
    are among them. Walls whose centre line runs off at more than the slope of a tapering
    wall are no pair: between a straight and an oblique wall no borders can be equal.
    Returns too short for a border are in no pair. The last value tells whether any pair
    is of two borders.
    """
    left, right = around.left, around.right
    middle = (around.left_s + around.right_s) / 2
    is_pair = np.abs(middle[:, 1] - middle[:, 0]) <= around.height * _TAPER / 2
    is_pair &= ~is_return[left] & ~is_return[right]
    both = is_pair & is_straight[left] & is_straight[right]
    taper = is_pair & ~both
    facing = np.stack([around.left_s[both, 0], around.right_s[both, 0]], axis=1)
    if len(facing):
        places, index = np.unique(facing.round(6), axis=0, return_inverse=True)
        height = np.bincount(index.ravel(), weights=around.height[both])
        facing = np.column_stack([places, height])
    else:
        facing = np.zeros((0, 3))
    span = np.stack([around.left_s.min(axis=1), around.right_s.max(axis=1)], axis=1)
    mirrored = np.column_stack([middle[taper], span[taper], around.height[taper]])
    return facing, mirrored, bool((is_pair & is_border[left] & is_border[right]).any())
