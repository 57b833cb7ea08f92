"""Walls and columns that stand in a ceiling's field."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import Geometry

from ifcgrid.checks.body import band_outline
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import Room

__all__ = ["PARTITIONS", "check_partitions"]

PARTITIONS = frozenset({Kind.WALL, Kind.COLUMN})
"""Kinds that stand on the floor and may go through a ceiling."""

_M2 = 1e6
_SEAM = 1 / 3
"""A wall's part in a room lies on the room's edge when this share of its rim does; a free one's does not."""


def check_partitions(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """Walls and columns that reach the ceiling stand beside its field, and room outlines know of them.

    What reaches no deeper than a wall's finish into a room lines its outline: the trim
    meets it there. Columns whose hole is in the room's outline already are no finding, nor
    are walls on the seam of rooms that were drawn to the wall's middle.
    """
    field = shapely.union_all([scene.ceiling.zone.outline, *(r.section for r in scene.ceiling.zone.rooms)])
    shapely.prepare(field)
    standing: list[tuple[Obstacle, Geometry]] = []
    for obstacle in obstacles:
        if obstacle.kind not in PARTITIONS:
            continue
        # What ends at the ceiling's underside, or stands on it, lets the ceiling pass.
        reach = tolerance.HEIGHT
        if obstacle.bottom >= scene.low - reach or obstacle.top <= scene.low + reach:
            continue
        if shapely.intersects(field, obstacle.outline):
            shape = band_outline(obstacle, scene.low + scene.contact, scene.high - scene.contact)
            standing.append((obstacle, shape))
    yield from _overlaid(scene, standing)
    yield from _cut_out(scene, standing)


def _is_deep(shape: Geometry) -> bool:
    """Whether a shape is wider than a wall's finish."""
    core = shapely.buffer(shape, -tolerance.WALL_FINISH / 2, join_style="mitre")
    return not shapely.is_empty(core)


def _overlaid(scene: Scene, standing: Sequence[tuple[Obstacle, Geometry]]) -> Iterator[Finding]:
    """Walls and columns over which panels or members were laid all the same."""
    if not standing:
        return
    panels = scene.ceiling.panels
    low, high = panels.bounds[:, :2], panels.bounds[:, 2:]
    shapes = np.asarray(shapely.box(*low.T, *high.T))
    for k, outline in panels.outlines.items():
        shapes[k] = outline
    tree = shapely.STRtree(shapes)
    locals_ = scene.to_local([shape for _, shape in standing])
    for (obstacle, _), outline in zip(standing, locals_, strict=True):
        hit = tree.query(outline, predicate="intersects")
        covered = shapely.intersection(shapely.union_all(shapes[hit]), outline)
        members = _members_through(scene, outline)
        if not _is_deep(covered) and not members:
            continue
        area = float(shapely.area(covered)) / _M2
        spot = shapely.point_on_surface(covered if _is_deep(covered) else outline)
        middle = shapely.get_coordinates(spot)[0]
        yield scene.finding(
            f"{obstacle.kind}-in-ceiling",
            at=middle,
            subjects=[obstacle.key, *scene.member_keys(members)],
            message=f"{words([obstacle])} reaches the ceiling of {name_of(scene.room_at(middle))} and "
            f"runs through {area:.2f} m² of panels and {len(members)} members",
            value=area,
        )


def _members_through(scene: Scene, outline: Geometry) -> list[int]:
    """Mains and tees that run through a shape farther than a wall's finish; the trim is at its face."""
    inner = shapely.buffer(outline, -scene.contact, join_style="mitre")
    near = scene.tree.query(inner, predicate="intersects")
    inside = shapely.length(shapely.intersection(scene.lines[near], inner)) > tolerance.WALL_FINISH
    found: list[int] = near[inside & (scene.ceiling.members.role[near] != Role.WALL_ANGLE)].tolist()
    return sorted(found)


def _cut_out(scene: Scene, standing: Sequence[tuple[Obstacle, Geometry]]) -> Iterator[Finding]:
    """Walls and columns that were cut out of the grid because a room's outline ignores them."""
    for room in scene.ceiling.zone.rooms:
        gone = shapely.difference(room.section, room.outline)
        if shapely.is_empty(gone):
            continue
        found: dict[Kind, list[tuple[Obstacle, Geometry]]] = defaultdict(list)
        for obstacle, shape in standing:
            cut = shapely.intersection(shape, gone)
            if _is_deep(cut) and not (obstacle.kind is Kind.WALL and _is_on_seam(cut, room)):
                found[obstacle.kind].append((obstacle, cut))
        for kind in sorted(found):
            obstacles, cuts = zip(*found[kind], strict=True)
            yield _cut_out_finding(scene, room, obstacles, cuts)


def _is_on_seam(cut: Geometry, room: Room) -> bool:
    rim = shapely.boundary(cut)
    edge = shapely.buffer(room.section.boundary, tolerance.GAP)
    return float(shapely.length(shapely.intersection(rim, edge))) >= _SEAM * float(shapely.length(rim))


def _cut_out_finding(
    scene: Scene, room: Room, obstacles: Sequence[Obstacle], cuts: Sequence[Geometry]
) -> Finding:
    area = float(shapely.area(shapely.union_all(cuts))) / _M2
    spot = shapely.get_coordinates(shapely.point_on_surface(cuts[0]))
    return scene.finding(
        f"{obstacles[0].kind}-in-room",
        at=scene.ceiling.layout.frame.to_local(spot)[0],
        subjects=[o.key for o in obstacles],
        message=f"{words(obstacles)} {verb(obstacles, 'stands', 'stand')} in {name_of(room)} but the room's "
        f"outline ignores {verb(obstacles, 'it', 'them')}; {area:.2f} m² was cut out of the grid. "
        "Correct the room's outline in the model",
        value=area,
    )
