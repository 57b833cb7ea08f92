"""The numbers of a room's 3D look: what the report's own small viewer makes boxes and faces of.

All in whole millimetres from the middle of the zone's outline and the ceiling's underside;
z up. It is a look, not a model: sections are drawn as boxes, round things by their outline.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.obstacle import DEVICES, SERVICES, STRUCTURE, Kind, Obstacle

__all__ = ["pack_look"]

_ABOVE = 4000.0
"""What begins more than this above the ceiling is not drawn, in mm."""

_MOST_THINGS = 160


def pack_look(ceiling: Ceiling, obstacles: Sequence[Obstacle]) -> dict[str, Any]:
    """Members, hangers, panels, the room's outline and what is near, as plain lists.

    `bars` are [x0, y0, z0, x1, y1, z1, width, height, kind], their axis on the underside;
    `faces` triangles [x, y] * 3 at z 0; `prisms` rings with bottom, top and kind.
    """
    middle = np.array(ceiling.zone.outline.envelope.centroid.coords[0])
    return {
        "bars": [*_members(ceiling, middle), *_hangers(ceiling, middle)],
        "faces": _panels(ceiling, middle),
        "floor": _rounded(min(room.floor for room in ceiling.zone.rooms) - ceiling.zone.level),
        "rings": [_ring(ring, middle) for ring in _rings(ceiling.zone.outline)],
        "prisms": list(_things(ceiling, obstacles, middle)),
    }


def _rounded(value: float) -> int:
    return round(float(value))


def _rings(shape: Polygon) -> Iterator[Any]:
    yield from (ring.coords for ring in (shape.exterior, *shape.interiors))


def _ring(points: Any, middle: NDArray[np.float64]) -> list[list[int]]:
    placed: list[list[int]] = np.round(np.asarray(points)[:-1, :2] - middle).astype(int).tolist()
    return placed


def _members(ceiling: Ceiling, middle: NDArray[np.float64]) -> Iterator[list[int]]:
    members, frame, system = ceiling.members, ceiling.layout.frame, ceiling.system
    ends = np.concatenate(
        [frame.to_world(members.start) - middle, frame.to_world(members.end) - middle], axis=1
    )
    sections = {Role.MAIN_RUNNER: system.main, Role.WALL_ANGLE: system.angle}
    for role, (x0, y0, x1, y1) in zip(
        members.role.tolist(), np.round(ends).astype(int).tolist(), strict=True
    ):
        section = sections.get(Role(role), system.tee)
        yield [x0, y0, 0, x1, y1, 0, _rounded(section.face), _rounded(section.height), role]


_HANGER = 4


def _hangers(ceiling: Ceiling, middle: NDArray[np.float64]) -> Iterator[list[int]]:
    hangers, frame, level = ceiling.hangers, ceiling.layout.frame, ceiling.zone.level
    low, high = frame.to_world(hangers.point) - middle, frame.to_world(hangers.top_points) - middle
    size = max(_rounded(ceiling.system.hanger_diameter), 8)
    for k in range(len(hangers)):
        if np.isfinite(hangers.top[k]):
            ends = [*low[k], hangers.bottom[k] - level, *high[k], hangers.top[k] - level]
            yield [*map(_rounded, ends), size, size, _HANGER]


def _panels(ceiling: Ceiling, middle: NDArray[np.float64]) -> list[list[int]]:
    """Triangles of the panels; a cut one by the triangles between its corners that lie in it."""
    panels, frame = ceiling.panels, ceiling.layout.frame
    plain = np.ones(len(panels), dtype=bool)
    plain[list(panels.outlines)] = False
    u0, v0, u1, v1 = panels.bounds[plain].T
    corners = np.stack([u0, v0, u1, v0, u1, v1, u0, v0, u1, v1, u0, v1], axis=1).reshape(-1, 3, 2)
    cut = [triangle for shape in panels.outlines.values() for triangle in _triangles(shape)]
    triangles = np.concatenate([corners, np.array(cut).reshape(-1, 3, 2)])
    flat = frame.to_world(triangles.reshape(-1, 2)) - middle
    faces: list[list[int]] = np.round(flat).astype(int).reshape(-1, 6).tolist()
    return faces


def _triangles(shape: Polygon) -> Iterable[NDArray[np.float64]]:
    for part in shapely.get_parts(shapely.delaunay_triangles(shape)):
        if part.representative_point().within(shape):
            yield np.asarray(part.exterior.coords)[:3, :2]


def _things(
    ceiling: Ceiling, obstacles: Sequence[Obstacle], middle: NDArray[np.float64]
) -> Iterator[dict[str, Any]]:
    """Devices, services and beams over the room, cut to a little outside of it; slabs would hide all."""
    zone = ceiling.zone
    around = zone.outline.buffer(300.0, join_style="mitre")
    kinds = (DEVICES | SERVICES | STRUCTURE) - {Kind.SLAB, Kind.ROOF}
    near = [
        o
        for o in obstacles
        if o.kind in kinds
        and o.top > zone.level - 300.0
        and o.bottom < zone.level + _ABOVE
        and o.outline.intersects(around)
    ]
    for obstacle in near[:_MOST_THINGS]:
        shape = obstacle.outline.intersection(around)
        for part in getattr(shape, "geoms", [shape]):
            if isinstance(part, Polygon) and part.area > 0:
                yield {
                    "ring": _ring(part.exterior.coords, middle),
                    "bottom": _rounded(obstacle.bottom - zone.level),
                    "top": _rounded(obstacle.top - zone.level),
                    "kind": _group(obstacle.kind),
                }


def _group(kind: Kind) -> str:
    if kind in DEVICES:
        return "device"
    return "service" if kind in SERVICES else "structure"
