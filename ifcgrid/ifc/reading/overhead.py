"""What closes a room above: the floor of the next room, or a slab over most of it.

A ceiling may hang above the body of its room, because the body of a hall is often modelled
as high as its neighbours; but never above the next floor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import shapely

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Kind
from ifcgrid.ifc.geometry import Kernel, silhouette
from ifcgrid.ifc.identity import is_ours
from ifcgrid.ifc.reading.coverings import LEAST_HEADROOM, LEAST_STRIP, MAJORITY
from ifcgrid.ifc.reading.kind import find_kind
from ifcgrid.ifc.reading.spaces import Space

__all__ = ["Overhead"]


class Overhead:
    """Finds the lid of rooms. Slabs are read from the model when they are first asked for."""

    def __init__(self, kernel: Kernel, spaces: Sequence[Space]) -> None:
        self._kernel = kernel
        self._spaces = spaces
        self._plans = shapely.STRtree([s.body.plan for s in spaces])

    def lid(self, space: Space) -> float:
        """Model z in mm above which nothing belongs to a room; infinite where nothing closes it.

        It is the floor of the lowest room above or, where that is lower, the top of the
        lowest slabs and roofs that together lie over more than `MAJORITY` of the room.
        """
        return min(self._next_floor(space), self._slab(space))

    def _next_floor(self, space: Space) -> float:
        # Neighbours of which only an edge lies over this room do not count.
        core = space.body.plan.buffer(-LEAST_STRIP)
        floors = [self._spaces[i].floor for i in self._plans.query(core, predicate="intersects")]
        return min((z for z in floors if z >= space.floor + LEAST_HEADROOM), default=math.inf)

    @cached_property
    def _slabs(self) -> tuple[shapely.STRtree, list[tuple[float, float]]]:
        """Outlines of all slabs and roofs, and their lowest and highest z."""
        file = self._kernel.file
        wanted = [
            e
            for name in ("IfcSlab", "IfcRoof")
            for e in file.by_type(name)
            if find_kind(e) in (Kind.SLAB, Kind.ROOF) and not is_ours(e)
        ]
        meshes = [m for _, m in sorted(self._kernel.meshes(wanted).items())]
        heights = [(float(m[:, :, 2].min()), float(m[:, :, 2].max())) for m in meshes]
        return shapely.STRtree([silhouette(m) for m in meshes]), heights

    def _slab(self, space: Space) -> float:
        tree, heights = self._slabs
        plan = space.body.plan
        over: list[tuple[float, int]] = [
            (heights[i][1], int(i))
            for i in tree.query(plan, predicate="intersects")
            if heights[i][0] >= space.floor + LEAST_HEADROOM - tolerance.LENGTH
        ]
        closed = shapely.Polygon()
        for top, i in sorted(over):
            closed = closed.union(tree.geometries[i].intersection(plan))
            if closed.area > MAJORITY * plan.area:
                return top
        return math.inf
