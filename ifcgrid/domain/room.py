"""Rooms as the model gives them, and zones: rooms under one continuous ceiling."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.measured import AsMeasured

__all__ = ["CeilingHeight", "Covering", "HeightEvidence", "HeightSource", "Room", "SkippedRoom", "Zone"]


class HeightSource(StrEnum):
    """Where a ceiling height was found, in the order in which sources are believed."""

    PLAN = "plan"
    COVERING = "covering"
    FINISH_CEILING_HEIGHT = "finish-ceiling-height"
    COVERING_REQUIREMENT = "covering-requirement"
    PROPERTY = "property"
    SPACE_HEIGHT = "space-height"
    BODY = "body"


_ABOUT_CEILINGS = frozenset(
    {
        HeightSource.PLAN,
        HeightSource.COVERING,
        HeightSource.FINISH_CEILING_HEIGHT,
        HeightSource.COVERING_REQUIREMENT,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightEvidence:
    """One source's word on the ceiling height: mm above the room's floor, and where it stands."""

    source: HeightSource
    value: float
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CeilingHeight:
    """The height that was believed, in mm above the room's floor, and all that was found.

    `candidates` holds every evidence in order of belief, the winner first.
    """

    value: float
    source: HeightSource
    candidates: tuple[HeightEvidence, ...]

    @property
    def conflicts(self) -> tuple[HeightEvidence, ...]:
        """The sources that disagree with the winner by more than `tolerance.HEIGHT`."""
        return tuple(c for c in self.candidates if abs(c.value - self.value) > tolerance.HEIGHT)

    @property
    def disputes(self) -> tuple[HeightEvidence, ...]:
        """The conflicts that a person must settle.

        A space that is modelled higher than its ceiling is the rule, not a dispute; another
        word on the ceiling itself is one, and so is a space that ends below its ceiling.
        """
        if self.source not in _ABOUT_CEILINGS:
            return self.conflicts
        return tuple(c for c in self.conflicts if c.source in _ABOUT_CEILINGS or c.value < self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covering:
    """A ceiling that the model already holds; heights are model z in mm.

    `outline` is its plan silhouette in model coordinates; `key` its GlobalId. `also` holds
    the GlobalIds of ceilings that go with it when it is replaced: identical ones that lie
    on it, and further pieces at its level over the same room.
    """

    key: str
    name: str
    outline: Polygon | MultiPolygon
    underside: float
    top: float
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One space with all a ceiling needs to know of it. Lengths in mm, model coordinates.

    `section` is the space's horizontal section at ceiling height, cleaned, holes kept;
    `outline` is the part of it that gets a grid (soffit strips, columns and walls that
    stand in it taken out; equal to `section` until `zones` carves it). `floor` and `top`
    are model z of the body's bottom and top; `height` is None when no source gave one.
    `covering` is the architect's ceiling over this room, to be adopted; `soffits` are
    local lower ceilings. `open_to` holds keys of rooms that the model says are joined by
    a virtual boundary. `stated_area_m2` is the area the model itself states. `notes` are
    sentences for people. `also` holds keys of spaces that are duplicates of this one.
    """

    key: str
    name: str
    number: str
    storey: str
    storey_key: str
    section: Polygon
    outline: Polygon
    floor: float
    top: float
    height: CeilingHeight | None
    covering: Covering | None = None
    soffits: tuple[Covering, ...] = ()
    open_to: tuple[str, ...] = ()
    stated_area_m2: float | None = None
    notes: tuple[str, ...] = ()
    also: tuple[str, ...] = ()

    @property
    def level(self) -> float:
        """Model z of the ceiling's underside in mm; RoomError's job is done by the reader."""
        if self.height is None:
            raise ValueError(f"room {self.number} has no ceiling height")
        return self.floor + self.height.value


@dataclass(frozen=True, slots=True, kw_only=True)
class SkippedRoom:
    """A space that gets no ceiling, and the one reason why.

    `status` is `skipped` (on purpose: shaft, outdoor, excluded, duplicate) or `failed`
    (its data cannot be used).
    """

    key: str
    name: str
    number: str
    storey: str
    status: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """Rooms under one continuous ceiling: one outline, one level, one frame.

    Most zones hold one room and bear its key. `outline` is in model coordinates, `level`
    the model z of the ceiling's underside, both in mm. Where `outline` was measured on
    site, `measured` tells how it differs from the model's.
    """

    key: str
    rooms: tuple[Room, ...]
    outline: Polygon
    level: float
    notes: tuple[str, ...] = ()
    measured: AsMeasured | None = None
