"""Walls and the ceiling: which end under it, at it, or go through it, and which must reach the slab."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.scene import Scene, name_of, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import STRUCTURE, Kind, Obstacle
from ifcgrid.domain.soffit import find_soffits

__all__ = ["ClassedWall", "WallClass", "check_rated_walls", "class_walls"]

_STEP = 500.0
"""Places along a wall at which the structure over it is looked for are about so far apart, in mm."""

_BARRIER = re.compile(r"\b(cavity|fire|smoke)[ -]?(barrier|curtain|stop)s?\b", re.IGNORECASE)


class WallClass(StrEnum):
    """Where a wall ends: the ceiling goes on over it, meets its top, or is parted by it."""

    UNDER = "under"
    TO = "to"
    THROUGH = "through"
    ABOVE = "above"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassedWall:
    """A wall at a ceiling: its key, its class, and how far its top is above the ceiling's underside in mm."""

    key: str
    name: str
    wall_class: WallClass
    rise: float
    barrier: str


def class_walls(ceiling: Ceiling, obstacles: Sequence[Obstacle]) -> tuple[ClassedWall, ...]:
    """The walls that stand in or line a ceiling's zone, sorted by key.

    A wall that ends within `tolerance.HEIGHT` of the underside, or within the depth of the
    grid over it, goes to the ceiling; one that begins there or higher stands above it.
    """
    low, high = ceiling.zone.level, ceiling.zone.level + ceiling.system.main.height
    reach, zone = tolerance.WALL_FINISH, ceiling.zone.outline
    walls = [o for o in obstacles if o.kind is Kind.WALL and shapely.dwithin(o.outline, zone, reach)]
    found = []
    for wall in sorted(walls, key=lambda o: (o.key, o.source)):
        if wall.bottom >= low - tolerance.HEIGHT:
            where = WallClass.ABOVE
        elif wall.top < low - tolerance.HEIGHT:
            where = WallClass.UNDER
        else:
            where = WallClass.TO if wall.top <= high + tolerance.HEIGHT else WallClass.THROUGH
        found.append(
            ClassedWall(
                key=wall.key,
                name=wall.name,
                wall_class=where,
                rise=wall.top - low,
                barrier=wall.barrier,
            )
        )
    return tuple(found)


def check_rated_walls(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """Walls that keep back fire, smoke or sound reach the structure above, or the void over them is closed.

    The measure is the greatest height left open over the wall.
    """
    classes = {w.key: w.wall_class for w in class_walls(scene.ceiling, obstacles)}
    rated = [o for o in obstacles if o.kind is Kind.WALL and o.barrier and o.key in classes]
    rated = [o for o in rated if classes[o.key] is not WallClass.ABOVE]
    structure = [o for o in obstacles if o.kind in STRUCTURE]
    barriers = [
        o for o in obstacles if o.kind is not Kind.WALL and _BARRIER.search(f"{o.name} {o.type_name}")
    ]
    for wall in rated:
        points = _places(wall)
        soffit, _ = find_soffits(points, min(wall.top, scene.low) - tolerance.HEIGHT, structure)
        if np.isnan(soffit).all():
            if wall.top <= scene.high + tolerance.HEIGHT:
                yield _open_finding(scene, wall, points[0], None, classes[wall.key])
            continue
        closing = [o for o in barriers if shapely.intersects(o.outline, wall.outline)]
        gap = soffit - wall.top
        closed = _is_closed(points, wall.top, soffit, closing)
        left = np.where(closed | np.isnan(gap), -np.inf, gap)
        worst = int(np.argmax(left))
        if left[worst] > scene.limits["rated-wall-short"].value + tolerance.HEIGHT:
            yield _open_finding(scene, wall, points[worst], float(left[worst]), classes[wall.key])
        elif closed.any():
            yield _barrier_finding(scene, wall, closing, points[int(np.argmax(closed))])


def _places(wall: Obstacle) -> NDArray[np.float64]:
    """Plan points (n, 2) inside a wall, along its faces."""
    inner = shapely.buffer(wall.outline, -tolerance.GAP, join_style="mitre")
    ring = shapely.boundary(inner if not shapely.is_empty(inner) else wall.outline)
    count = max(int(np.ceil(shapely.length(ring) / _STEP)), 4)
    shares = np.arange(count) / count
    parts = [p for p in shapely.get_parts(ring) if shapely.length(p) > 0]
    rings = np.concatenate([shapely.line_interpolate_point(p, shares, normalized=True) for p in parts])
    return shapely.get_coordinates(rings)


def _is_closed(
    points: NDArray[np.float64], top: float, soffit: NDArray[np.float64], barriers: Sequence[Obstacle]
) -> NDArray[np.bool_]:
    """Where (n,) barriers fill the height between a wall and the structure over it."""
    closed = np.zeros(len(points), dtype=bool)
    places = shapely.points(points)
    for barrier in barriers:
        spans = (barrier.bottom <= top + tolerance.HEIGHT) & (barrier.top >= soffit - tolerance.HEIGHT)
        closed |= spans & shapely.dwithin(places, barrier.outline, tolerance.WALL_FINISH)
    return closed & (soffit - top > tolerance.HEIGHT)


def _open_finding(
    scene: Scene, wall: Obstacle, point: NDArray[np.float64], gap: float | None, where: WallClass
) -> Finding:
    at = scene.ceiling.layout.frame.to_local([point])[0]
    text = f"{words([wall])} ({wall.barrier}) at {name_of(scene.room_at(at))} "
    text += {
        WallClass.UNDER: "ends under the ceiling",
        WallClass.TO: "ends at the ceiling",
        WallClass.THROUGH: f"ends {wall.top - scene.low:.0f} mm above the ceiling's underside",
    }.get(where, "ends above the ceiling")
    if gap is None:
        text += "; the models have no structure above it to measure to"
    else:
        text += f", {gap:.0f} mm short of the structure above"
    return scene.finding(
        "rated-wall-short",
        at=at,
        subjects=[wall.key],
        verdict=Verdict.UNKNOWN if gap is None else Verdict.FAIL,
        message=f"{text}; carry it up, or close the void over it as its rating asks",
        value=gap,
        z=wall.top,
    )


def _barrier_finding(
    scene: Scene, wall: Obstacle, barriers: Sequence[Obstacle], point: NDArray[np.float64]
) -> Finding:
    at = scene.ceiling.layout.frame.to_local([point])[0]
    return scene.finding(
        "cavity-barrier",
        at=at,
        subjects=[wall.key, *(o.key for o in barriers)],
        verdict=Verdict.UNKNOWN,
        message=f"the void over {words([wall])} ({wall.barrier}) at {name_of(scene.room_at(at))} "
        f"is closed by {', '.join(repr(o.name or o.key) for o in barriers)}; "
        "whether the ceiling may touch or carry it is not in the model",
        value=None,
        z=wall.top,
    )
