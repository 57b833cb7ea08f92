"""Rooms and lengths from site for the tests of adjustment."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ifcgrid.domain.measured import SiteLength, SiteMeasures
from ifcgrid.pipeline.one_room import room_zone

__all__ = ["L_ROOM", "ROUND_END", "WITH_COLUMN", "corners_of", "lengths_of", "measures", "zone_of"]

L_ROOM = Polygon([(0, 0), (6350, 0), (6350, 3200), (3700, 3200), (3700, 5080), (0, 5080)])
"""Walls A to F."""

_ARC = np.radians(np.linspace(-90, 90, 25))
ROUND_END = Polygon(
    [(0, 0), *zip(6000 + 2000 * np.cos(_ARC), 2000 + 2000 * np.sin(_ARC), strict=True), (0, 4000)]
)
"""Walls A and C straight, B the half circle between them, D opposite."""

WITH_COLUMN = Polygon(
    [(0, 0), (6000, 0), (6000, 4000), (0, 4000)],
    [[(1000, 1000), (1000, 1400), (1400, 1400), (1400, 1000)]],
)
"""Walls A to D, and E to H of the column."""


def measures(given, *, deviation=2.0, within=150.0, hold=""):
    """A table that measures these lengths."""
    lengths = tuple(SiteLength(name=k, length=float(v), deviation=deviation) for k, v in given.items())
    return SiteMeasures(line=7, picks={"number": "1"}, lengths=lengths, within=within, hold=hold)


def zone_of(polygon):
    """A room of one zone."""
    return room_zone(polygon)


def corners_of(polygon):
    """Corners (n, 2) of the outer ring."""
    return np.asarray(polygon.exterior.coords)[:-1, :2]


def lengths_of(corners):
    """Every wall and every distance of a ring of straight walls, by their names on the sheet."""
    letters = "ABCDEFGH"[: len(corners)]
    found = {}
    for k, letter in enumerate(letters):
        found[letter] = np.hypot(*(corners[(k + 1) % len(corners)] - corners[k]))
    # Corner k is where wall k begins, so where wall k - 1 ends.
    names = [letters[k - 1] + letters[k] for k in range(len(corners))]
    for a in range(len(corners)):
        for b in range(a + 2, len(corners)):
            if (b + 1) % len(corners) != a:
                found[f"{names[a]}-{names[b]}"] = np.hypot(*(corners[b] - corners[a]))
    return found
