"""Things that are not ceiling: fixtures, services, structure and walls."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

__all__ = ["DEVICES", "SERVICES", "STRUCTURE", "Kind", "Obstacle"]


class Kind(StrEnum):
    """What an obstacle is, in the trade's words."""

    LIGHT = "light"
    AIR_TERMINAL = "air terminal"
    SPRINKLER = "sprinkler"
    DETECTOR = "detector"
    DEVICE = "device"
    DUCT = "duct"
    PIPE = "pipe"
    TRAY = "cable tray"
    EQUIPMENT = "equipment"
    BEAM = "beam"
    SLAB = "slab"
    ROOF = "roof"
    COLUMN = "column"
    WALL = "wall"
    DOOR = "door"
    WINDOW = "window"
    OTHER = "other"


DEVICES = frozenset({Kind.LIGHT, Kind.AIR_TERMINAL, Kind.SPRINKLER, Kind.DETECTOR, Kind.DEVICE})
"""Kinds that may sit in a ceiling and are judged against the module."""

SERVICES = frozenset({Kind.DUCT, Kind.PIPE, Kind.TRAY, Kind.EQUIPMENT})
"""Kinds that run above a ceiling and may not touch it or its hangers."""

STRUCTURE = frozenset({Kind.SLAB, Kind.ROOF, Kind.BEAM})
"""Kinds that a hanger may be fixed to."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Obstacle:
    """One thing in the way, in model coordinates and mm.

    `outline` is its plan silhouette, `bottom` and `top` its lowest and highest z, `mesh`
    its triangles (n, 3, 3) when its true shape matters (sloped roofs, round ducts), else
    None. `source` is the file it came from, `type_name` what its type is called;
    `weight_kg` None where the model does not say what it weighs. `barrier` says what a wall
    has to keep back (fire, smoke, sound) in the words of the model, "" where nothing;
    `needs_access` that hands must get at it (valve, damper, terminal box, junction box);
    `sweep` is where a door's leaf swings, None where the model does not say.
    """

    key: str
    kind: Kind
    name: str
    outline: Polygon | MultiPolygon
    bottom: float
    top: float
    mesh: NDArray[np.float64] | None = None
    source: str = ""
    type_name: str = ""
    weight_kg: float | None = None
    barrier: str = ""
    needs_access: bool = False
    sweep: Polygon | None = None
