"""Devices of one ceiling as arrays: where they stand, how they are turned, which cells they are made for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import translate

from ifcgrid.checks.body import band_outline
from ifcgrid.checks.scene import Scene
from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle

__all__ = ["FED_BY", "Fixtures", "find_fixtures"]

FED_BY: Mapping[Kind, frozenset[Kind]] = {
    Kind.AIR_TERMINAL: frozenset({Kind.DUCT, Kind.EQUIPMENT}),
    Kind.SPRINKLER: frozenset({Kind.PIPE}),
    Kind.LIGHT: frozenset({Kind.TRAY}),
    Kind.DETECTOR: frozenset({Kind.TRAY}),
    Kind.DEVICE: frozenset({Kind.TRAY}),
}
"""What comes down to a device through the room above it: expected there, and nowhere else."""

_SHAPE_DIGITS = 1
"""Bodies whose corners are alike to a tenth of a millimetre have one shape."""

_ROUND_CORNERS = 8
_ROUND_SEGMENTS = 16
_LAY_IN_KINDS = frozenset({Kind.LIGHT, Kind.AIR_TERMINAL, Kind.DEVICE})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fixtures:
    """Devices that sit in the ceiling, sorted by key; all shapes in local axes, in mm.

    `outlines` (n,) at the ceiling; `centre` (n, 2) and `size` (n, 2) of the enclosing
    rectangle, the size along u and v as nearly as it stands; `turn` (n,) its angle to u
    in radians, within 45 degrees; `cells` (n, 2) for how many columns and rows of cells it
    is made, 0 for devices that are cut into a panel; `place` (n, 2) the middle of the
    whole cells nearest to it, NaN where there are none near.
    """

    obstacles: tuple[Obstacle, ...]
    outlines: NDArray[np.object_]
    centre: NDArray[np.float64]
    size: NDArray[np.float64]
    turn: NDArray[np.float64]
    cells: NDArray[np.int64]
    place: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.obstacles)

    def fed_by(self, kind: Kind) -> NDArray[np.bool_]:
        """Which of them (n,) a kind of service may come down to."""
        return np.array([kind in FED_BY[o.kind] for o in self.obstacles], dtype=bool)

    @property
    def is_lay_in(self) -> NDArray[np.bool_]:
        """Which of them are made to fill whole cells."""
        return _is_lay_in(self.cells)


def find_fixtures(scene: Scene, obstacles: Sequence[Obstacle]) -> Fixtures:
    """The devices that meet the ceiling's plane and whose middle lies in the zone."""
    devices: dict[str, Obstacle] = {}
    for obstacle in obstacles:
        if obstacle.kind in DEVICES and not obstacle.outline.is_empty and _is_in_plane(scene, obstacle):
            devices.setdefault(obstacle.key, obstacle)
    known = [devices[key] for key in sorted(devices)]
    outlines = _rounded(scene.to_local(_at_planes(scene, known)))
    inside = np.asarray(shapely.contains(scene.outline, shapely.centroid(outlines)), dtype=bool)
    known = [o for o, is_inside in zip(known, inside, strict=True) if is_inside]
    outlines = outlines[inside]
    centre, size, turn = _enclosing(outlines)
    cells = _cells_for(scene, known, outlines, size)
    return Fixtures(
        obstacles=tuple(known),
        outlines=outlines,
        centre=centre,
        size=size,
        turn=turn,
        cells=cells,
        place=_places(scene, centre, cells),
    )


def _is_lay_in(cells: NDArray[np.int64]) -> NDArray[np.bool_]:
    return np.asarray(np.all(cells > 0, axis=1), dtype=bool)


def _is_in_plane(scene: Scene, device: Obstacle) -> bool:
    """Recessed, through the plane, or mounted on it from below; a pendant that ends at it is not."""
    reach = tolerance.PLANE_REACH
    if device.bottom > scene.low + reach or device.top < scene.low - reach:
        return False
    return device.top > scene.low + reach or device.bottom >= scene.low - tolerance.SURFACE_DEPTH


def _at_planes(scene: Scene, devices: Sequence[Obstacle]) -> list[shapely.Geometry]:
    """The outlines where devices meet the grid: of a dome its foot, of a lamp on a rod the rod.

    Devices of one type have one shape, so each is cut once and moved to where they stand.
    """
    cut: dict[tuple[bytes, float], shapely.Geometry] = {}
    outlines: list[shapely.Geometry] = []
    for device in devices:
        reach, low = tolerance.PLANE_REACH, scene.low
        if device.mesh is None or (device.bottom >= low - reach and device.top <= scene.high):
            outlines.append(device.outline)
            continue
        origin = np.array([*device.outline.bounds[:2], low])
        local = device.mesh - origin
        name = (np.round(local, _SHAPE_DIGITS).tobytes(), round(device.bottom - low, _SHAPE_DIGITS))
        if name not in cut:
            cut[name] = translate(_at_plane(scene, device), -origin[0], -origin[1])
        outlines.append(translate(cut[name], origin[0], origin[1]))
    return outlines


def _at_plane(scene: Scene, device: Obstacle) -> shapely.Geometry:
    reach, low = tolerance.PLANE_REACH, scene.low
    hangs = device.bottom < low - tolerance.SURFACE_DEPTH
    shape = band_outline(device, *((low, low + reach) if hangs else (low - reach, scene.high)))
    return device.outline if shapely.is_empty(shape) else shape


