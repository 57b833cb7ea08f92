"""One space as the model gives it, and its outline at a height."""

from __future__ import annotations

from dataclasses import dataclass

import ifcopenshell
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import RoomError
from ifcgrid.ifc.geometry import Mesh, cut_segments, silhouette
from ifcgrid.ifc.outline import clean, crossing_point, filled, merged, polygons_of

__all__ = ["Body", "Space", "is_sliver", "outline_and_notes", "outline_at", "read_body"]

SAME_AREA = 0.005
"""Two areas that differ by at most this share are one: the share by which plans may disagree."""

SLIVER = 100.0
"""A shape nowhere wider than this, in mm, is a sliver and no room (common practice, no source)."""

_MOST_LEVELS = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """The shape of a space in model coordinates, mm.

    `parts` holds the triangles of each item of the representation; `floor` and `top` are
    its lowest and highest z. Up to `level_top` the body keeps its full plan, which is
    `plan`; above that it is sloped or stepped. `is_cut` tells that the plan is the cut at
    `level_top`; a body without walls has only its shadow.
    """

    parts: tuple[Mesh, ...]
    floor: float
    top: float
    level_top: float
    plan: Polygon | MultiPolygon
    is_cut: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Space:
    """An IfcSpace that may get a ceiling. Lengths in mm, model coordinates.

    `key` is its GlobalId; `open_to` holds the keys of spaces that no wall parts from it;
    `also` the keys of spaces that are the same room; `notes` are sentences for people.
    """

    entity: ifcopenshell.entity_instance
    key: str
    name: str
    number: str
    storey: str
    storey_key: str
    body: Body
    stated_area_m2: float | None = None
    open_to: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    also: tuple[str, ...] = ()

    @property
    def mesh(self) -> Mesh:
        """All triangles (n, 3, 3)."""
        return np.concatenate(self.body.parts)

    @property
    def floor(self) -> float:
        """Lowest z of the body."""
        return self.body.floor

    @property
    def top(self) -> float:
        """Highest z of the body."""
        return self.body.top


def read_body(parts: tuple[Mesh, ...], key: str) -> Body:
    """The body that triangles make.

    Raises:
        RoomError: coordinates are no finite numbers, there is no height, no area, or an
            outline crosses itself.
    """
    corners = np.concatenate([p.reshape(-1, 3) for p in parts]) if parts else np.empty((0, 3))
    if len(corners) == 0:
        raise RoomError("its body is empty", key)
    if not np.isfinite(corners).all():
        raise RoomError("its body has coordinates that are no numbers", key)
    if (farthest := float(np.abs(corners).max())) > tolerance.FARTHEST:
        raise RoomError(f"its body reaches to {farthest:.2g} mm, which is no place on earth", key)
    # Adding zero turns the -0.0 of some kernels into 0.0, which people read.
    floor, top = float(corners[:, 2].min()) + 0.0, float(corners[:, 2].max()) + 0.0
    if top - floor < tolerance.SHORTEST_EDGE:
        raise RoomError(f"its body is {top - floor:.2f} mm high; a room needs a height", key)
    level_top, plan, is_cut = _full_plan(parts, _levels(corners[:, 2]), key)
    return Body(parts=parts, floor=floor, top=top, level_top=level_top, plan=plan, is_cut=is_cut)


def _levels(heights: NDArray[np.float64]) -> list[float]:
    """Heights above the lowest at which the body has corners, the highest first, not too many."""
    distinct = np.unique(np.round(heights / tolerance.SHORTEST_EDGE)) * tolerance.SHORTEST_EDGE
    if len(distinct) > _MOST_LEVELS:
        distinct = distinct[np.linspace(0, len(distinct) - 1, _MOST_LEVELS).round().astype(int)]
    levels = [float(z) for z in distinct[:0:-1]]
    return [float(heights.max()), *levels[1:]]


def _full_plan(
    parts: tuple[Mesh, ...], levels: list[float], key: str
) -> tuple[float, Polygon | MultiPolygon, bool]:
    """The highest level under which the body is as large as anywhere, its plan, whether that is a cut."""
    plans = [(z, _cut(parts, z, key)) for z in levels]
    largest = max(plan.area for _, plan in plans)
    if largest <= tolerance.PIECE_AREA:
        plan = merged([silhouette(p) for p in parts])
        if plan.area <= tolerance.PIECE_AREA:
            raise RoomError("its body has no area in plan", key)
        return levels[0], plan, False
    return next((z, plan, True) for z, plan in plans if plan.area >= (1.0 - SAME_AREA) * largest)


