"""Hangers: what they run through, and whether anything carries them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.body import heights_at
from ifcgrid.checks.runs import group_runs
from ifcgrid.checks.scene import Scene, name_of, words
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Obstacle

__all__ = ["Crossings", "check_hangers", "check_supports", "find_crossings"]

Crossings = Mapping[str, Mapping[int, float]]
"""By obstacle key: the hangers that run through it, and how deep inside its silhouette, in mm."""


def find_crossings(scene: Scene, obstacles: Sequence[Obstacle]) -> Crossings:
    """Which hangers run through services, or through structure that does not carry them.

    The measure is how far the wire runs inside the silhouette: what it would have to shift.
    Hangers that structure leaves no room for count with it, at measure 0; a hanger of
    unknown length reaches no higher than its main.
    """
    hangers = scene.ceiling.hangers
    bodies = [o for o in obstacles if o.kind in SERVICES | STRUCTURE and o.top > scene.high]
    met: dict[str, dict[int, float]] = defaultdict(dict)
    for hanger in np.flatnonzero(np.isnan(hangers.top)).tolist():
        if hangers.support[hanger]:
            met[hangers.support[hanger]][hanger] = 0.0
    if len(hangers) == 0 or not bodies:
        return met
    points = scene.ceiling.layout.frame.to_world(hangers.point)
    radius = scene.ceiling.system.hanger_diameter / 2
    tree = shapely.STRtree([o.outline for o in bodies])
    hits = tree.query(shapely.points(points), predicate="dwithin", distance=radius)
    for k, b in hits.T.tolist():
        depth = _depth(scene, k, points[k], bodies[b], radius)
        if depth > scene.contact:
            met[bodies[b].key][k] = depth
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
    top = bottom + 2 * scene.contact if np.isnan(top) else top
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
    text += f"{name_of(scene.room_at(hangers.point[worst]))} "
    if depths[worst] > 0:
        text += f"{'pass' if many else 'passes'} through {words(bodies)}, up to {depths[worst]:.0f} mm inside"
        text += "; shift along the main or carry on a trapeze"
    else:
        text += f"{'have' if many else 'has'} no room between the main and {words(bodies)}; lower the ceiling"
    return scene.finding(
        rule,
        at=hangers.point[worst],
        subjects=[o.key for o in bodies] + scene.hanger_keys(order),
        message=text,
        value=depths[worst],
        z=max(float(hangers.bottom[worst]), min(b.bottom for b in bodies)),
    )


def check_supports(scene: Scene, crossings: Crossings, told: Collection[str]) -> Iterator[Finding]:
    """Every hanger has structure above it in the model; else its length is unknown.

    Hangers whose main lies in structure that is `told` of already are not told again.
    """
    hangers = scene.ceiling.hangers
    inside = {h for key in told for h in crossings.get(key, ())}
    bare = [h for h in np.flatnonzero(np.isnan(hangers.top)).tolist() if not hangers.support[h]]
    missing = [h for h in bare if h not in inside]
    if not missing:
        return
    first = hangers.point[missing[0]]
    yield scene.finding(
        "hanger-without-structure",
        at=first,
        subjects=scene.hanger_keys(missing),
        verdict=Verdict.UNKNOWN,
        message=f"{len(missing)} of {len(hangers)} hangers of {name_of(scene.room_at(first))} have no "
        "structure above them in the models; their length is not known",
        value=float(len(missing)),
        z=float(hangers.bottom[missing[0]]),
    )
