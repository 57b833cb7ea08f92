"""Earthquake forces on ceilings, each formula with its source. Any consistent units.

The equations of ASCE 7-16 and 7-22 are second-hand: read in open-source code that
implements them, not in the standards. Confirm them before use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ifcgrid.domain.errors import PlanError

__all__ = [
    "ALLOWABLE_STRESS",
    "EDITIONS",
    "Force",
    "Seismic",
    "force_7_16",
    "force_7_22",
    "splay_tension",
]

ALLOWABLE_STRESS = 0.7
"""Share of the strength-level earthquake force in allowable-stress combinations (ASCE 7; from memory)."""


EDITIONS = ("7-16", "7-22")
"""Editions of ASCE 7 whose force equation is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seismic:
    """What a project says of its site. None: not said.

    `sds` is the design spectral acceleration at short periods in g, `z_over_h` the height of
    the ceiling's attachment over the building's, `importance` the component factor Ip,
    `edition` of ASCE 7. `walls_to_structure` tells that the walls round the ceilings are
    connected directly to the structure above.
    """

    sds: float | None = None
    z_over_h: float | None = None
    importance: float = 1.0
    edition: str = "7-16"
    walls_to_structure: bool | None = None

    def __post_init__(self) -> None:
        if self.edition not in EDITIONS:
            raise PlanError(
                f"seismic edition is {self.edition!r}; choose one of {', '.join(EDITIONS)} (of ASCE 7)"
            )
        _check("sds", self.sds, "from 0", 0.0, math.inf)
        _check("z_over_h", self.z_over_h, "from 0 to 1", 0.0, 1.0)
        _check("importance", self.importance, "from 1", 1.0, math.inf)
        if self.walls_to_structure not in (None, True, False):
            raise PlanError(f"seismic walls_to_structure is {self.walls_to_structure!r}; give true or false")


def _check(name: str, value: float | None, allowed: str, low: float, high: float) -> None:
    if value is None:
        return
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not (low <= value <= high) or math.isinf(value):
        raise PlanError(f"seismic {name} is {value!r}; give a number {allowed}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Force:
    """A horizontal force as shares of the weight: as `calculated`, its `least` and `greatest`."""

    calculated: float
    least: float
    greatest: float

    @property
    def share(self) -> float:
        """Fp / Wp, within its bounds."""
        return min(max(self.calculated, self.least), self.greatest)


def _bounded(calculated: float, sds: float, importance: float) -> Force:
    """Minimum 0.3 and maximum 1.6 SDS Ip Wp, in both editions (second-hand)."""
    return Force(calculated=calculated, least=0.3 * sds * importance, greatest=1.6 * sds * importance)


def force_7_16(
    sds: float,
    z_over_h: float,
    importance: float = 1.0,
    *,
    amplification: float = 1.0,
    response: float = 2.5,
) -> Force:
    """Fp / Wp = 0.4 ap SDS (1 + 2 z/h) / (Rp / Ip), ASCE 7-16 13.3.1 (second-hand).

    Defaults: the row of suspended ceilings, ap = 1.0, Rp = 2.5 (second-hand).

    >>> round(force_7_16(1.0, 1.0).share, 6)
    0.48
    """
    calculated = 0.4 * amplification * sds * (1 + 2 * z_over_h) / (response / importance)
    return _bounded(calculated, sds, importance)


def force_7_22(
    sds: float,
    z_over_h: float,
    importance: float = 1.0,
    *,
    ductility: float | None = None,
    resonance: float = 1.0,
    strength: float = 1.5,
) -> Force:
    """Fp / Wp = 0.4 SDS Ip (Hf / Rmu) (CAR / Rpo), ASCE 7-22 13.3.1 (second-hand).

    Hf = 1 + 2.5 z/h where the building's period is not known; `ductility` Rmu is at least
    1.3 above grade, and 1.0 at grade (from memory). Defaults: the row of suspended
    ceilings, CAR = 1.0, Rpo = 1.5 (second-hand).

    >>> round(force_7_22(1.0, 1.0).share, 4)
    0.7179
    """
    if ductility is None:
        ductility = 1.3 if z_over_h > 0 else 1.0
    height = 1 + 2.5 * z_over_h
    calculated = 0.4 * sds * importance * (height / ductility) * (resonance / strength)
    return _bounded(calculated, sds, importance)


def splay_tension(force: float, angle_deg: float, turn_deg: float = 0.0) -> float:
    """Tension of one splay wire that takes a horizontal force alone.

    Args:
        force: horizontal force along one axis of the ceiling.
        angle_deg: angle of the wire from the ceiling's plane.
        turn_deg: angle in plan between the wire and the force.

    Returns:
        F / (cos angle x cos turn): the wires on the other side go slack (statics). The post
        takes the vertical part, tension x sin angle; it equals F at 45 degrees.
    """
    return force / (math.cos(math.radians(angle_deg)) * math.cos(math.radians(turn_deg)))
