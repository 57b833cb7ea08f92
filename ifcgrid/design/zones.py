"""Rooms made ready for a ceiling, and zones: rooms that share one.

First each room's outline loses what stands in it at ceiling height: columns, walls and
lower soffits. Then rooms at one level that are open to each other there are joined: a
grid runs through low or open partitions and stops at walls that go through the ceiling
(common practice, no source).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.outlines import bites, grow, polygons, subtract, unite
from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import Room, Zone

__all__ = ["carve_rooms", "group_zones"]

_WIDEST_GAP = 300.0
"""Rooms that the model joins by a virtual boundary may be drawn this far apart, in mm."""


class _Solids:
    """Columns and walls, found by place."""

    def __init__(self, obstacles: Iterable[Obstacle]) -> None:
        kinds = (Kind.COLUMN, Kind.WALL)
        solid = [o for o in obstacles if o.kind in kinds and not o.outline.is_empty]
        self._solids = sorted(solid, key=lambda o: (o.kind, o.name, o.key))
        self._tree = shapely.STRtree([o.outline for o in self._solids])

    def through(self, shape: shapely.Geometry, level: float) -> list[Obstacle]:
        """Those that stand within `tolerance.GAP` of a shape and go through the ceiling there.

        What ends at the ceiling's underside, or stands on it, lets the ceiling pass.
        """
        near = self._tree.query(shape, predicate="dwithin", distance=2 * tolerance.GAP)
        found = (self._solids[i] for i in sorted(near.tolist()))
        return [o for o in found if o.bottom < level - tolerance.HEIGHT and o.top > level + tolerance.HEIGHT]


def carve_rooms(rooms: Sequence[Room], obstacles: Sequence[Obstacle]) -> tuple[Room, ...]:
    """The rooms with columns, walls and soffits taken out of their outlines.

    Only what stands deeper in a room than `tolerance.WALL_FINISH` is cut out; walls that
    line its outline leave it as it is. Of a room that falls apart the largest part is
    kept. Each change is told in the room's notes.
    """
    solids = _Solids(obstacles)
    return tuple(_carve_room(room, solids) for room in rooms)


def _carve_room(room: Room, solids: _Solids) -> Room:
    if room.height is None:
        return room
    things = [
        *(("soffit", s.name or s.key, s.outline) for s in sorted(room.soffits, key=lambda s: s.key)),
        *((str(o.kind), o.name or o.key, o.outline) for o in solids.through(room.outline, room.level)),
    ]
    cutters: list[Polygon] = []
    notes: list[str] = []
    for (word, name, _), found in zip(
        things, bites(room.outline, [shape for *_, shape in things]), strict=True
    ):
        if found:
            cutters += found
            notes.append(f"{word} {name} cut out")
    if not cutters:
        return room
    parts = subtract(room.outline, cutters)
    if not parts:
        return replace(room, notes=(*room.notes, "columns, walls and soffits fill the room; none cut out"))
    lost = [part for part in parts[1:] if part.area >= tolerance.SHORTEST_OPENING**2]
    notes += [f"a separate part of {part.area / 1e6:.2f} m² gets no ceiling" for part in lost]
    return replace(room, outline=parts[0], notes=(*room.notes, *notes))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Link:
    """Rooms, by index, that share a ceiling, and the gap between them that belongs to it."""

    rooms: tuple[int, ...]
    gap: Polygon | None = None


def group_zones(rooms: Sequence[Room], obstacles: Sequence[Obstacle]) -> tuple[Zone, ...]:
    """Zones of rooms that share one ceiling, sorted by key.

    Rooms at one level within `tolerance.HEIGHT` share it where over more than
    `tolerance.SHORTEST_OPENING` no wall or column goes through the ceiling between them, and
    (a) their outlines touch, or the model joins them by a virtual boundary, or (b) they
    lie under one ceiling of the architect's; then the gap between them is ceiling too.

    A zone has the least key of its rooms and the level of its largest. A room alone is a
    zone of its own outline.
    """
    ordered = sorted(rooms, key=lambda room: room.key)
    if not ordered:
        return ()
    solids = _Solids(obstacles)
    plan = _Plan(ordered, solids)
    links = [*plan.touching(), *plan.joined(), *plan.under_one_covering()]
    group = _connect(len(ordered), links)
    members: dict[int, list[int]] = defaultdict(list)
    for index, first in enumerate(group):
        members[first].append(index)
    gaps: dict[int, list[Polygon]] = defaultdict(list)
    for link in links:
        if link.gap is not None:
            gaps[group[link.rooms[0]]].append(link.gap)
    zones = [
        zone
        for first, indices in members.items()
        for zone in _zones_of([ordered[i] for i in indices], gaps[first], solids)
    ]
    return tuple(sorted(zones, key=lambda zone: zone.key))


class _Plan:
    """All rooms of a model with what is needed to see which are open to each other."""

    def __init__(self, rooms: Sequence[Room], solids: _Solids) -> None:
        self._rooms = rooms
        self._solids = solids
        self._outlines = np.array([room.outline for room in rooms], dtype=object)
        self._tree = shapely.STRtree(self._outlines)
        self._floor = _level_numbers(rooms)

    def touching(self) -> Iterator[_Link]:
        """Pairs of rooms whose outlines touch, with an open seam."""
        pairs = self._tree.query(self._outlines, predicate="dwithin", distance=tolerance.GAP)
        for a, b in sorted(zip(*pairs.tolist(), strict=True)):
            if a < b and self._floor[a] == self._floor[b] and self._is_open(a, b):
                yield _Link(rooms=(a, b))

    def joined(self) -> Iterator[_Link]:
        """Pairs that the model joins by a virtual boundary but draws apart."""
        index = {room.key: k for k, room in enumerate(self._rooms)}
        pairs = {
            (min(a, b), max(a, b))
            for a, room in enumerate(self._rooms)
            for key in room.open_to
            if (b := index.get(key, a)) != a
        }
        for a, b in sorted(pairs):
            one, two = self._outlines[a], self._outlines[b]
            if self._floor[a] != self._floor[b] or not tolerance.GAP < one.distance(two) <= _WIDEST_GAP:
                continue
            yield from self._gaps([a, b], _close(self._outlines[[a, b]]))

    def under_one_covering(self) -> Iterator[_Link]:
        """Rooms under one ceiling of the architect's with an open gap between them."""
        under: dict[tuple[str, int], list[int]] = defaultdict(list)
        for k, room in enumerate(self._rooms):
            if room.covering is not None:
                under[room.covering.key, self._floor[k]].append(k)
        for _, indices in sorted(under.items()):
            covering = self._rooms[indices[0]].covering
            if covering is not None and len(indices) > 1:
                yield from self._gaps(indices, covering.outline)

    def _gaps(self, indices: Sequence[int], region: shapely.Geometry) -> Iterator[_Link]:
        """Parts of a region that no room and no wall fills and that open rooms to each other."""
        level = self._rooms[indices[0]].level
        filled = [self._outlines[k] for k in self._tree.query(region).tolist()]
        filled += [o.outline for o in self._solids.through(region, level)]
        free = shapely.difference(
            region, shapely.union_all(filled, grid_size=tolerance.PRECISION), grid_size=tolerance.PRECISION
        )
        half = tolerance.WALL_FINISH / 2
        for open_part in polygons(grow(grow(free, -half), half)):
            around = self._beside(indices, open_part)
            # Of a ceiling that reaches past its rooms, only what lies between them joins them.
            between = _close(self._outlines[around]) if len(around) > 1 else Polygon()
            for gap in polygons(shapely.intersection(open_part, between)):
                yield from self._passages(self._beside(around, gap), gap)

    def _beside(self, indices: Sequence[int], gap: Polygon) -> list[int]:
        """The rooms that a gap touches over more than the shortest opening."""
        edges = shapely.intersection(gap.boundary, [grow(self._outlines[k], tolerance.GAP) for k in indices])
        return [
            k for k, edge in zip(indices, edges, strict=True) if _longest(edge) > tolerance.SHORTEST_OPENING
        ]

    def _passages(self, indices: Sequence[int], gap: Polygon) -> Iterator[_Link]:
        """Links of the rooms between which the gap leaves a wide enough way."""
        joined = shapely.union_all(unite([*self._outlines[list(indices)], gap]))
        for part in polygons(grow(joined, -tolerance.SHORTEST_OPENING / 2)):
            common = shapely.area(shapely.intersection(part, self._outlines[list(indices)]))
            reached = tuple(k for k, area in zip(indices, common, strict=True) if area > tolerance.AREA)
            if len(reached) > 1:
                yield _Link(rooms=reached, gap=gap)

    def _is_open(self, a: int, b: int) -> bool:
        """Whether two rooms that touch have a seam long enough without a wall on it."""
        seam = shapely.intersection(self._outlines[a].boundary, grow(self._outlines[b], tolerance.GAP))
        if _longest(seam) <= tolerance.SHORTEST_OPENING:
            return False
        walls = [o.outline for o in self._solids.through(seam, self._rooms[a].level)]
        if walls:
            seam = shapely.difference(seam, grow(shapely.union_all(walls), 2 * tolerance.GAP))
        return _longest(seam) > tolerance.SHORTEST_OPENING


