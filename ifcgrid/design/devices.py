"""Devices in the ceiling: which of them take the place of panels, and which are cut into one.

A lay-in device fills whole cells between the tees; anything smaller, round or off the
lattice becomes a hole in the panels it meets. That a device must not exceed the module is
common practice (no source): 24 in are 609.6 mm and do not go into a 600 mm cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.design.field import Field, rooms_at, see_field
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Opening
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["CellFit", "cell_fit", "devices_in", "fit_devices", "footprint"]

_Cells = tuple[int, int, int, int]


def fit_devices(zone: Zone, layout: Layout, devices: Sequence[Obstacle], level: float) -> tuple[Opening, ...]:
    """The openings that devices need in a zone's ceiling, sorted by the device's key.

    A device needs one when its body meets the ceiling's plane at model height `level` and
    its middle lies in the zone: recessed, through the plane, or mounted on it from below.
    Pendants that only touch the plane need none. The opening of a lay-in device bears the
    cells that it fills whole; it may not exceed them, nor cross a main. Its outline is the
    device's own. Any other device's outline is cut off at the room's walls.
    """
    field = see_field(zone, layout)
    shapely.prepare(field.outline)
    openings: list[Opening] = []
    taken: set[tuple[int, int]] = set()
    for device in devices_in(zone, devices, level):
        shape = footprint(device, level)
        if shape is None:
            continue
        outline: Polygon = layout.frame.shape_to_local(shape)
        cells = _whole_cells(field, layout, outline)
        names = _cell_names(cells) if cells else set()
        if cells and not names & taken:
            taken |= names
        else:
            cells = None
            outline = _largest(outline.intersection(field.outline))
        if outline.area < tolerance.AREA:
            continue
        room = rooms_at(zone, layout, [outline.centroid.coords[0]])
        openings.append(
            Opening(
                key=device.key,
                outline=outline,
                room=int(room[0]),
                is_lay_in=cells is not None,
                cells=cells,
            )
        )
    return tuple(openings)


class CellFit(Enum):
    """Whether a device is made for the cells of a system, or for those of a smaller or larger one."""

    NONE = "none"
    FITS = "fits"
    TOO_LARGE = "too large"


def cell_fit(outline: Polygon, system: GridSystem) -> CellFit:
    """How a device's outline goes into whole cells, in one of the two directions.

    A device that is larger than its cells by less than it may be smaller is made for the
    module of another system: 24 in (609.6 mm) in a grid of 600 mm.
    """
    frame = shapely.oriented_envelope(outline)
    if not isinstance(frame, Polygon) or outline.area < tolerance.LAY_IN_FILL * frame.area:
        return CellFit.NONE
    corners = shapely.get_coordinates(frame)
    first, second = (float(np.hypot(*(corners[k + 1] - corners[k]))) for k in (0, 1))
    ways = ((first, second), (second, first))
    if any(_cell_count(u, system.along) and _cell_count(v, system.across) for u, v in ways):
        return CellFit.FITS
    is_near = any(_is_near(u, system.along) and _is_near(v, system.across) for u, v in ways)
    return CellFit.TOO_LARGE if is_near else CellFit.NONE


def _is_near(size: float, module: float) -> bool:
    return abs(size - max(round(size / module), 1) * module) <= tolerance.LAY_IN_SLACK


def devices_in(zone: Zone, devices: Sequence[Obstacle], level: float) -> list[Obstacle]:
    """Devices at the plane whose middle lies in the zone, sorted by key."""
    near = sorted(
        (d for d in devices if d.kind in DEVICES and not d.outline.is_empty and _meets_plane(d, level)),
        key=lambda device: device.key,
    )
    shapely.prepare(zone.outline)
    inside = shapely.contains(zone.outline, shapely.centroid([d.outline for d in near]))
    return [device for device, is_inside in zip(near, inside, strict=True) if is_inside]


def _meets_plane(device: Obstacle, level: float) -> bool:
    if device.bottom > level + tolerance.PLANE_REACH or device.top < level - tolerance.PLANE_REACH:
        return False
    if device.top > level + tolerance.PLANE_REACH:
        return True
    return device.bottom >= level - tolerance.SURFACE_DEPTH


def footprint(device: Obstacle, level: float) -> Polygon | None:
    """The device's outline where it meets the ceiling; None when nothing of it is there."""
    if device.mesh is None or device.bottom >= level - tolerance.SURFACE_DEPTH:
        return _one_polygon(device.outline)
    # A lamp on a rod through the ceiling: the rod makes the hole, not the shade below.
    points = _points_at(device.mesh, level)
    hull = shapely.convex_hull(shapely.multipoints(points))
    return hull if isinstance(hull, Polygon) and not hull.is_empty else None


def _points_at(mesh: NDArray[np.float64], level: float) -> NDArray[np.float64]:
    """Plan points (n, 2) where the edges of a mesh (m, 3, 3) pass a height."""
    start, end = mesh.reshape(-1, 3), np.roll(mesh, -1, axis=1).reshape(-1, 3)
    passing = (start[:, 2] > level) != (end[:, 2] > level)
    start, end = start[passing], end[passing]
    share = (level - start[:, 2]) / (end[:, 2] - start[:, 2])
    points: NDArray[np.float64] = start[:, :2] + share[:, None] * (end - start)[:, :2]
    return points


def _one_polygon(outline: Polygon | MultiPolygon) -> Polygon:
    """A device of one piece, without holes: what it encloses is not covered either."""
    hull = outline if isinstance(outline, Polygon) else outline.convex_hull
    return Polygon(hull.exterior) if isinstance(hull, Polygon) else Polygon()


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=Polygon())


def _cell_count(size: float, module: float) -> int:
    """How many cells a device of this size is made for; 0 when it would lie loose in them."""
    count = max(tolerance.ceil_div(size, module), 1)
    return count if count * module - size <= tolerance.LAY_IN_SLACK else 0


def _whole_cells(field: Field, layout: Layout, outline: Polygon) -> _Cells | None:
    """The whole cells that a device fills, or None."""
    low_u, low_v, high_u, high_v = outline.bounds
    if outline.area < tolerance.LAY_IN_FILL * (high_u - low_u) * (high_v - low_v):
        return None
    rows = _first_cell(low_v, high_v, layout.across)
    shift = layout.row_offset(rows[0]) if rows else 0.0
    columns = _first_cell(low_u - shift, high_u - shift, layout.along)
    if columns is None or rows is None:
        return None
    inner = range(rows[0] + 1, rows[0] + rows[1])
    if any((j - layout.main_phase) % layout.main_every == 0 for j in inner):
        return None
    cells = (columns[0], rows[0], columns[1], rows[1])
    box = shapely.box(
        cells[0] * layout.along + shift,
        cells[1] * layout.across,
        (cells[0] + cells[2]) * layout.along + shift,
        (cells[1] + cells[3]) * layout.across,
    )
    return cells if field.outline.intersection(box).area >= box.area - tolerance.AREA else None


def _first_cell(low: float, high: float, module: float) -> tuple[int, int] | None:
    """First cell and number of cells that the range [low, high] fills in one direction, or None."""
    count = _cell_count(high - low, module)
    first = round((low + high) / 2 / module - count / 2)
    fits = (
        low >= first * module - tolerance.LAY_IN_SHIFT
        and high <= (first + count) * module + tolerance.LAY_IN_SHIFT
    )
    return (first, count) if count and fits else None


def _cell_names(cells: _Cells) -> set[tuple[int, int]]:
    column, row, columns, rows = cells
    return {(i, j) for i in range(column, column + columns) for j in range(row, row + rows)}
