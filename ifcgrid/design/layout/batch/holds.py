"""Fixed devices in one direction of a room: which offsets of the lines put them on module."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.seats import Seats
from ifcgrid.domain import tolerance

__all__ = ["Holds"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Holds:
    """The devices of a room along one axis: `boxes` (n, 2) the ranges of those that want cells, `seats`."""

    boxes: _Floats
    seats: Seats

    def count_off(self, offsets: _Floats, module: float) -> _Floats:
        """How many devices (k,) are off module when a line lies at each offset (k,)."""
        off: _Floats = self.seats.count_off(offsets, module)
        if len(self.boxes) == 0:
            return off
        # Nearest line to where the first line of the device's cells should be.
        wanted = self.centred(module)
        away = wanted - offsets[:, None]
        away = np.abs(np.round(away / module) * module - away)
        fits = away <= tolerance.ON_MODULE + tolerance.SCORE
        fits &= self._room(module) - (self.boxes[:, 1] - self.boxes[:, 0]) <= tolerance.LAY_IN_SLACK
        count: _Floats = off + np.count_nonzero(~fits, axis=1)
        return count

    def _room(self, module: float) -> _Floats:
        """Size (n,) of the whole cells that each device takes."""
        size = self.boxes[:, 1] - self.boxes[:, 0]
        room: _Floats = np.maximum(np.ceil((size - tolerance.LENGTH) / module), 1.0) * module
        return room

    def centred(self, module: float) -> _Floats:
        """Offsets at which a device lies in the middle of its cells."""
        centred: _Floats = (self.boxes.sum(axis=1) - self._room(module)) / 2
        return centred

    def critical(self, module: float) -> list[_Floats]:
        """Offsets at which a device comes on or off module, or a line begins or ceases to cross it."""
        wanted, slack = self.centred(module), tolerance.LAY_IN_SHIFT
        found = [wanted - tolerance.ON_MODULE, wanted + tolerance.ON_MODULE]
        for side in self.boxes.T:
            found += [side - slack, side + slack]
        return [*found, *self.seats.critical(module)]

    def crossed_by(self, at: _Floats) -> NDArray[np.bool_]:
        """Which devices (n, lines) a line at each place (lines,) runs through."""
        slack = tolerance.LAY_IN_SHIFT - tolerance.SCORE
        crossed: NDArray[np.bool_] = (self.boxes[:, :1] + slack < at) & (self.boxes[:, 1:] - slack > at)
        return crossed
