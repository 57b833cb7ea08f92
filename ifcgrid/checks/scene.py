"""One ceiling prepared for judging: its height band, its members as lines, words for people.

Everything is measured anew from the ceiling's arrays and the obstacles' shapes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from ifcgrid.checks.limits import Limit
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room

__all__ = ["Scene", "list_names", "name_of", "verb", "words"]

_LISTED = 3
_PLACES = 3
"""Digits that are given after the point: a thousandth of a millimetre, a dm² of a hundredth."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """A ceiling with the views that several rules need.

    `outline` is the zone's in local axes; `lines` the members' axes (n,) as local
    LineStrings, `tree` their index. The build-up reaches from `low` (the ceiling's
    underside) to `high` (the top of the mains), both model z in mm.
    """

    ceiling: Ceiling
    limits: Mapping[str, Limit]
    outline: Polygon
    lines: NDArray[np.object_]
    tree: shapely.STRtree
    low: float
    high: float

    @classmethod
    def of(cls, ceiling: Ceiling, limits: Mapping[str, Limit]) -> Scene:
        """The scene of a ceiling."""
        members = ceiling.members
        ends = np.stack([members.start, members.end], axis=1).reshape(-1, 2, 2)
        lines = np.asarray(shapely.linestrings(ends))
        outline: Polygon = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
        shapely.prepare(outline)
        return cls(
            ceiling=ceiling,
            limits=limits,
            outline=outline,
            lines=lines,
            tree=shapely.STRtree(lines),
            low=ceiling.zone.level,
            high=ceiling.zone.level + ceiling.system.main.height,
        )

    @property
    def contact(self) -> float:
        """Bodies that meet by no more than this, in mm, touch and do not clash."""
        return self.limits["contact"].value

    def to_local(self, outlines: Sequence[Geometry]) -> NDArray[np.object_]:
        """Shapes in model coordinates, seen in the ceiling's axes."""
        shapes = np.empty(len(outlines), dtype=object)
        shapes[:] = outlines
        local: NDArray[np.object_] = shapely.transform(shapes, self.ceiling.layout.frame.to_local)
        return local

    def point(self, local: Any, z: float | None = None) -> tuple[float, float, float]:
        """A local point (2,) as a point in model coordinates, at the ceiling's level by default."""
        (x, y), height = self.ceiling.layout.frame.to_world([local])[0], self.low if z is None else z
        return round(float(x), _PLACES), round(float(y), _PLACES), round(float(height), _PLACES)

    def vector(self, local: Any) -> str:
        """A local displacement (2,) in words, along the model's X and Y."""
        frame = self.ceiling.layout.frame
        ends = frame.to_world([(0.0, 0.0), local])
        x, y = (f"{round(float(value)):+d}" if round(float(value)) else "0" for value in ends[1] - ends[0])
        return f"({x}, {y}) mm in the model's X and Y"

    def room_at(self, local: Any) -> Room:
        """The room of the zone in which a local point lies, else the nearest one."""
        rooms = self.ceiling.zone.rooms
        if len(rooms) == 1:
            return rooms[0]
        x, y, _ = self.point(local)
        distances = shapely.distance([room.section for room in rooms], shapely.Point(x, y))
        return rooms[int(np.argmin(distances))]

    def part(self, key: str) -> str:
        """The full key of a part of the ceiling."""
        return f"{self.ceiling.key}/{key}"

    def member_keys(self, indices: Iterable[int]) -> tuple[str, ...]:
        """Full keys of members, in the order of the arrays."""
        m = self.ceiling.members
        return tuple(
            self.part(f"{Role(int(m.role[i])).word}/{m.line[i]}/{m.index[i]}") for i in sorted(indices)
        )

    def hanger_keys(self, indices: Iterable[int]) -> list[str]:
        """Full keys of hangers, in the order given."""
        hangers = self.ceiling.hangers
        return [self.part(f"hanger/{hangers.line[h]}/{hangers.index[h]}") for h in indices]

    def finding(
        self,
        rule: str,
        *,
        at: Any,
        subjects: Sequence[str],
        message: str,
        value: float | None,
        verdict: Verdict = Verdict.FAIL,
        z: float | None = None,
    ) -> Finding:
        """A finding of a rule at a local point; limit, unit and source come from the rule's row."""
        limit = self.limits[rule]
        return Finding(
            rule=rule,
            source=limit.source,
            clause=limit.clause,
            verdict=verdict,
            room=self.room_at(at).key,
            subjects=tuple(subjects),
            message=message,
            value=None if value is None else round(value, _PLACES),
            limit=limit.value,
            unit=limit.unit,
            point=self.point(at, z),
        )


def name_of(room: Room) -> str:
    """What people call a room: `room 1.07 (Office)`; numbers alone may occur twice in a building."""
    if room.number and room.name and room.name != room.number:
        return f"room {room.number} ({room.name})"
    return f"room {room.number or room.name or room.key}"


def list_names(names: Sequence[str]) -> str:
    """Names for a sentence, the first few: `A, B, C and 4 more`."""
    shown, rest = list(names[:_LISTED]), len(names) - _LISTED
    if rest > 0:
        return f"{', '.join(shown)} and {rest} more"
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def words(obstacles: Sequence[Obstacle]) -> str:
    """What obstacles of one kind are called in a sentence: `light 'L1'`, `3 ducts ('A', ...)`."""
    kind = str(obstacles[0].kind)
    names = [f"'{o.name or o.key}'" for o in obstacles]
    if len(obstacles) == 1:
        return f"{kind} {names[0]}"
    plural = kind if kind == "equipment" else f"{kind}s"
    return f"{len(obstacles)} {plural} ({list_names(names)})"


def verb(obstacles: Sequence[Obstacle], singular: str, plural: str) -> str:
    """The form of a verb that goes with them."""
    return singular if len(obstacles) == 1 else plural