def _cut(parts: tuple[Mesh, ...], z: float, key: str) -> Polygon | MultiPolygon:
    shapes = []
    for part in parts:
        segments = cut_segments(part, z)
        if len(segments) == 0:
            continue
        crossing = crossing_point(segments)
        if crossing is not None:
            x, y = crossing
            raise RoomError(f"its outline crosses itself at ({x:.0f}, {y:.0f}) mm", key)
        shapes.append(filled(segments))
    return shapes[0] if len(shapes) == 1 else merged(shapes)


def outline_at(space: Space, z: float) -> Polygon:
    """The space's horizontal section under a ceiling at height z, cleaned; see `outline_and_notes`.

    Raises:
        RoomError: as `outline_and_notes`.
    """
    return outline_and_notes(space, z)[0]


def outline_and_notes(space: Space, z: float) -> tuple[Polygon, tuple[str, ...]]:
    """The space's horizontal section just under a ceiling at height z, and what to know of it.

    Above the body the section under its full plan is taken. When a section falls apart,
    its largest part is kept. Drawing noise is cleaned away (see `outline.clean`), and holes
    smaller than `tolerance.PIECE_AREA` with it.

    Raises:
        RoomError: the height lies under the floor or is no number, the section has no
            area, its outline crosses itself, or the body's slope leaves next to nothing of it.
    """
    body = space.body
    if not np.isfinite(z):
        raise RoomError(f"the ceiling's height is {z}; a number was wanted", space.key)
    if z <= body.floor + tolerance.SHORTEST_EDGE:
        raise RoomError(
            f"a ceiling at {z:.0f} mm lies under the room's floor at {body.floor:.0f} mm", space.key
        )
    notes: list[str] = []
    if z > body.top + tolerance.HEIGHT:
        notes.append(
            f"the ceiling lies {z - body.top:.0f} mm above the space's body; its plan was carried up"
        )
        shape = body.plan
    else:
        at = min(z, body.top)
        # The plan is the cut at that level, and mostly the ceiling is at the body's top.
        is_known = body.is_cut and at == body.level_top
        shape = body.plan if is_known else _cut(body.parts, at, space.key)
        if is_sliver(shape):
            shape = _plan_of_open_body(space, z)
            notes.append("the space's body is not closed at ceiling height; its plan was taken")
    notes.extend(_shape_notes(body, shape, z))
    polygon = _largest(shape, notes)
    if polygon.area <= tolerance.PIECE_AREA:
        raise RoomError("its outline has no area", space.key)
    if not polygon.is_valid:
        raise RoomError(f"its outline is not valid: {shapely.is_valid_reason(polygon)}", space.key)
    return polygon, tuple(notes)


def is_sliver(shape: Polygon | MultiPolygon) -> bool:
    """Whether a shape is nowhere wider than `SLIVER`."""
    return bool(shape.buffer(-0.5 * SLIVER, join_style="mitre").is_empty)


def _plan_of_open_body(space: Space, z: float) -> Polygon | MultiPolygon:
    """The plan where walls are missing at z, and not where the body has come to its end."""
    body = space.body
    if z > body.level_top + tolerance.LENGTH:
        raise RoomError(
            f"the slope of its top leaves no room under a ceiling {z - body.floor:.0f} mm above its floor; "
            f"it keeps its full plan up to {body.level_top - body.floor:.0f} mm",
            space.key,
        )
    return body.plan


def _shape_notes(body: Body, shape: Polygon | MultiPolygon, z: float) -> list[str]:
    notes = []
    if body.top - body.level_top > tolerance.SHORTEST_EDGE:
        notes.append(
            f"the top of the space is sloped or stepped: it keeps its full plan up to "
            f"{body.level_top - body.floor:.0f} mm above its floor and ends at {body.top - body.floor:.0f} mm"
        )
    if shape.area < (1.0 - SAME_AREA) * body.plan.area:
        notes.append(
            f"at the ceiling's height, {z - body.floor:.0f} mm above the floor, the space measures "
            f"{shape.area / 1e6:.2f} m², elsewhere {body.plan.area / 1e6:.2f} m²"
        )
    return notes


def _largest(shape: Polygon | MultiPolygon, notes: list[str]) -> Polygon:
    parts = [p for p in map(clean, polygons_of(shape)) if p.area > tolerance.PIECE_AREA]
    if not parts:
        return Polygon()
    if len(parts) > 1:
        rest = sum(p.area for p in parts[1:])
        notes.append(
            f"the space falls into {len(parts)} parts; the largest, {parts[0].area / 1e6:.2f} m², "
            f"was kept and {rest / 1e6:.2f} m² left out"
        )
    return _without_small_holes(parts[0])


def _without_small_holes(polygon: Polygon) -> Polygon:
    """The polygon less those of its holes that are no larger than `tolerance.PIECE_AREA`."""
    holes = [r for r in polygon.interiors if Polygon(r).area > tolerance.PIECE_AREA]
    return polygon if len(holes) == len(polygon.interiors) else Polygon(polygon.exterior, holes)
