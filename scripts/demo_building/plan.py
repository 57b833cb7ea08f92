"""What a demo room, wall and ceiling is, and the levels and places they stand in."""

from __future__ import annotations

from dataclasses import dataclass

from demo_building.geometry import Outline, Place

__all__ = [
    "FLOOR_FINISH",
    "LINK",
    "PLACES",
    "SOFFIT",
    "STOREYS",
    "CeilingSpec",
    "RoomSpec",
    "WallSpec",
]

STOREYS = {"ground": ("Ground floor", 0.0), "upper": ("First floor", 4200.0)}
"""Name and elevation of each storey."""

SOFFIT = {"ground": 3920.0, "upper": 3900.0, "wing": 3700.0}
"""Underside of the structure above, from the storey's elevation."""

FLOOR_FINISH = 15.0
"""Floor finish above the storey's elevation in most rooms."""

PLACES = {"main": Place(), "wing": Place(x=-2000.0, y=700.0, angle_deg=17.0)}
"""The two plan frames of the building."""

LINK = "040"
"""The glazed link between the two; the only room with a sloped top."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomSpec:
    """One space: how it is drawn, what it says of its height, and what should come of it.

    `outline` and `holes` are in the frame of `place`; `floor` and `top` (None: the soffit
    above) from the storey's elevation. `body` is extruded, brep, faces, triangles, clipped
    or none. The height evidence: `finish` = FinishCeilingHeight in `finish_in`
    (quantity, metres = quantity with its own unit, property), `concealed` =
    ConcealedCeilingOffset, `flooring` = FinishFloorHeight, `state_height` = Height.
    `height` is the ceiling height above `floor` (above the flooring where that is given)
    that a reader should find in `source`.
    """

    number: str
    name: str
    storey: str
    outline: Outline
    holes: tuple[Outline, ...] = ()
    place: str = "main"
    floor: float = FLOOR_FINISH
    top: float | None = None
    body: str = "extruded"
    finish: float | None = None
    finish_in: str = "quantity"
    concealed: float | None = None
    flooring: float = 0.0
    state_height: bool = True
    external: bool = False
    height: float | None = None
    source: str = "finish-ceiling-height"
    status: str = "laid-out"
    why: str = ""
    key: str = ""

    @property
    def id(self) -> str:
        """The number, or the key where two rooms bear one number."""
        return self.key or self.number


@dataclass(frozen=True, slots=True, kw_only=True)
class WallSpec:
    """One wall: its plan outline, and its bottom and top from the storey's elevation."""

    name: str
    storey: str
    outline: Outline
    top: float
    bottom: float = 0.0
    place: str = "main"
    external: bool = False
    fire_rating: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CeilingSpec:
    """One ceiling that the architect drew: underside from the storey's elevation, rooms it hangs over.

    `related` tells how the model joins it to them: boundary, space (contained in the
    first room), or storey (contained in the storey, found by footprint only).
    """

    name: str
    storey: str
    outline: Outline
    underside: float
    rooms: tuple[str, ...]
    related: str
    thickness: float = 15.0