def _close(outlines: NDArray[np.object_]) -> shapely.Geometry:
    """Outlines with the gaps between neighbours filled, without growing outwards."""
    distances = shapely.distance(outlines[:, None], outlines[None, :])
    np.fill_diagonal(distances, np.inf)
    # Twice the width at the narrowest place, for gaps that are not equally wide.
    half = max(_WIDEST_GAP / 2, float(distances.min(axis=1).max())) + tolerance.LENGTH
    return grow(grow(shapely.union_all(outlines), half), -half)


def _level_numbers(rooms: Sequence[Room]) -> list[int]:
    """A number for each room, equal for rooms whose ceilings are at one level."""
    numbers = [-1 - k for k in range(len(rooms))]
    start = float("-inf")
    number = -1
    for level, k in sorted((room.level, k) for k, room in enumerate(rooms) if room.height is not None):
        if level > start + tolerance.HEIGHT:
            start, number = level, number + 1
        numbers[k] = number
    return numbers


def _longest(line: shapely.Geometry) -> float:
    """The length of the longest connected part of a line."""
    parts = shapely.get_parts(line)
    lines = parts[shapely.get_dimensions(parts) == 1]
    if len(lines) == 0:
        return 0.0
    return float(
        shapely.length(shapely.get_parts(shapely.line_merge(shapely.union_all(lines)))).max(initial=0.0)
    )


