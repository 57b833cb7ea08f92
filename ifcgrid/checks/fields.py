"""Fields as wholes: joints of the building that cross them, and fields that lie over each other."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely

from ifcgrid.checks.limits import Limit
from ifcgrid.checks.scene import Scene, list_names, name_of
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle

__all__ = ["check_fields", "check_heights", "check_joints"]

_JOINT = re.compile(r"\b(movement|expansion|settlement|seismic|separation) joint", re.IGNORECASE)


def check_joints(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """No joint of the building crosses a field that has no joint of its own there.

    The measure is how far the joint runs through the field, in mm.
    """
    zone = scene.ceiling.zone.outline
    floor = min(room.floor for room in scene.ceiling.zone.rooms)
    tops = scene.ceiling.hangers.top
    roof = float(np.max(tops[np.isfinite(tops)], initial=scene.high)) + tolerance.SURFACE_DEPTH
    for joint in obstacles:
        if joint.kind is not Kind.OTHER or not _JOINT.search(f"{joint.name} {joint.type_name}"):
            continue
        # A joint in the floor or in the structure above parts what hangs between them.
        if joint.top < floor - tolerance.SURFACE_DEPTH or joint.bottom > roof:
            continue
        if not shapely.intersects(joint.outline, zone):
            continue
        inside = shapely.intersection(joint.outline, zone)
        frame = shapely.minimum_rotated_rectangle(inside)
        corners = shapely.get_coordinates(frame)[:4]
        if len(corners) < 4:
            continue
        first, second = corners[1] - corners[0], corners[2] - corners[1]
        run = max(first, second, key=lambda side: float(np.hypot(*side)))
        length = float(np.hypot(*run))
        middle = corners.mean(axis=0)
        line = shapely.LineString([middle - run / 2, middle + run / 2])
        if length > scene.limits["joint-in-field"].value + tolerance.GAP and not _is_parted(scene, line):
            at = scene.ceiling.layout.frame.to_local([middle])[0]
            yield scene.finding(
                "joint-in-field",
                at=at,
                subjects=[joint.key],
                message=f"'{joint.name or joint.key}' crosses the ceiling of "
                f"{name_of(scene.room_at(at))} for {length:.0f} mm; part the grid over it",
                value=length,
            )


def _is_parted(scene: Scene, line: shapely.LineString) -> bool:
    """Whether a separation joint of the ceiling follows the line within one module."""
    reach = max(scene.ceiling.layout.along, scene.ceiling.layout.across)
    frame = scene.ceiling.layout.frame
    for joint in scene.ceiling.joints:
        own = shapely.LineString(frame.to_world([joint.start, joint.end]))
        if shapely.length(shapely.intersection(line, shapely.buffer(own, reach))) >= shapely.length(line) / 2:
            return True
    return False


def check_heights(ceilings: Sequence[Ceiling], limits: Mapping[str, Limit]) -> Iterator[Finding]:
    """Rooms of which the model says two things of the ceiling's height: told, a person settles it.

    The measure is the greatest difference from the height that was believed.
    """
    limit = limits["heights-disagree"].value
    for ceiling in ceilings:
        scene = Scene.of(ceiling, limits)
        for room in ceiling.zone.rooms:
            height = room.height
            if height is None or not tolerance.is_equal(room.level, ceiling.zone.level, tolerance.HEIGHT):
                continue
            apart = [c for c in height.disputes if abs(c.value - height.value) > limit]
            if apart:
                inside = shapely.get_coordinates(shapely.point_on_surface(room.section))
                yield scene.finding(
                    "heights-disagree",
                    at=ceiling.layout.frame.to_local(inside)[0],
                    subjects=[room.key],
                    verdict=Verdict.UNKNOWN,
                    message=f"{name_of(room)}: its ceiling is laid out at {height.value:.0f} mm "
                    f"({height.source}), but the model also says "
                    + list_names([f"{c.value:.0f} mm ({c.source})" for c in apart])
                    + "; settle which",
                    value=max(abs(c.value - height.value) for c in apart),
                )


def check_fields(ceilings: Sequence[Ceiling], limits: Mapping[str, Limit]) -> Iterator[Finding]:
    """No two fields of about one level lie over each other: two grids in one place.

    The measure is the width of the overlap, the lesser side of its enclosing rectangle.
    """
    if len(ceilings) < 2:
        return
    outlines = np.array([c.zone.outline for c in ceilings], dtype=object)
    first, second = shapely.STRtree(outlines).query(outlines, predicate="intersects")
    for a, b in sorted((a, b) for a, b in zip(first.tolist(), second.tolist(), strict=True) if a < b):
        one, other = ceilings[a], ceilings[b]
        depth = max(one.system.main.height, other.system.main.height)
        if abs(one.zone.level - other.zone.level) > depth:
            continue
        common = shapely.intersection(outlines[a], outlines[b])
        sides = shapely.get_coordinates(shapely.minimum_rotated_rectangle(common))
        if len(sides) < 4:
            continue
        width = float(min(np.hypot(*(sides[1] - sides[0])), np.hypot(*(sides[2] - sides[1]))))
        if width > limits["fields-overlap"].value + tolerance.LENGTH:
            scene = Scene.of(one, limits)
            inside = shapely.get_coordinates(shapely.point_on_surface(common))
            rooms = [name_of(c.zone.rooms[0]) for c in (one, other)]
            yield scene.finding(
                "fields-overlap",
                at=one.layout.frame.to_local(inside)[0],
                subjects=[one.zone.rooms[0].key, other.zone.rooms[0].key],
                message=f"the ceilings of {rooms[0]} and {rooms[1]} lie over each other by {width:.0f} mm; "
                "correct the outlines of the rooms",
                value=width,
            )
