"""Services and structure against the ceiling's build-up and its hangers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Polygon

from ifcgrid.checks.body import band_outline, heights_at, heights_over
from ifcgrid.checks.fixture import Fixtures
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle

__all__ = ["Crossings", "check_build_up", "check_hangers", "check_supports", "find_crossings", "group_runs"]

Crossings = Mapping[str, Mapping[int, float]]
"""By obstacle key: the hangers that run through it, and how deep inside its silhouette, in mm."""


def group_runs(obstacles: Sequence[Obstacle], gap: float) -> list[list[int]]:
    """Indices of obstacles in runs: of one kind, and no farther apart than a gap in plan and height.

    Structure of one kind is one run wherever it stands: against a ceiling it is one cause.
    """
    leader = list(range(len(obstacles)))

    def find(i: int) -> int:
        while leader[i] != i:
            i = leader[i]
        return i

    first_of: dict[Kind, int] = {}
    pairs: list[tuple[int, int]] = []
    for i, obstacle in enumerate(obstacles):
        if obstacle.kind in STRUCTURE:
            pairs.append((first_of.setdefault(obstacle.kind, i), i))
    outlines = np.array([o.outline for o in obstacles], dtype=object)
    near = shapely.STRtree(outlines).query(outlines, predicate="dwithin", distance=gap)
    pairs += [(a, b) for a, b in near.T.tolist() if a < b and _is_joined(obstacles[a], obstacles[b], gap)]
    for a, b in pairs:
        one, other = sorted((find(a), find(b)))
        leader[other] = one
    runs: dict[int, list[int]] = defaultdict(list)
    for i in range(len(obstacles)):
        runs[find(i)].append(i)
    return [runs[k] for k in sorted(runs)]


def _is_joined(one: Obstacle, other: Obstacle, gap: float) -> bool:
    return one.kind is other.kind and one.bottom <= other.top + gap and other.bottom <= one.top + gap


@dataclass(frozen=True, slots=True, kw_only=True)
class _Intrusion:
    """One obstacle in the build-up: its lowest and highest z there, and a local point where it is."""

    obstacle: Obstacle
    bottom: float
    top: float
    spot: NDArray[np.float64]

    def depth(self, scene: Scene) -> float:
        """How far it would have to rise, or to sink where that is less, to leave the build-up."""
        return min(scene.high - self.bottom, self.top - scene.low)


def check_build_up(
    scene: Scene, obstacles: Iterable[Obstacle], fixtures: Fixtures, crossings: Crossings
) -> Iterator[Finding]:
    """Nothing but devices reaches between the ceiling's underside and the top of its mains.

    A duct or pipe that ends at a device in the ceiling is expected there. Hangers that run
    into the same obstacle have the same cause and are subjects of its finding.
    """
    found: list[_Intrusion] = []
    connections = _Connections(scene, fixtures)
    for obstacle in obstacles:
        if obstacle.kind not in SERVICES | STRUCTURE:
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


def _build_up_rule(obstacle: Obstacle) -> str:
    return "structure-in-ceiling" if obstacle.kind in STRUCTURE else "service-in-ceiling"


class _Connections:
    """Where ducts and pipes may come down to devices, in model coordinates."""

    def __init__(self, scene: Scene, fixtures: Fixtures) -> None:
        self._outlines = shapely.transform(fixtures.outlines, scene.ceiling.layout.frame.to_world)
        self._tree = shapely.STRtree(self._outlines)

    def leave(self, area: Geometry) -> Geometry:
        """What of an area is not at a device."""
        near = self._tree.query(area, predicate="dwithin", distance=tolerance.PLANE_REACH)
        reach = shapely.buffer(self._outlines[np.sort(near)], tolerance.PLANE_REACH, quad_segs=4)
        return shapely.difference(area, shapely.union_all(reach))


def _area_in_band(scene: Scene, obstacle: Obstacle, connections: _Connections) -> Geometry:
    """Where, in model coordinates, an obstacle reaches into the build-up over the zone and may not."""
    contact = scene.contact
    if obstacle.bottom >= scene.high - contact or obstacle.top <= scene.low + contact:
        return Polygon()
    zone = scene.ceiling.zone.outline
    if not shapely.intersects(zone, obstacle.outline):
        return Polygon()
    area: Geometry = shapely.intersection(
        band_outline(obstacle, scene.low + contact, scene.high - contact), zone
    )
    if obstacle.kind in SERVICES:
        area = connections.leave(area)
    # A body that only touches the zone's edge leaves a strip thinner than contact.
    return Polygon() if shapely.is_empty(shapely.buffer(area, -contact / 2)) else area


def _build_up_finding(scene: Scene, run: list[_Intrusion], crossings: Crossings) -> Finding:
    obstacles = [f.obstacle for f in run]
    worst = max(run, key=lambda f: (f.depth(scene), f.obstacle.key))
    depth = worst.depth(scene)
    text = f"{words(obstacles)} {verb(obstacles, 'reaches', 'reach')} into the ceiling of "
    text += name_of(scene.room_at(worst.spot))
    if depth > scene.high - scene.low + tolerance.SURFACE_DEPTH:
        text += " and through it; it needs an opening there"
    elif depth == scene.high - worst.bottom:
        place = "above" if worst.bottom >= scene.low else "below"
        text += f": its underside is {abs(worst.bottom - scene.low):.0f} mm {place} the ceiling's, "
        text += f"{scene.high - scene.low:.0f} mm above are needed; raise it, or lower the ceiling, "
        text += f"by {depth:.0f} mm"
    else:
        text += f" from below by {depth:.0f} mm"
    hangers = sorted({h for o in obstacles for h in crossings.get(o.key, ())})
    if hangers:
        text += f"; {len(hangers)} {'hangers run' if len(hangers) > 1 else 'hanger runs'} into it"
    return scene.finding(
        _build_up_rule(worst.obstacle),
        at=worst.spot,
        subjects=[o.key for o in obstacles] + _hanger_keys(scene, hangers),
        message=text,
        value=float(depth),
        z=min(max(worst.bottom, scene.low), scene.high),
    )


def find_crossings(scene: Scene, obstacles: Sequence[Obstacle]) -> Crossings:
    """Which hangers run through services, or through structure that does not carry them.

    The measure is how far the wire runs inside the silhouette: what it would have to shift.
    """
    hangers = scene.ceiling.hangers
    known = np.flatnonzero(~np.isnan(hangers.top))
    bodies = [o for o in obstacles if o.kind in SERVICES | STRUCTURE and o.top > scene.high]
    met: dict[str, dict[int, float]] = defaultdict(dict)
    if len(known) == 0 or not bodies:
        return met
    points = scene.ceiling.layout.frame.to_world(hangers.point[known])
    radius = scene.ceiling.system.hanger_diameter / 2
    tree = shapely.STRtree([o.outline for o in bodies])
    hits = tree.query(shapely.points(points), predicate="dwithin", distance=radius)
    for k, b in hits.T.tolist():
        depth = _depth(scene, int(known[k]), points[k], bodies[b], radius)
        if depth > scene.contact:
            met[bodies[b].key][int(known[k])] = depth
    return met


def check_hangers(
    scene: Scene, obstacles: Sequence[Obstacle], crossings: Crossings, told: Collection[str]
) -> Iterator[Finding]:
    """No hanger passes through a service, or through structure that does not carry it.

    What reaches into the build-up is `told` of already, and its hangers with it.
    """
    crossed = [o for o in obstacles if o.key in crossings and o.key not in told]
    for run in group_runs(crossed, scene.limits["run"].value):
        bodies = [crossed[i] for i in run]
        depths: dict[int, float] = {}
        for body in bodies:
            for hanger, depth in crossings[body.key].items():
                depths[hanger] = max(depth, depths.get(hanger, 0.0))
        yield _hanger_finding(scene, bodies, depths)


def _depth(scene: Scene, hanger: int, point: NDArray[np.float64], body: Obstacle, radius: float) -> float:
    """How far inside a body's silhouette a hanger's wire runs, in mm; 0 where it passes above or below."""
    hangers = scene.ceiling.hangers
    if hangers.support[hanger] == body.key:
        return 0.0
    bottom, top = float(hangers.bottom[hanger]), float(hangers.top[hanger])
    if min(top, body.top) - max(bottom, body.bottom) <= scene.contact:
        return 0.0
    stretches = heights_at(body, point)
    if all(min(top, high) - max(bottom, low) <= scene.contact for low, high in stretches):
        return 0.0
    spot = shapely.Point(point)
    edge = float(shapely.distance(body.outline.boundary, spot))
    return radius + (edge if body.outline.intersects(spot) else -edge)


def _hanger_finding(scene: Scene, bodies: list[Obstacle], depths: dict[int, float]) -> Finding:
    hangers = scene.ceiling.hangers
    order = sorted(depths)
    worst = max(order, key=lambda h: (depths[h], -h))
    rule = "hanger-through-structure" if bodies[0].kind in STRUCTURE else "hanger-through-service"
    many = len(order) > 1
    text = f"{len(order)} hangers of " if many else "a hanger of "
    text += f"{name_of(scene.room_at(hangers.point[worst]))} {'pass' if many else 'passes'} through "
    text += words(bodies)
    text += f", up to {depths[worst]:.0f} mm inside; shift along the main or carry on a trapeze"
    return scene.finding(
        rule,
        at=hangers.point[worst],
        subjects=[o.key for o in bodies]
        + [scene.part(f"hanger/{hangers.line[h]}/{hangers.index[h]}") for h in order],
        message=text,
        value=depths[worst],
        z=max(float(hangers.bottom[worst]), min(b.bottom for b in bodies)),
    )


def _hanger_keys(scene: Scene, indices: Iterable[int]) -> list[str]:
    hangers = scene.ceiling.hangers
    return [scene.part(f"hanger/{hangers.line[h]}/{hangers.index[h]}") for h in indices]


def check_supports(scene: Scene) -> Iterator[Finding]:
    """Every hanger has structure above it in the model; else its length is unknown."""
    hangers = scene.ceiling.hangers
    missing = np.flatnonzero(np.isnan(hangers.top)).tolist()
    if not missing:
        return
    first = hangers.point[missing[0]]
    yield scene.finding(
        "hanger-without-structure",
        at=first,
        subjects=_hanger_keys(scene, missing),
        verdict=Verdict.UNKNOWN,
        message=f"{len(missing)} of {len(hangers)} hangers of {name_of(scene.room_at(first))} have no "
        "structure above them in the models; their length is not known",
        value=float(len(missing)),
        z=float(hangers.bottom[missing[0]]),
    )
