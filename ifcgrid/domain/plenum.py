"""How high a ceiling could hang: what above it keeps it down, and what moving that would gain."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Kind

__all__ = ["Keeper", "Plenum"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeper:
    """One obstacle that keeps a ceiling down; heights are model z in mm.

    `bottom` is its lowest z where it counts, at the plan point `spot` in model coordinates;
    `need` the clear height in mm that `rule` asks from the ceiling's underside up to it, with
    its `source`; `device` the key of the device in the ceiling that needs it, "" where the
    ceiling itself does.
    """

    key: str
    kind: Kind
    name: str
    bottom: float
    need: float
    rule: str
    source: str
    spot: tuple[float, float]
    device: str = ""

    @property
    def level(self) -> float:
        """The highest level of the ceiling's underside under this obstacle."""
        return self.bottom - self.need

    @property
    def words(self) -> str:
        """What people call it: duct 'Low duct 020'."""
        return f"{self.kind.value} '{self.name or self.key}'"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plenum:
    """What is above one ceiling, the lowest first.

    `zone` is the ceiling's key, `level` its underside and `floor` its first room's floor, model
    z in mm; `keepers` hold each obstacle once, with the clearance that counts most;
    `through` names what meets the ceiling at every usable height; `is_known` is False
    where no structure stands over part of the zone, so that more may be there. `walls` are
    names and tops of walls at the zone's edge that reach its ceiling, the lowest first: above
    a wall's top the ceiling would no longer be parted there.

    `least` is the level that people need at least.

    `tried` is the level that was built and judged without fault from above, None where none
    was; `held_by` says in the judge's words what fails above it, where that is not the
    arithmetic of the keepers.
    """

    zone: str
    level: float
    floor: float
    keepers: tuple[Keeper, ...]
    through: tuple[str, ...] = ()
    is_known: bool = True
    least: float = -math.inf
    walls: tuple[tuple[str, float], ...] = ()
    tried: float | None = None
    held_by: str = ""

    @property
    def highest(self) -> float | None:
        """The highest level that clears everything, None where nothing is above."""
        found = self.keepers[0].level if self.keepers else None
        if self.tried is None or found is None:
            return found if self.tried is None else self.tried
        return min(found, self.tried)

    @property
    def is_usable(self) -> bool:
        """Whether people can stand under the highest level."""
        return self.highest is None or self.highest >= self.least - tolerance.HEIGHT

    @property
    def governing(self) -> Keeper | None:
        """The obstacle that keeps the ceiling down."""
        return self.keepers[0] if self.keepers else None

    @property
    def lower_walls(self) -> tuple[tuple[str, float], ...]:
        """The walls that end below the highest level."""
        highest = self.highest
        return () if highest is None else tuple(w for w in self.walls if w[1] < highest)

    def without(self, count: int) -> float | None:
        """The highest level if the first `count` keepers were moved out of the way."""
        return self.keepers[count].level if len(self.keepers) > count else None
