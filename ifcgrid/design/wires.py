"""Wires from devices straight to the structure, by weight and size.

Source of the numbers: `ifcgrid.domain.tiers`. Two wires go to opposite corners, four to all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Opening
from ifcgrid.domain.hanging import Wires
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.soffit import SoffitIndex
from ifcgrid.domain.tiers import WireTiers

__all__ = ["place_wires"]

INSET = 50.0
"""Distance in mm of a wire from the corner of its device, along both sides (our choice)."""

WIRED = frozenset({Kind.LIGHT, Kind.AIR_TERMINAL, Kind.DEVICE})
"""Devices that hang in the ceiling; sprinklers and detectors hang on their pipe or their panel."""


def place_wires(
    zone: Zone,
    layout: Layout,
    openings: Sequence[Opening],
    devices: Sequence[Obstacle],
    tiers: WireTiers,
    obstacles: Sequence[Obstacle] = (),
) -> Wires:
    """The wires of all devices that sit in a zone's ceiling, by device and number.

    `obstacles` hold the structure that wires are fixed to and the services they have to
    pass. Of the two diagonals of a device the one whose wires pass clear is taken. A wire's
    top is NaN where the models have no structure above it.
    """
    by_key = {d.key: d for d in devices if d.kind in WIRED}
    held = sorted((o for o in openings if o.key in by_key), key=lambda o: o.key)
    index = SoffitIndex([o for o in obstacles if o.kind in STRUCTURE])
    names = [o.key for o in obstacles if o.kind in STRUCTURE]
    ways = _Ways(obstacles, layout)
    rows: list[tuple[str, int, NDArray[np.float64], float, float, bool, str, bool]] = []
    for opening in held:
        device = by_key[opening.key]
        weight = device.weight_kg
        corners, size = _corners(opening.outline)
        demand = tiers.demand(device.kind, tiers.assumed_kg if weight is None else weight, size)
        if demand.count == 0:
            continue
        bottom = min(max(device.top, zone.level), zone.level + tolerance.SURFACE_DEPTH)
        tops, owner = index.find(layout.frame.to_world(corners), np.full(4, bottom))
        chosen = _choose(
            corners, demand.count, [ways.is_clear(c, bottom, t) for c, t in zip(corners, tops, strict=True)]
        )
        for number, corner in enumerate(chosen):
            support = names[int(owner[corner])] if owner[corner] >= 0 else ""
            row = (corners[corner], bottom, float(tops[corner]), demand.is_slack, support, weight is None)
            rows.append((opening.key, number, *row))
    return _gather(rows)


def _gather(rows: Sequence[tuple[str, int, NDArray[np.float64], float, float, bool, str, bool]]) -> Wires:
    return Wires(
        device=tuple(r[0] for r in rows),
        number=np.array([r[1] for r in rows], dtype=np.int32),
        point=np.array([r[2] for r in rows]).reshape(-1, 2),
        bottom=np.array([r[3] for r in rows], dtype=float),
        top=np.array([r[4] for r in rows], dtype=float),
        is_slack=np.array([r[5] for r in rows], dtype=bool),
        support=tuple(r[6] for r in rows),
        is_assumed=np.array([r[7] for r in rows], dtype=bool),
    )


def _corners(outline: Polygon) -> tuple[NDArray[np.float64], tuple[float, float]]:
    """Places (4, 2) of wires near the corners of a device, going round it, and its size.

    A corner that a round device does not have is drawn in until it lies on the device.
    """
    box = outline.minimum_rotated_rectangle
    points = shapely.get_coordinates(box)[:4]
    first = int(np.lexsort((points[:, 0].round(3), points[:, 1].round(3)))[0])
    points = np.roll(points, -first, axis=0)
    middle = points.mean(axis=0)
    sides = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    reach = np.hypot(*(points - middle).T)
    share = np.maximum(1.0 - INSET * np.sqrt(2.0) / reach, 0.5)
    drawn = middle + (points - middle) * share[:, None]
    shapely.prepare(outline)
    for k in range(4):
        ray = shapely.LineString([middle, points[k]]).intersection(outline)
        inside = shapely.get_coordinates(ray)
        if len(inside) and not outline.covers(shapely.Point(drawn[k])):
            far = inside[np.argmax(np.hypot(*(inside - middle).T))]
            drawn[k] = middle + (far - middle) * 0.9
    return drawn, (float(sides[0]), float(sides[1]))


def _choose(corners: NDArray[np.float64], count: int, is_clear: Sequence[bool]) -> list[int]:
    """Which corners get a wire: one, a diagonal, or all; those with a clear way first."""
    if count >= len(corners):
        return list(range(len(corners)))
    if count == 1:
        return [next((k for k in range(4) if is_clear[k]), 0)]
    diagonals = [[0, 2], [1, 3]]
    return max(diagonals, key=lambda d: (sum(is_clear[k] for k in d), -d[0]))


class _Ways:
    """Services over a zone, asked whether an upright wire passes them."""

    def __init__(self, obstacles: Sequence[Obstacle], layout: Layout) -> None:
        self._bodies = [o for o in obstacles if o.kind in SERVICES]
        self._frame = layout.frame
        self._tree = shapely.STRtree([o.outline for o in self._bodies])

    def is_clear(self, point: NDArray[np.float64], bottom: float, top: float) -> bool:
        spot = shapely.Point(self._frame.to_world([point])[0])
        met = [self._bodies[k] for k in self._tree.query(spot, predicate="dwithin", distance=tolerance.GAP)]
        return not any(b.top > bottom and (np.isnan(top) or b.bottom < top) for b in met)
