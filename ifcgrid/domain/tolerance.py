"""The only module with an epsilon. Lengths in mm, areas in mm², angles in degrees.

One shared tolerance of 0.01 mm makes counting right for feet-and-inch models held in
millimetres; whole-millimetre models are exact anyway.
"""

from __future__ import annotations

import math

__all__ = [
    "ALIKE",
    "ANGLE_DEG",
    "AREA",
    "CHECKED",
    "CUT",
    "DIRECTION",
    "EVEN",
    "FARTHEST",
    "GAP",
    "HANGER_PLACE",
    "HEIGHT",
    "LAY_IN_FILL",
    "LAY_IN_SHIFT",
    "LAY_IN_SLACK",
    "LENGTH",
    "NEAR_ROOM",
    "NORTH_DEG",
    "ON_MODULE",
    "OUT_OF_ROUND",
    "PARALLEL",
    "PIECE_AREA",
    "PLANE_REACH",
    "PRECISION",
    "RANK",
    "RELATIVE",
    "SAME_ROOM",
    "SAME_ROOM_SHARE",
    "SCORE",
    "SEARCH_STEP",
    "SEAT",
    "SETTLED",
    "SHORTEST_EDGE",
    "SHORTEST_MEMBER",
    "SHORTEST_OPENING",
    "STRIP",
    "SURFACE_DEPTH",
    "WALL_FINISH",
    "WEIGHT",
    "ceil_div",
    "floor_div",
    "is_equal",
    "is_greater",
    "is_less",
    "to_raster",
]

LENGTH = 0.01
"""Two coordinates closer than this are one."""

CUT = 0.1
"""Pieces whose lengths differ by no more than this bear one mark: nobody saws finer."""

AREA = 1.0
"""Two areas closer than this are equal (1 mm²)."""

STRIP = 0.25
"""A line this little inside a wall is set out on the wall; no tape tells them apart."""

PIECE_AREA = 100.0
"""A scrap of room below this (1 cm²) in a cell is no piece: it is touched, not covered."""

SEARCH_STEP = 1e-3
"""Step in mm at which the scan of one direction's offsets ends."""

ALIKE = 1e-3
"""Two shapes or shares that differ by less than this part of them are alike."""

SCORE = 1e-6
"""Two scores of layouts closer than this are equal (mm; above the noise of a turned room's floats)."""

ANGLE_DEG = 0.01
"""Two directions closer than this are parallel."""

DIRECTION = 1e-9
"""A unit vector's part across another that is shorter than this has no direction."""

SEAT = 15.0
"""A small device this close to the agreed point of its cell, along either axis, is on it."""

ON_MODULE = 3.0
"""A lay-in device whose middle is this close to its cells', along either axis, is on module (1/8 in)."""

FARTHEST = 1e11
"""Coordinates farther out than this (100,000 km) are no place on earth."""

SHORTEST_EDGE = 1.0
"""Edges of a room outline shorter than this are drawing noise and are cleaned away."""

SHORTEST_MEMBER = 1.0
"""A member shorter than this is not made."""

EVEN = 1.0
"""Hangers are spread along a main as evenly as their number allows, to this."""

HANGER_PLACE = 0.5
"""A hanger this little farther than the spacing is where it should be: half of what a sheet prints."""

GAP = 5.0
"""Two rooms whose outlines are at most this far apart touch."""

HEIGHT = 5.0
"""Two height sources that differ by more than this are in conflict."""

RELATIVE = 1e-9
"""Two forces, loads or quotients that differ by less than this share of them are equal."""

RANK = 1e-10
"""Share of the largest singular value below which a system of equations leaves a direction open."""

CHECKED = 1e-3
"""A measured length of less redundancy than this (0 to 1) is checked by no other."""

SETTLED = 1e-6
"""An adjustment is done when a step moves no point by more than this."""

SAME_ROOM = 250.0
"""A room whose middle and floor lie this close to where they lay may be the same one, exported anew."""

SAME_ROOM_SHARE = 0.8
"""... if the smaller of the two areas is at least this share of the larger."""

PRECISION = 1e-4
"""Outlines that are united or cut share the points of this raster, so that no slivers stay."""

_DECIMALS = round(-math.log10(PRECISION))

NEAR_ROOM = 5000.0
"""A further model belongs to the rooms when anything of it comes this near to one."""

NORTH_DEG = 0.1
"""Norths of two models that differ by less are one: programs round them differently."""

WALL_FINISH = 30.0
"""A wall or column that reaches no deeper than this into a room only lines its outline."""

SHORTEST_OPENING = 300.0
"""Rooms share a ceiling only where they are open to each other over more than this."""

PLANE_REACH = 25.0
"""A device whose body comes this close to the ceiling's plane sits in it."""

SURFACE_DEPTH = 300.0
"""A device that ends at the ceiling's plane and hangs down more than this is a pendant."""

LAY_IN_FILL = 0.9
"""A lay-in device fills at least this share of its bounding rectangle; a round one does not."""

LAY_IN_SLACK = 30.0
"""A lay-in device is at most this much smaller than the cells that it fills."""

OUT_OF_ROUND = 0.01
"""A polygon whose corners lie on a circle within this share of its radius was drawn as a circle."""

PARALLEL = 1e-12
"""Share of its size below which a product of vectors counts as zero: they are parallel."""

WEIGHT = 1e-6
"""Two weights in kg closer than this are equal."""

LAY_IN_SHIFT = 5.0
"""A lay-in device may stand this far over the lines of its cells: it is moved when laid in."""


def is_equal(a: float, b: float, tolerance: float = LENGTH) -> bool:
    """Whether two lengths in mm are equal within the tolerance."""
    return abs(a - b) <= tolerance


def is_less(a: float, b: float, tolerance: float = LENGTH) -> bool:
    """Whether a is less than b by more than the tolerance."""
    return a < b - tolerance


def is_greater(a: float, b: float, tolerance: float = LENGTH) -> bool:
    """Whether a is greater than b by more than the tolerance."""
    return a > b + tolerance


def to_raster(length: float) -> float:
    """A length or place in mm on the raster of `PRECISION`, so that what a model gave back is what was built.

    >>> to_raster(351.9999999999982)
    352.0
    """
    return round(length, _DECIMALS)


def floor_div(length: float, module: float) -> int:
    """How many whole modules fit into a length, both in mm; a length a hair short still counts.

    >>> floor_div(6 * 609.6 - 1e-9, 609.6)
    6
    """
    return math.floor((length + LENGTH) / module)


def ceil_div(length: float, module: float) -> int:
    """How many modules it takes to cover a length, both in mm; a hair over does not add one.

    >>> ceil_div(6 * 609.6 + 1e-9, 609.6)
    6
    """
    return math.ceil((length - LENGTH) / module)
