"""What reaches into a ceiling's build-up: services, structure, walls that stand above it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from ifcgrid.checks.body import band_outline, heights_over
from ifcgrid.checks.fixture import Fixtures
from ifcgrid.checks.hangers import Crossings
from ifcgrid.checks.partitions import PARTITIONS
from ifcgrid.checks.runs import group_runs
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle

__all__ = ["check_build_up"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Intrusion:
    """One obstacle in the build-up: its lowest and highest z there, and a local point where it is."""

    obstacle: Obstacle
    bottom: float
    top: float
    spot: NDArray[np.float64]

    def depth(self, scene: Scene) -> float:
        """How far it would have to rise to leave the build-up; a service may sink where that is less."""
        rise, sink = scene.high - self.bottom, self.top - scene.low
        return min(rise, sink) if self.obstacle.kind in SERVICES else rise


def check_build_up(
    scene: Scene, obstacles: Iterable[Obstacle], fixtures: Fixtures, crossings: Crossings
) -> Iterator[Finding]:
    """Nothing but devices reaches between the ceiling's underside and the top of its mains.

    A duct or pipe that ends at a device in the ceiling is expected there. Walls and columns
    count when they stand above the ceiling; those that go through it are judged in plan,
    elsewhere. Hangers that run
    into the same obstacle have the same cause and are subjects of its finding.
    """
    found: list[_Intrusion] = []
    connections = _Connections(scene, fixtures)
    for obstacle in obstacles:
        if not _is_judged(scene, obstacle):
            continue
        area = _area_in_band(scene, obstacle, connections)
        if getattr(area, "is_empty", True):
            continue
        bottom, top = heights_over(obstacle, area)
        spot = scene.ceiling.layout.frame.to_local(shapely.get_coordinates(shapely.point_on_surface(area)))[0]
        intrusion = _Intrusion(obstacle=obstacle, bottom=bottom, top=top, spot=spot)
        if intrusion.depth(scene) > scene.limits[_build_up_rule(obstacle)].value + scene.contact:
            found.append(intrusion)
    for run in group_runs([f.obstacle for f in found], scene.limits["run"].value):
        yield _build_up_finding(scene, [found[i] for i in run], crossings)


def _is_judged(scene: Scene, obstacle: Obstacle) -> bool:
    if obstacle.bottom >= scene.high - scene.contact or obstacle.top <= scene.low + scene.contact:
        return False
    if obstacle.kind in PARTITIONS:
        return obstacle.bottom >= scene.low - tolerance.HEIGHT
    return obstacle.kind in SERVICES | STRUCTURE


def _build_up_rule(obstacle: Obstacle) -> str:
    return "service-in-ceiling" if obstacle.kind in SERVICES else "structure-in-ceiling"


class _Connections:
    """Where ducts and pipes may come down to devices, in model coordinates."""

    def __init__(self, scene: Scene, fixtures: Fixtures) -> None:
        self._outlines = shapely.transform(fixtures.outlines, scene.ceiling.layout.frame.to_world)
        self._tree = shapely.STRtree(self._outlines)
        self._fixtures = fixtures

    def leave(self, area: Geometry, kind: Kind) -> Geometry:
        """What of a service's area is not at a device that it may feed."""
        near = self._tree.query(area, predicate="dwithin", distance=tolerance.PLANE_REACH)
        near = near[self._fixtures.fed_by(kind)[near]]
        reach = shapely.buffer(self._outlines[np.sort(near)], tolerance.PLANE_REACH, quad_segs=4)
        return shapely.difference(area, shapely.union_all(reach))


def _area_in_band(scene: Scene, obstacle: Obstacle, connections: _Connections) -> Geometry:
    """Where, in model coordinates, an obstacle reaches into the build-up over the zone and may not."""
    contact, zone = scene.contact, scene.ceiling.zone.outline
    if not shapely.intersects(zone, obstacle.outline):
        return Polygon()
    area: Geometry = shapely.intersection(
        band_outline(obstacle, scene.low + contact, scene.high - contact), zone
    )
    if obstacle.kind in SERVICES:
        area = connections.leave(area, obstacle.kind)
    # A body that only touches the zone's edge, or a wall that lines it, leaves a thin strip.
    thin = tolerance.WALL_FINISH if obstacle.kind in PARTITIONS else contact
    return Polygon() if shapely.is_empty(shapely.buffer(area, -thin / 2)) else area


def _build_up_finding(scene: Scene, run: list[_Intrusion], crossings: Crossings) -> Finding:
    obstacles = [f.obstacle for f in run]
    worst = max(run, key=lambda f: (f.depth(scene), f.obstacle.key))
    depth = worst.depth(scene)
    text = f"{words(obstacles)} {verb(obstacles, 'reaches', 'reach')} into the ceiling of "
    text += name_of(scene.room_at(worst.spot))
    if depth > scene.high - scene.low + tolerance.SURFACE_DEPTH:
        text += " and through it; it needs an opening there"
    elif depth == scene.high - worst.bottom:
        text += f": {verb(obstacles, 'its', 'the lowest')} underside is "
        text += f"{_height_text(worst.bottom - scene.low)} the ceiling's and has to be "
        text += f"{scene.high - scene.low:.0f} mm above it; raise {verb(obstacles, 'it', 'them')}, "
        text += f"or lower the ceiling, by {depth:.0f} mm"
    else:
        text += f" from below by {depth:.0f} mm"
    hangers = sorted({h for o in obstacles for h in crossings.get(o.key, ())})
    if hangers:
        text += f"; {len(hangers)} {'hangers run' if len(hangers) > 1 else 'hanger runs'} into it"
    return scene.finding(
        _build_up_rule(worst.obstacle),
        at=worst.spot,
        subjects=[o.key for o in obstacles] + scene.hanger_keys(hangers),
        message=text,
        value=float(depth),
        z=min(max(worst.bottom, scene.low), scene.high),
    )


def _height_text(rise: float) -> str:
    """How high over something, in words."""
    whole = round(rise)
    return "level with" if whole == 0 else f"{abs(whole)} mm {'above' if whole > 0 else 'below'}"
