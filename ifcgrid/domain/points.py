"""Points that are marked on site, and what a survey of them says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Deviation", "PointRole", "SetPoint", "Survey"]


class PointRole(StrEnum):
    """What a point is for; the value is its code in a point file."""

    CHECK = "CK"
    GRID = "GR"
    HANGER = "HG"
    TRAPEZE = "TZ"
    BRACE = "BR"
    DEVICE = "DV"
    WIRE = "WR"

    @property
    def word(self) -> str:
        """The role as options and records name it."""
        return {"CK": "checks", "GR": "grid", "HG": "hangers", "TZ": "trapezes", "BR": "braces"}.get(
            self.value, {"DV": "devices", "WR": "wires"}.get(self.value, "")
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint:
    """One point: its name, unique in its model; model coordinates in mm; what it is, in words."""

    name: str
    role: PointRole
    room: str
    x: float
    y: float
    z: float
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """One measured point, measured less set out, in mm.

    `north`, `east`, `up` are as measured once units and axes were put right; `rest` holds
    the same less the shift and turn of all points. An outlier does not go with the others;
    one that is `beyond` is farther off than the tolerance, in plan or in height.
    """

    name: str
    north: float
    east: float
    up: float
    rest: tuple[float, float, float]
    is_outlier: bool
    is_beyond: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What measured points say against those set out.

    `slips` name mistakes of unit and axes, `says` whatever else a person must know, both as
    sentences. `shift` (north, east, up) in mm and `turn_deg` (counter-clockwise seen from
    above, about `centre`, which is northing and easting) take what was set out to where it
    was measured; `is_moved` tells that they are more than single errors. `rms` is that of
    the deviations in plan, `rest_rms` without the shift and turn.
    """

    points: tuple[Deviation, ...]
    missing: tuple[str, ...]
    unknown: tuple[str, ...]
    slips: tuple[str, ...]
    says: tuple[str, ...]
    shift: tuple[float, float, float]
    turn_deg: float
    centre: tuple[float, float]
    is_moved: bool
    rms: float
    rest_rms: float
    within: float
