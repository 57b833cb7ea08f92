"""Fixed devices smaller than a cell: where the grid may lie so that they are at agreed points of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.frame import Frame

__all__ = ["HeldPoint", "Seats", "see_seats"]

_Floats = NDArray[np.float64]

_CENTRE = (0.5,)
_WITH_QUARTERS = (0.25, 0.5, 0.75)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPoint:
    """The middle of a fixed device in model coordinates in mm; `has_quarters`: a quarter point will do."""

    x: float
    y: float
    has_quarters: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seats:
    """Fixed points in one direction: `place` (n,) in mm, `has_quarters` (n,)."""

    place: _Floats
    has_quarters: NDArray[np.bool_]

    def count_off(self, offsets: _Floats, module: float) -> _Floats:
        """How many points (k,) are off their seats when a line lies at each offset (k,)."""
        if len(self.place) == 0:
            return np.zeros(len(offsets))
        share = np.mod(self.place - offsets[:, None], module)
        away = np.abs(share - module / 2)
        quarter = np.abs(away - module / 4)
        nearest = np.where(self.has_quarters, np.minimum(away, quarter), away)
        off: _Floats = np.count_nonzero(nearest > tolerance.SEAT + tolerance.SCORE, axis=1).astype(float)
        return off

    def critical(self, module: float) -> list[_Floats]:
        """Offsets at which a point is on its seat, or just so: between them nothing changes."""
        found = []
        for shares, places in (
            (_CENTRE, self.place[~self.has_quarters]),
            (_WITH_QUARTERS, self.place[self.has_quarters]),
        ):
            for share in shares:
                exact = places - share * module
                found += [exact, exact - tolerance.SEAT, exact + tolerance.SEAT]
        return found


def see_seats(points: Sequence[HeldPoint], frame: Frame) -> tuple[Seats, Seats]:
    """The points in both directions of a frame."""
    local = frame.to_local(np.array([(p.x, p.y) for p in points]).reshape(-1, 2))
    quarters = np.array([p.has_quarters for p in points], dtype=bool)
    return (
        Seats(place=local[:, 0], has_quarters=quarters),
        Seats(place=local[:, 1], has_quarters=quarters),
    )
