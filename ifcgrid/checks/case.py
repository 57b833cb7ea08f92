"""What rules look at: one ceiling with its loads, what stands near it, and what the project says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.load_path import Loads, measure_loads
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room
from ifcgrid.domain.seismic import Seismic
from ifcgrid.domain.weights import Strength

__all__ = ["Case"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """One ceiling to be judged. Everything in it is measured from the ceiling's arrays."""

    ceiling: Ceiling
    obstacles: Sequence[Obstacle] = ()
    seismic: Seismic = field(default_factory=Seismic)

    @cached_property
    def loads(self) -> Loads:
        """The way of the weight."""
        return measure_loads(self.ceiling, self.obstacles)

    @cached_property
    def strength(self) -> Strength:
        """What the system says of its members; nothing where it says nothing."""
        return self.ceiling.system.strength or Strength()

    @property
    def weight_note(self) -> str:
        """What of the weights was assumed, for people; "" where nothing was."""
        loads = self.loads
        told = []
        if self.ceiling.system.weights is None:
            told.append("weights of panels and members assumed")
        if loads.assumed_devices:
            told.append(f"{len(loads.assumed_devices)} of {len(loads.device_kg)} device weights assumed")
        return "; ".join(told)

    @cached_property
    def outline(self) -> Polygon:
        """The zone's outline in local axes."""
        outline: Polygon = self.ceiling.layout.frame.shape_to_local(self.ceiling.zone.outline)
        shapely.prepare(outline)
        return outline

    @cached_property
    def middle(self) -> NDArray[np.float64]:
        """A local point (1, 2) inside the zone, for findings on the whole of it."""
        point = self.outline.representative_point()
        return np.array([[point.x, point.y]])

    @cached_property
    def member_keys(self) -> list[str]:
        """Full keys of the members, in array order."""
        return list(map(self.part, self.ceiling.members.keys()))

    @cached_property
    def hanger_keys(self) -> list[str]:
        """Full keys of the hangers, in array order."""
        return list(map(self.part, self.ceiling.hangers.keys()))

    @cached_property
    def mains(self) -> NDArray[np.int64]:
        """Indices of the main runners."""
        return np.flatnonzero(self.ceiling.members.role == Role.MAIN_RUNNER)

    @cached_property
    def hanger_main(self) -> NDArray[np.int64]:
        """The main (h,) that each hanger holds, an index into the members; -1 where there is none."""
        members, hangers = self.ceiling.members, self.ceiling.hangers
        found = np.full(len(hangers), -1, dtype=np.int64)
        low = np.minimum(members.start[:, 0], members.end[:, 0])
        high = np.maximum(members.start[:, 0], members.end[:, 0])
        at = hangers.point[:, 0]
        for main in self.mains.tolist():
            on = (hangers.line == members.line[main]) & (at >= low[main] - 1) & (at <= high[main] + 1)
            found[on] = main
        return found

    def part(self, key: str) -> str:
        """The full key of a part of the ceiling."""
        return f"{self.ceiling.key}/{key}"

    def room_at(self, point: NDArray[np.float64]) -> Room:
        """The room of the zone in which a local point lies, else the nearest one."""
        rooms = self.ceiling.zone.rooms
        if len(rooms) == 1:
            return rooms[0]
        spot = shapely.Point(*self.ceiling.layout.frame.to_world([point])[0])
        return rooms[int(np.argmin(shapely.distance([room.section for room in rooms], spot)))]