def _connect(count: int, links: Iterable[_Link]) -> list[int]:
    """For each room the least index of the rooms it is linked to, directly or through others."""
    first = list(range(count))

    def find(k: int) -> int:
        while first[k] != k:
            first[k] = first[first[k]]
            k = first[k]
        return k

    for link in links:
        for k in link.rooms[1:]:
            low, high = sorted((find(link.rooms[0]), find(k)))
            first[high] = low
    return [find(k) for k in range(count)]


def _zones_of(rooms: Sequence[Room], gaps: Sequence[Polygon], solids: _Solids) -> Iterator[Zone]:
    """The zone of linked rooms; several where their union falls apart after all."""
    if len(rooms) == 1:
        yield _lone(rooms[0])
        return
    left = list(rooms)
    for outline in unite([*(room.outline for room in rooms), *gaps]):
        inside = [room for room in left if outline.covers(room.outline.representative_point())]
        left = [room for room in left if room not in inside]
        if len(inside) == 1:
            yield _lone(inside[0])
        elif inside:
            yield _joint(inside, outline, solids)
    for room in left:
        yield _lone(room)


def _lone(room: Room) -> Zone:
    return Zone(key=room.key, rooms=(room,), outline=room.outline, level=room.level)


def _joint(rooms: Sequence[Room], outline: Polygon, solids: _Solids) -> Zone:
    leading = min(rooms, key=lambda room: (-room.outline.area, room.key))
    names = ", ".join(room.number or room.name or room.key for room in rooms)
    notes = [f"one ceiling over rooms {names}"]
    cutters: list[Polygon] = []
    standing = solids.through(outline, leading.level)
    for solid, found in zip(standing, bites(outline, [s.outline for s in standing]), strict=True):
        if found:
            cutters += found
            notes.append(f"{solid.kind} {solid.name or solid.key} cut out")
    parts = subtract(outline, cutters) if cutters else []
    return Zone(
        key=rooms[0].key,
        rooms=tuple(rooms),
        outline=parts[0] if parts else outline,
        level=leading.level,
        notes=tuple(notes),
    )
