"""A storey's reflected ceiling plan as things in model coordinates, before any paper or file format.

SVG, PDF and DXF are written from the same things, so none of them can show another ceiling.
Coordinates are model millimetres seen from above: as in a mirror on the floor the ceiling
keeps the orientation of the floor plan, nothing changes sides. Sizes of texts and of signs
are millimetres of paper; times the scale they are millimetres of the building.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

__all__ = [
    "Area",
    "DimensionLine",
    "Drawing",
    "Lines",
    "Mark",
    "Outline",
    "Part",
    "Tag",
    "Thing",
    "Words",
]


class Part(StrEnum):
    """What a thing of the plan is; each has its row in the table of layers."""

    CEILING = "ceiling"
    ROOM = "room"
    NO_GRID = "no grid"
    MAIN_RUNNER = "main runner"
    CROSS_TEE = "cross tee"
    SECOND_TEE = "second tee"
    WALL_ANGLE = "wall angle"
    HANGER = "hanger"
    TRAPEZE = "trapeze"
    BRACE = "brace"
    DEVICE_WIRE = "device wire"
    STABILISER = "stabiliser"
    JOINT = "separation joint"
    OPENING = "opening"
    LIGHT = "light"
    AIR_TERMINAL = "air terminal"
    SPRINKLER = "sprinkler"
    DETECTOR = "detector"
    DEVICE = "device"
    AXIS = "building axis"
    WALL = "wall"
    WALL_FILL = "wall fill"
    COLUMN = "column"
    COLUMN_FILL = "column fill"
    DIMENSION = "dimension"
    TAG = "tag"
    FINDING = "finding"
    SHEET = "sheet"
    NOTE = "note"
    VIEW = "view"


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of text: `point` is its anchor on the baseline; `size` on paper."""

    point: tuple[float, float]
    text: str
    size: float
    anchor: str = "middle"
    is_bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Straight strokes: `ends` (n, 2, 2); `keys` names each, or is empty. `zone` is the ceiling's key."""

    part: Part
    ends: NDArray[np.float64]
    keys: tuple[str, ...] = ()
    zone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """The closed rings of a shape."""

    part: Part
    shape: Polygon | MultiPolygon
    key: str = ""
    zone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Area:
    """A filled shape: `pattern` is `grey` or `dots`."""

    part: Part
    shape: Polygon | MultiPolygon
    pattern: str
    zone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """A symbol by its name, placed with its middle at `point`.

    `size` is its length and width along its own axes: of the building, or of paper where
    `is_sign`. `facts` are what the model says of it, by tag; `words` stand beside it.
    """

    part: Part
    symbol: str
    point: tuple[float, float]
    size: tuple[float, float]
    angle_deg: float = 0.0
    is_sign: bool = False
    key: str = ""
    zone: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    words: Words | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DimensionLine:
    """A border as it is built: from the wall's face to the first line, or to a crossing of two lines.

    `text` is the length rounded once as all printed lengths; `words` says where it stands.
    `edge` is the (ring, edge) of the zone's outline that it belongs to.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    words: Words
    edge: tuple[int, int]
    zone: str = ""

    @property
    def length(self) -> float:
        """The exact length in mm."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """What a plan says of one room, by tag, and where: `mask` is what is kept white behind it.

    `mask` holds least x, least y, greatest x, greatest y. A tag that found no place in its
    room stands beside it with a `leader` from its edge into the room.
    """

    room: str
    lines: tuple[tuple[str, Words], ...]
    mask: tuple[float, float, float, float]
    leader: tuple[tuple[float, float], ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    zone: str = ""


Thing = Lines | Outline | Area | Mark | DimensionLine | Tag


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """All things of a plan in the order in which they are drawn, and how they are printed.

    `scale` is 1 to so much; `units` says how lengths are printed; `extent` holds least x,
    least y, greatest x, greatest y of the rooms.
    """

    title: str
    scale: float
    units: str
    extent: tuple[float, float, float, float]
    things: tuple[Thing, ...] = field(default=())