def _rounded(outlines: NDArray[np.object_]) -> NDArray[np.object_]:
    """Outlines with those that were drawn as regular polygons of a circle made fine circles.

    A kernel puts the corners of a circle's polygon on the circle, so its width comes short
    by up to some per cent; only the corners tell the true radius.
    """
    many = np.flatnonzero(shapely.get_num_coordinates(outlines) > _ROUND_CORNERS)
    if len(many) == 0:
        return outlines
    hulls = shapely.convex_hull(outlines[many])
    bounds = shapely.bounds(shapely.minimum_bounding_circle(hulls))
    centre, radius = (bounds[:, :2] + bounds[:, 2:]) / 2, (bounds[:, 2] - bounds[:, 0]) / 2
    corners, owner = shapely.get_coordinates(hulls, return_index=True)
    gap = radius[owner] - np.hypot(*(corners - centre[owner]).T)
    count = np.bincount(owner, minlength=len(many))
    short = np.bincount(owner, weights=gap > radius[owner] * tolerance.OUT_OF_ROUND, minlength=len(many))
    is_round = (count > _ROUND_CORNERS) & (short == 0)
    circles = shapely.buffer(shapely.points(centre[is_round]), radius[is_round], quad_segs=_ROUND_SEGMENTS)
    outlines[many[is_round]] = circles
    return outlines


def _enclosing(
    outlines: NDArray[np.object_],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Centre, size along u and v, and turn of the smallest enclosing rectangles."""
    if len(outlines) == 0:
        return np.empty((0, 2)), np.empty((0, 2)), np.empty(0)
    # The hull of a line is a line; a hair of width gives every outline a rectangle.
    hulls = shapely.convex_hull(outlines)
    thin = shapely.get_type_id(hulls) != shapely.GeometryType.POLYGON
    hulls[thin] = shapely.buffer(hulls[thin], tolerance.LENGTH)
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(hulls)).reshape(-1, 5, 2)
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 1]
    along_u = np.abs(first[:, 0]) >= np.abs(first[:, 1])
    u_side = np.where(along_u[:, None], first, second)
    v_side = np.where(along_u[:, None], second, first)
    u_side = u_side * np.where(u_side[:, :1] < 0, -1.0, 1.0)
    size = np.stack([np.hypot(*u_side.T), np.hypot(*v_side.T)], axis=1)
    return corners[:, :4].mean(axis=1), size, np.arctan2(u_side[:, 1], u_side[:, 0])


def _cells_for(
    scene: Scene, devices: Sequence[Obstacle], outlines: NDArray[np.object_], size: NDArray[np.float64]
) -> NDArray[np.int64]:
    """For how many columns and rows of cells each device is made: sizes near whole modules, rectangular.

    A device a little larger than its cells counts as made for them too: it is the inch
    device in the metre grid.
    """
    module = np.array([scene.ceiling.layout.along, scene.ceiling.layout.across])
    count = np.maximum(np.rint(size / module), 1)
    near = (np.abs(size - count * module) <= tolerance.LAY_IN_SLACK).all(axis=1)
    # Holes do not matter: a lamp's frame encloses its cell.
    full = shapely.area(shapely.convex_hull(outlines)) >= tolerance.LAY_IN_FILL * size.prod(axis=1)
    kind = np.array([device.kind in _LAY_IN_KINDS for device in devices], dtype=bool)
    cells: NDArray[np.int64] = np.where((near & full & kind)[:, None], count, 0).astype(np.int64)
    return cells


def _places(scene: Scene, centre: NDArray[np.float64], cells: NDArray[np.int64]) -> NDArray[np.float64]:
    """The middle of the nearest whole cells for each lay-in device."""
    module = np.array([scene.ceiling.layout.along, scene.ceiling.layout.across])
    half = cells * module / 2
    row = np.rint((centre - half)[:, 1] / module[1])
    start = half + _row_start(scene, row)
    first = np.rint((centre - start) / module)
    lay_in = _is_lay_in(cells)
    place = np.where(lay_in[:, None], first * module + start, np.nan)
    wanted = np.flatnonzero(lay_in)
    whole = _is_whole(scene, place[wanted], half[wanted])
    steps = np.array([(a, b) for a in range(-2, 3) for b in range(-2, 3)], dtype=float) * module
    for i in wanted[~whole]:
        tried = place[i] + steps
        tried += _row_start(scene, row[i] + steps[:, 1] / module[1]) - _row_start(scene, row[i : i + 1])
        order = np.lexsort((tried[:, 1], tried[:, 0], np.rint(np.hypot(*(tried - centre[i]).T))))
        fits = order[_is_whole(scene, tried[order], np.broadcast_to(half[i], tried.shape))]
        place[i] = tried[fits[0]] if len(fits) else np.nan
    return place


def _row_start(scene: Scene, row: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far (n, 2) the cells of each row (n,) are shifted; nothing where rows are not."""
    offsets = np.array(scene.ceiling.layout.row_offsets)
    along: NDArray[np.float64] = offsets[np.rint(row).astype(np.int64) % len(offsets)]
    return np.stack([along, np.zeros(len(along))], axis=1)


def _is_whole(scene: Scene, middle: NDArray[np.float64], half: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether rectangles about middles lie in the zone."""
    inner = half - tolerance.SHORTEST_EDGE
    boxes = shapely.box(*(middle - inner).T, *(middle + inner).T)
    return np.asarray(shapely.covers(scene.outline, boxes), dtype=bool)
