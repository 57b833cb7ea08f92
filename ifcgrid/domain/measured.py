"""Rooms as they were measured on site: what was measured, and what became of the outline.

Lengths in mm. A corner of the outline bears the letters of the wall that ends there and of
the wall that begins there, in ring order: AB, or A/B where a letter is double (AA/AB).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shapely import Polygon

__all__ = [
    "AsMeasured",
    "LayoutBefore",
    "MeasuredLength",
    "SiteLength",
    "SiteMeasures",
    "WallLength",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLength:
    """One length from site: along a wall (`name` its letter), or straight from corner to corner (`AB-CD`).

    `deviation` is its standard deviation.
    """

    name: str
    length: float
    deviation: float

    @property
    def is_wall(self) -> bool:
        """Whether it runs along one wall."""
        return "-" not in self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteMeasures:
    """One `[[measured]]` table of a plan.

    `picks` finds its room as those of `[[rooms]]` do; `line` is its line in the plan file.
    `level` is the height of the ceiling's underside above the floor; `within` the most that
    a length may differ from the model's; `hold` the wall that stays on its line in the
    model, "" for the best fit along the longest wall.
    """

    line: int
    picks: Mapping[str, str]
    lengths: tuple[SiteLength, ...]
    level: float | None = None
    date: str = ""
    by: str = ""
    within: float
    hold: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLength:
    """What the adjustment says of one length from site.

    `before` is its value in the model, `given` the measured one, `after` that of the
    adjusted outline; `redundancy` from 0 (nothing checks it) to 1; `standardised` is the
    residual in its own standard deviations, None where nothing checks it; both as the
    lengths check each other, whatever the model's angles. A length that contradicts the
    others is set aside and did not take part.
    """

    name: str
    before: float
    given: float
    after: float
    deviation: float
    redundancy: float
    standardised: float | None
    is_set_aside: bool = False

    @property
    def is_wall(self) -> bool:
        """Whether it runs along one wall."""
        return "-" not in self.name

    @property
    def residual(self) -> float:
        """Adjusted less measured."""
        return self.after - self.given


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLength:
    """A wall by its letter: its length in the model and in the adjusted outline."""

    letter: str
    before: float
    after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutBefore:
    """The layout that the model's outline would get.

    `angle_deg` is the direction of its mains; `borders` holds least and greatest by wall letter.
    """

    angle_deg: float
    columns: int
    rows: int
    full: int
    cut: int
    reason: str
    borders: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AsMeasured:
    """How a zone's outline came from the model's by measuring.

    `design` is the model's outline; `redundancy` counts the lengths beyond those that the
    shape needs; `is_square` tells that no wall was turned, for every length fits the model's
    angles within its deviation; `before` is None until the model's outline has been laid out too.
    """

    design: Polygon
    lengths: tuple[MeasuredLength, ...]
    walls: tuple[WallLength, ...]
    redundancy: int
    level: float | None = None
    date: str = ""
    by: str = ""
    hold: str = ""
    is_square: bool = False
    notes: tuple[str, ...] = ()
    before: LayoutBefore | None = None

    @property
    def set_aside(self) -> tuple[MeasuredLength, ...]:
        """The lengths that contradict the others."""
        return tuple(one for one in self.lengths if one.is_set_aside)
