"""Whether hands can get at valves, dampers and boxes above a ceiling through a panel that lifts out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.body import band_outline
from ifcgrid.checks.fixture import Fixtures
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Obstacle

__all__ = ["check_access"]


def check_access(scene: Scene, obstacles: Sequence[Obstacle], fixtures: Fixtures) -> Iterator[Finding]:
    """Under everything that must be reached a panel lifts out, wide enough and with nothing between.

    A panel with a device in it is held by that device; the grid is no access. The measure is
    what the widest opening lacks, the whole of it where there is none.
    """
    ceiling_top = _structure_above(scene, obstacles)
    asked = [
        o
        for o in obstacles
        if o.needs_access
        and o.top > scene.high
        and o.bottom < ceiling_top
        and shapely.intersects(scene.ceiling.zone.outline, shapely.centroid(o.outline))
    ]
    if not asked:
        return
    panels = _Panels(scene, fixtures)
    limit = scene.limits["device-without-access"].value
    causes: dict[tuple[str, str], list[tuple[Obstacle, float, NDArray[np.float64]]]] = defaultdict(list)
    for device in asked:
        clear, why = panels.widest(device, obstacles, limit)
        if clear < limit - scene.contact:
            inside = shapely.get_coordinates(shapely.point_on_surface(device.outline))
            spot = scene.ceiling.layout.frame.to_local(inside)[0]
            causes[scene.room_at(spot).key, why].append((device, clear, spot))
    for (_, why), group in causes.items():
        yield _finding(scene, group, why, limit)


def _structure_above(scene: Scene, obstacles: Sequence[Obstacle]) -> float:
    """Model z of the highest underside over the void, as the hangers find it; else of the lowest slab."""
    tops = scene.ceiling.hangers.top
    known = tops[np.isfinite(tops)]
    if len(known):
        return float(known.max())
    over = [o.bottom for o in obstacles if o.kind in STRUCTURE and o.bottom > scene.high]
    return min(over, default=np.inf)


class _Panels:
    """Panels as openings: what they leave clear when they are lifted out, and what holds them."""

    def __init__(self, scene: Scene, fixtures: Fixtures) -> None:
        self._scene = scene
        panels = scene.ceiling.panels
        low, high = panels.bounds[:, :2], panels.bounds[:, 2:]
        boxes = np.asarray(shapely.box(*low.T, *high.T))
        for k, outline in panels.outlines.items():
            boxes[k] = outline
        self._boxes, self._tree = boxes, shapely.STRtree(boxes)
        # Half a tee's face lies over each edge of the opening.
        self._clear = np.maximum(
            (high - low).min(axis=1, initial=np.inf) - scene.ceiling.system.tee.face, 0.0
        )
        held = np.zeros(len(panels), dtype=bool)
        if len(fixtures) and len(panels):
            shapes = shapely.buffer(fixtures.outlines, -scene.contact)
            _, panel = self._tree.query(shapes, predicate="intersects")
            held[panel] = True
        self._held = held

    def widest(self, device: Obstacle, obstacles: Sequence[Obstacle], limit: float) -> tuple[float, str]:
        """The widest clear opening under a device in mm, and what is wrong where that is too little."""
        plan = self._scene.to_local([device.outline])[0]
        under = np.sort(self._tree.query(plan, predicate="intersects"))
        under = np.array(
            [k for k in under.tolist() if self._is_under(k, plan)],
            dtype=np.int64,
        )
        if len(under) == 0:
            return 0.0, "there is no panel under {}"
        free = under[~self._held[under]]
        if len(free) == 0:
            return 0.0, "the panels under {} are held by devices"
        wide = free[self._clear[free] >= limit - self._scene.contact]
        if len(wide) == 0:
            return float(self._clear[free].max()), "the panels under {} are too narrow to reach through"
        blocking = self._between(device, obstacles)
        open_ = [k for k in wide.tolist() if not self._is_blocked(k, plan, blocking)]
        if not open_:
            return 0.0, "other services lie between the panels and {}"
        return float(self._clear[open_].max()), ""

    def _is_under(self, panel: int, plan: shapely.Geometry) -> bool:
        common = shapely.intersection(self._boxes[panel], plan)
        return bool(shapely.area(common) > tolerance.PIECE_AREA)

    def _between(self, device: Obstacle, obstacles: Sequence[Obstacle]) -> NDArray[np.object_]:
        """Local silhouettes of what lies between the ceiling and a device, but for what it is part of."""
        scene = self._scene
        low, high = scene.high, device.bottom - scene.contact
        between = [
            o
            for o in obstacles
            if o.kind in SERVICES | STRUCTURE
            and o.key != device.key
            and o.bottom < high
            and o.top > low
            and shapely.intersects(o.outline, device.outline)
            and o.top <= device.top
        ]
        return scene.to_local([band_outline(o, low, high) for o in between])

    def _is_blocked(self, panel: int, plan: shapely.Geometry, between: NDArray[np.object_]) -> bool:
        """Whether more than half of what a panel shows of a device is covered from below."""
        seen = shapely.intersection(self._boxes[panel], plan)
        covered = shapely.intersection(shapely.union_all(between), seen) if len(between) else shapely.Point()
        return bool(shapely.area(covered) > shapely.area(seen) / 2)


def _finding(
    scene: Scene,
    group: Sequence[tuple[Obstacle, float, NDArray[np.float64]]],
    why: str,
    limit: float,
) -> Finding:
    devices = [device for device, _, _ in group]
    worst, clear, spot = min(group, key=lambda item: (item[1], item[0].key))
    text = f"{words(devices)} over the ceiling of {name_of(scene.room_at(spot))} cannot be reached: "
    text += why.format(verb(devices, "it", "them"))
    text += (
        "; move it, or put an access panel there"
        if len(devices) == 1
        else "; move them, or add access panels"
    )
    return scene.finding(
        "device-without-access",
        at=spot,
        subjects=[o.key for o in devices],
        message=text,
        value=limit - clear,
        z=worst.bottom,
    )
