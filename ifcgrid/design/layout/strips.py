"""The strips between walls and the grid lines next to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.walls import Chords
from ifcgrid.domain import tolerance

__all__ = ["Strips", "read_strips", "strip_offsets"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strips:
    """Walls along the lines of one direction, one entry a wall.

    `edge` (n,) are their numbers among the edges; `low`, `high` (n,) are where the wall
    stands on the s axis (equal unless it tapers), `sign` is +1 where the room lies at
    greater s; `chord`, `chord_least` are the greatest and the least clear width across the
    room in front of it.
    """

    edge: NDArray[np.int64]
    low: _Floats
    high: _Floats
    sign: _Floats
    chord: _Floats
    chord_least: _Floats

    @property
    def near(self) -> _Floats:
        """Where the strip is narrowest (n,)."""
        return np.where(self.sign > 0, self.high, self.low)

    def widths(self, offsets: _Floats, module: float) -> _Floats:
        """Narrow ends (k, n) of the strips up to the next line, in (0, module].

        A wall on a line has a strip of a whole module: a full panel. A tapering wall that a
        line meets has a strip of 0.
        """
        width = np.mod(self.sign * (offsets[:, None] - self.near), module)
        width = np.where(width <= tolerance.LENGTH, module, width)
        crossed = width + (self.high - self.low) > module + 2 * tolerance.LENGTH
        return np.where(crossed & (self.high - self.low > tolerance.LENGTH), 0.0, width)

    def shortfalls(self, offsets: _Floats, module: float, minimum: float) -> _Floats:
        """How far the worst strip falls short of the minimum (k,).

        Where the room itself is narrower than the minimum, only cutting it counts.
        """
        if len(self.low) == 0:
            return np.zeros(len(offsets))
        width = self.widths(offsets, module)
        short = np.minimum(minimum, self.chord) - width
        worst: _Floats = np.where(width < self.chord - tolerance.LENGTH, short, 0.0).max(axis=1)
        return np.maximum(worst, 0.0)

    def narrowest(self, offsets: _Floats, module: float) -> _Floats:
        """Width of the narrowest strip (k,); where no line is in the room, the room's own width."""
        if len(self.low) == 0:
            return np.zeros(len(offsets))
        width = self.widths(offsets, module)
        is_strip = width < self.chord - tolerance.LENGTH
        least = np.where(is_strip, width, np.inf).min(axis=1)
        whole = min(float(self.chord.max()), module)
        return np.where(np.isfinite(least), least, whole)


def read_strips(
    chosen: NDArray[np.bool_], low: _Floats, high: _Floats, sign: _Floats, chords: Chords
) -> Strips:
    """The strips of the chosen edges: (edges,) flags, places and signs, and what faces them."""
    greatest, least = np.zeros(len(low)), np.full(len(low), np.inf)
    for side in (chords.left, chords.right):
        np.maximum.at(greatest, side, chords.width.max(axis=1))
        # The widest place of each trapezoid: at an acute corner the room always runs out to nothing.
        np.minimum.at(least, side, chords.width.max(axis=1))
    return Strips(
        edge=np.flatnonzero(chosen),
        low=low[chosen],
        high=high[chosen],
        sign=sign[chosen],
        chord=greatest[chosen],
        chord_least=least[chosen],
    )


def strip_offsets(strips: Strips, minimum: float, module: float) -> list[_Floats]:
    """All offsets at which the strips jump, reach the minimum, or are equally wide or short.

    A strip is least a hair to the room side of the wall: there the score jumps.
    """
    hair = 2 * tolerance.LENGTH
    return [
        strips.low,
        strips.high,
        strips.near + strips.sign * hair,
        strips.near + strips.sign * np.minimum(minimum, strips.chord),
        strips.near + strips.sign * strips.chord,
        *_meeting(strips, minimum, module),
    ]


def _meeting(strips: Strips, minimum: float, module: float) -> list[_Floats]:
    """Offsets at which the strips of two walls that face each other are equal, or equally short."""
    wanted = np.minimum(minimum, strips.chord)
    places, index = np.unique(
        np.stack([strips.near, strips.sign, wanted], axis=1).round(6), axis=0, return_index=True
    )
    near, wanted = strips.near[index], wanted[index]
    ahead, back = places[:, 1] > 0, places[:, 1] < 0
    twice = near[ahead][:, None] + near[back][None]
    skewed = twice + wanted[ahead][:, None] - wanted[back][None]
    both = np.concatenate([twice.ravel(), skewed.ravel()]) / 2
    return [both, both + module / 2]
