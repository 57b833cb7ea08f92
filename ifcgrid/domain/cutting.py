"""What parts are cut from: demands, stock, plans. Lengths in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from ifcgrid.domain import tolerance

__all__ = [
    "Bar",
    "BarPlan",
    "CutRules",
    "Direction",
    "PanelDemand",
    "PanelPlan",
    "Part",
    "Placed",
    "Scope",
    "Side",
    "Stock",
]


class Scope(StrEnum):
    """Whose parts share bars and panels."""

    ROOM = "room"
    STOREY = "storey"
    JOB = "job"


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRules:
    """What one cut takes, in mm, and how many parts with a factory end one stock tee gives."""

    bar_kerf: float = 3.0
    panel_kerf: float = 0.0
    tees_from_one: int = 2
    fixing_spacing: float = 450.0
    basis: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A bar as it is bought: a main runner, a tee of one nominal length, a wall angle.

    `item` is the role's word, `section` its size in words; `first_hole` and `pitch` of the
    rout holes are NaN where position does not matter; holes lie at `first_hole + k * pitch`
    from the bar's start. `kerf` is what one cut takes. `end_parts` is how many parts with a
    factory end one bar may give: 2, or 1 where off-cut ends are not to be used.
    """

    item: str
    section: str
    length: float
    kerf: float = 0.0
    first_hole: float = math.nan
    pitch: float = math.nan
    end_parts: int = 2

    @property
    def has_holes(self) -> bool:
        """Whether cut parts must keep the phase of the holes."""
        return math.isfinite(self.first_hole) and math.isfinite(self.pitch)

    @property
    def is_reversible(self) -> bool:
        """Whether the holes lie alike from both ends, so that a part may be cut turned end for end."""
        if not self.has_holes:
            return True
        steps = (self.length - 2 * self.first_hole) / self.pitch
        return abs(steps - round(steps)) * self.pitch <= tolerance.LENGTH


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One length to be cut. `key` is the member's or piece's full key in the model.

    `is_factory` tells which of its ends, start and end, must be a bar's own end;
    `first_hole` is the distance from its start to its first hole, NaN where that does not
    matter. `room` is the room's key; `order` its place in the order of work.
    """

    key: str
    mark: str
    room: str
    length: float
    is_factory: tuple[bool, bool] = (False, False)
    first_hole: float = math.nan
    order: int = 0

    @property
    def ends(self) -> int:
        """How many factory ends it needs."""
        return sum(self.is_factory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A part in a bar: its index in the plan's parts, where it begins, whether it is turned end for end."""

    part: int
    at: float
    is_turned: bool = False


Bar = tuple[Placed, ...]
"""The parts that one bar gives, from its start."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BarPlan:
    """How all parts of one stock are cut.

    `bound` is the least number of bars that any plan needs, by `bound_basis`; `method`
    says how the plan was found; `scope` whose parts are cut together; `notes` are
    sentences for people.
    """

    stock: Stock
    scope: str
    parts: tuple[Part, ...]
    bars: tuple[Bar, ...]
    bound: int
    bound_basis: str
    method: str
    notes: tuple[str, ...] = ()

    @property
    def gap(self) -> float:
        """How far the plan may be from the best one: 0.01 is 1 % of the bound."""
        return (len(self.bars) - self.bound) / self.bound if self.bound else 0.0

    @property
    def used(self) -> float:
        """Length of all parts."""
        return math.fsum(part.length for part in self.parts)

    @property
    def waste(self) -> float:
        """Length bought and not hung."""
        return len(self.bars) * self.stock.length - self.used


class Direction(StrEnum):
    """How a panel's pattern lets a piece be turned before it is hung.

    `FREE`: by any right angle that fits; `HALF_TURN`: end for end only; `FIXED`: not at all
    (arrows on the back all point one way).
    """

    FREE = "free"
    HALF_TURN = "half-turn"
    FIXED = "fixed"


class Side(StrEnum):
    """The sides of a panel along its local axes."""

    LOW_U = "low u"
    LOW_V = "low v"
    HIGH_U = "high u"
    HIGH_V = "high v"


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelDemand:
    """A cut panel. `rings` is its outline in its cell, (0, 0) the cell's lower corner.

    `factory` names the sides that lie on grid lines and so must be factory edges.
    """

    key: str
    mark: str
    room: str
    rings: tuple[tuple[tuple[float, float], ...], ...]
    area: float
    factory: frozenset[Side]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelPlan:
    """How the panels of one size are cut.

    `sheets` holds the one or two demands that each cut panel gives; `turns` the quarter
    turns of the second. `full` whole panels are hung uncut. `bound` is the least number of
    panels to be cut when one gives at most two pieces.
    """

    system: str
    scope: str
    along: float
    across: float
    kerf: float
    direction: Direction
    full: int
    demands: tuple[PanelDemand, ...]
    sheets: tuple[tuple[int, ...], ...]
    turns: tuple[int, ...]
    bound: int
    method: str

    @property
    def panels(self) -> int:
        """Panels that are hung whole or cut."""
        return self.full + len(self.sheets)

    @property
    def gap(self) -> float:
        """How far the number of cut panels may be from the best one."""
        return (len(self.sheets) - self.bound) / self.bound if self.bound else 0.0

    @property
    def waste_area(self) -> float:
        """Panel area in mm² that is bought and not hung."""
        hung = self.full * self.along * self.across + math.fsum(d.area for d in self.demands)
        return self.panels * self.along * self.across - hung
