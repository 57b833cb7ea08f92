"""What must stay under a ceiling: heads of doors and windows, leaves that swing, and people's heads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import Kind, Obstacle

__all__ = ["check_headroom", "check_heads"]

_RULES = {Kind.DOOR: "door-head-above-ceiling", Kind.WINDOW: "window-head-above-ceiling"}

_INSET = 0.1
"""This share of an opening's width is left out at either jamb: what is beside it is another wall's."""


def check_heads(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """No head of a door or window at a ceiling's edge is above it; no leaf swings under a lower one.

    One finding a room and kind; the measure is the highest head less the ceiling's level.
    """
    zone = scene.ceiling.zone.outline
    for kind in _RULES:
        met: dict[str, list[tuple[Obstacle, NDArray[np.float64]]]] = {}
        for obstacle in obstacles:
            limit = scene.limits[_RULES[kind]].value + tolerance.HEIGHT
            rises = obstacle.bottom < scene.low < obstacle.top - limit
            if obstacle.kind is not kind or not rises:
                continue
            area = _under_ceiling(scene, obstacle, zone)
            if area is not None:
                inside = shapely.get_coordinates(shapely.point_on_surface(area))
                spot = scene.ceiling.layout.frame.to_local(inside)[0]
                met.setdefault(scene.room_at(spot).key, []).append((obstacle, spot))
        for group in met.values():
            yield _head_finding(scene, kind, group)


def _under_ceiling(scene: Scene, opening: Obstacle, zone: Polygon) -> Geometry | None:
    """Where a zone's edge faces an opening, or a leaf swings under the zone; None where neither is so."""
    reach = scene.limits["opening-reach"].value
    if shapely.distance(zone, opening.outline) > reach and opening.sweep is None:
        return None
    places = [_faced(opening.outline, reach)] + ([opening.sweep] if opening.sweep is not None else [])
    for place in places:
        area = shapely.intersection(zone, place)
        if not shapely.is_empty(shapely.buffer(area, -tolerance.GAP)):
            return area
    return None


def _faced(outline: Geometry, reach: float) -> Polygon:
    """What lies before and behind an opening in its wall: its width less the jambs, a reach deep."""
    frame = shapely.minimum_rotated_rectangle(outline)
    corners = shapely.get_coordinates(frame)[:4]
    if len(corners) < 4:
        return Polygon()
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    long, thin = (first, second) if np.hypot(*first) >= np.hypot(*second) else (second, first)
    across = thin / max(float(np.hypot(*thin)), tolerance.LENGTH)
    middle = corners.mean(axis=0)
    half = long * (0.5 - _INSET)
    deep = across * (float(np.hypot(*thin)) / 2 + reach)
    return Polygon([middle - half - deep, middle + half - deep, middle + half + deep, middle - half + deep])


def _head_finding(scene: Scene, kind: Kind, group: Sequence[tuple[Obstacle, NDArray[np.float64]]]) -> Finding:
    openings = [obstacle for obstacle, _ in group]
    worst, spot = max(group, key=lambda item: (item[0].top, item[0].key))
    above = worst.top - scene.low
    text = f"{words(openings)} of {name_of(scene.room_at(spot))}: "
    text += f"the {verb(openings, '', 'highest ')}head is {above:.0f} mm above the ceiling; "
    text += "leave a pocket there, or raise the ceiling"
    return scene.finding(
        _RULES[kind],
        at=spot,
        subjects=[o.key for o in openings],
        message=text,
        value=above,
        z=scene.low,
    )


def check_headroom(scene: Scene) -> Iterator[Finding]:
    """Ceilings leave headroom; the measure is what is missing of it. Each room is one finding."""
    limit = scene.limits["ceiling-below-headroom"].value
    for room in scene.ceiling.zone.rooms:
        height = scene.low - room.floor
        if height < limit - tolerance.HEIGHT:
            inside = shapely.get_coordinates(shapely.point_on_surface(room.section))
            yield scene.finding(
                "ceiling-below-headroom",
                at=scene.ceiling.layout.frame.to_local(inside)[0],
                subjects=[room.key],
                message=f"the ceiling of {name_of(room)} is {height:.0f} mm above the floor, "
                f"{limit - height:.0f} mm less than {limit:.0f} mm; what is asked of the room's use decides",
                value=limit - height,
            )
