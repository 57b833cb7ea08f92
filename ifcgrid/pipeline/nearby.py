"""The obstacles near a zone."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Zone

__all__ = ["Nearby"]

_REACH = 2000.0
"""Obstacles within this plan distance of a zone, in mm, are looked at for it."""


class Nearby:
    """Finds the obstacles near a zone without looking at all of them."""

    def __init__(self, obstacles: Sequence[Obstacle]) -> None:
        self._obstacles = obstacles
        self._tree = shapely.STRtree([o.outline for o in obstacles])

    def find(self, zone: Zone) -> list[Obstacle]:
        """Those within `_REACH` of the zone in plan, in their given order."""
        box = shapely.box(*zone.outline.bounds).buffer(_REACH, join_style="mitre")
        return [self._obstacles[i] for i in sorted(self._tree.query(box).tolist())]
