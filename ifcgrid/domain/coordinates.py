"""Coordinates in which points are set out: those of the project, or of a map; and their units."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.units import INCH

__all__ = ["PROJECT", "Coordinates", "PointUnit"]


class PointUnit(StrEnum):
    """Units of a point file. The two feet differ by 2 ppm: 2 mm in a kilometre of coordinate."""

    MM = "mm"
    METRE = "m"
    FOOT = "ft"
    US_SURVEY_FOOT = "us-ft"

    @property
    def size(self) -> float:
        """Millimetres in one unit."""
        return float(_SIZES[self])

    @property
    def words(self) -> str:
        """The unit in words."""
        return _WORDS[self]

    @property
    def decimals(self) -> int:
        """Decimals that print a tenth of a millimetre or finer."""
        return 1 if self is PointUnit.MM else 4


_SIZES = {
    PointUnit.MM: Fraction(1),
    PointUnit.METRE: Fraction(1000),
    PointUnit.FOOT: 12 * INCH,
    # 1200/3937 m (US Federal Register, 1 July 1959; withdrawn at the end of 2022 by NIST and NGS).
    PointUnit.US_SURVEY_FOOT: Fraction(1_200_000, 3937),
}

_WORDS = {
    PointUnit.MM: "millimetres",
    PointUnit.METRE: "metres",
    PointUnit.FOOT: "international feet (0.3048 m)",
    PointUnit.US_SURVEY_FOOT: "US survey feet (1200/3937 m)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Coordinates:
    """How northing, easting and elevation come from a model's x, y, z, all in mm.

        easting   = base easting  + sx x cos a - sy y sin a
        northing  = base northing + sx x sin a + sy y cos a
        elevation = base height   + sz z

    `base` is easting, northing and height of the model's origin; `turn_deg` the angle `a`
    from east to the model's X axis, counter-clockwise; `scale` holds sx, sy, sz. `kind` is
    "project" or "map"; `name`, `epsg` and `datum` tell the system of a map; `notes` what a
    surveyor has to know of it besides.
    """

    kind: str
    name: str
    base: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn_deg: float = 0.0
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    direction: tuple[float, float] | None = None
    epsg: str = ""
    datum: str = ""
    notes: tuple[str, ...] = ()

    def _turn(self) -> tuple[float, float]:
        """Cosine and sine of the turn; from the direction as it was written where there is one."""
        if self.direction is not None:
            size = math.hypot(*self.direction)
            return self.direction[0] / size, self.direction[1] / size
        return math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))

    def to_site(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Northing, easting, elevation (n, 3) in mm of model points (n, 3)."""
        c, s = self._turn()
        x, y, z = (np.asarray(points, dtype=float) * np.array(self.scale)).T
        east, north, height = self.base
        site: NDArray[np.float64] = np.stack(
            [north + s * x + c * y, east + c * x - s * y, height + z], axis=1
        )
        return site

    def to_model(self, site: NDArray[np.float64]) -> NDArray[np.float64]:
        """Model points (n, 3) of northing, easting, elevation (n, 3) in mm."""
        c, s = self._turn()
        east, north, height = self.base
        n, e, h = (np.asarray(site, dtype=float) - np.array([north, east, height])).T
        model: NDArray[np.float64] = np.stack([c * e + s * n, c * n - s * e, h], axis=1) / np.array(
            self.scale
        )
        return model


PROJECT = Coordinates(kind="project", name="project coordinates: easting is the model's X, northing its Y")
"""The model's own axes."""
