"""Hangers: what they run through, whether anything carries them, and where they are missing.

A hanger's ways are its wire or rod, straight or leaning, and where it hangs from a trapeze
the bar and its two rods.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from ifcgrid.checks.body import band_outline, heights_at
from ifcgrid.checks.runs import group_runs
from ifcgrid.checks.scene import Scene, name_of, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle
from ifcgrid.domain.segments import gaps_between, triangles_of

__all__ = [
    "Crossings",
    "check_fixings",
    "check_hangers",
    "check_spans",
    "check_supports",
    "find_crossings",
]

_PLACES = 33
"""A way that leans or lies is looked at in so many places within a body's height."""

Crossings = Mapping[str, Mapping[int, float]]
"""By obstacle key: the hangers that run through it, and how deep inside its silhouette, in mm."""

_Free = tuple[float, int, NDArray[np.float64], bool]
"""A stretch of a main without hangers: by how much too long, the member, its middle, if at its end."""


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
    radius = scene.ceiling.system.hanger_diameter / 2
    ends, owner = _ways(scene)
    is_upright = (ends[:, 0, :2] == ends[:, 1, :2]).all(axis=1)
    plans = np.asarray(shapely.linestrings(ends[:, :, :2]))
    plans[is_upright] = shapely.points(ends[is_upright, 0, :2])
    tree = shapely.STRtree([o.outline for o in bodies])
    hits = tree.query(plans, predicate="dwithin", distance=radius)
    for way, b in hits.T.tolist():
        k = int(owner[way])
        depth = _depth(scene, k, ends[way], bodies[b], radius)
        if depth > scene.contact:
            met[bodies[b].key][k] = max(depth, met[bodies[b].key].get(k, 0.0))
    return met


def _ways(scene: Scene) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Lower and upper ends (n, 2, 3) in model coordinates of all that hangs, and whose it is (n,)."""
    hangers, frame = scene.ceiling.hangers, scene.ceiling.layout.frame
    low = np.column_stack([frame.to_world(hangers.point), hangers.bottom])
    top = np.where(np.isnan(hangers.top), hangers.bottom + 2 * scene.contact, hangers.top)
    high = np.column_stack([frame.to_world(hangers.top_points), top])
    ends, owner = [np.stack([low, high], axis=1)], [np.arange(len(hangers))]
    trapezes = scene.ceiling.trapezes
    if trapezes is not None and len(trapezes):
        plan = frame.to_world(trapezes.ends.reshape(-1, 2)).reshape(-1, 2, 2)
        bar = np.dstack([plan, np.repeat(trapezes.z[:, None], 2, axis=1)])
        rods = np.dstack([plan, np.where(np.isnan(trapezes.top), trapezes.z[:, None], trapezes.top)])
        ends += [bar, *(np.stack([bar[:, k], rods[:, k]], axis=1) for k in (0, 1))]
        owner += [trapezes.hanger.astype(np.int64)] * 3
    return np.concatenate(ends), np.concatenate(owner)


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


def _depth(scene: Scene, hanger: int, ends: NDArray[np.float64], body: Obstacle, radius: float) -> float:
    """How far inside a body's silhouette a way of a hanger runs, in mm; 0 where it passes by.

    An upright wire meets a body where it stands in the silhouette of what of the body lies
    between its ends: exactly so. For a leaning or lying one the distance to the body's
    faces decides, and places along it are looked at for the measure.
    """
    if _is_carried_by(scene, hanger, body.key):
        return 0.0
    bottom, top = sorted(ends[:, 2].tolist())
    if not (ends[1, :2] - ends[0, :2]).any():
        if min(top, body.top) - max(bottom, body.bottom) <= scene.contact:
            return 0.0
        shape = band_outline(body, bottom + scene.contact, top - scene.contact)
        return 0.0 if shapely.is_empty(shape) else max(_inside(shape, ends[0, :2], radius), 0.0)
    gap = _gap(ends, body)
    if gap >= radius - scene.contact:
        return 0.0
    return max(radius - gap, _deepest(scene, ends, body, radius))


def _gap(ends: NDArray[np.float64], body: Obstacle) -> float:
    """Distance of a straight way from a body, 0 where it runs inside."""
    triangles = triangles_of(body)
    start, end = (np.broadcast_to(p, (len(triangles), 3)) for p in ends)
    gap = float(gaps_between(start, end, triangles).min(initial=np.inf))
    if gap > 0 and any(low <= ends[0, 2] <= high for low, high in heights_at(body, ends[0, :2])):
        return 0.0
    return gap


def _deepest(scene: Scene, ends: NDArray[np.float64], body: Obstacle, radius: float) -> float:
    """How far inside a body's silhouette the places of a way are at which it runs in the body."""
    step = ends[1] - ends[0]
    deepest = 0.0
    for share in np.linspace(0.0, 1.0, _PLACES).tolist():
        point = ends[0] + share * step
        depth = _inside(body.outline, point[:2], radius)
        if depth > deepest and _runs_through(scene, point, body):
            deepest = depth
    return deepest


def _is_carried_by(scene: Scene, hanger: int, key: str) -> bool:
    trapezes = scene.ceiling.trapezes
    if scene.ceiling.hangers.support[hanger] == key:
        return True
    carried = () if trapezes is None else np.flatnonzero(trapezes.hanger == hanger).tolist()
    return trapezes is not None and any(key in trapezes.support[k] for k in carried)


def _inside(outline: Geometry, point: NDArray[np.float64], radius: float) -> float:
    """How far a wire about a plan point is inside an outline; negative outside."""
    spot = shapely.Point(point)
    edge = float(shapely.distance(shapely.boundary(outline), spot))
    return radius + (edge if shapely.intersects(outline, spot) else -edge)


def _runs_through(scene: Scene, point: NDArray[np.float64], body: Obstacle) -> bool:
    """Whether a body is met at a point of a way."""
    low, high = float(point[2]) - 1.0, float(point[2]) + 1.0
    return any(min(high, b) - max(low, a) > scene.contact for a, b in heights_at(body, point[:2]))


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


def check_fixings(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """No hanger is fixed to a service."""
    support = scene.ceiling.hangers.support
    for body in (o for o in obstacles if o.kind in SERVICES):
        fixed = [h for h, key in enumerate(support) if key == body.key]
        if fixed:
            at = scene.ceiling.hangers.point[fixed[0]]
            yield scene.finding(
                "hanger-on-service",
                at=at,
                subjects=[body.key, *scene.hanger_keys(fixed)],
                message=f"{len(fixed)} hangers of {name_of(scene.room_at(at))} are fixed to {words([body])}; "
                "fix them to structure, or carry them on a trapeze",
                value=float(len(fixed)),
                z=body.bottom,
            )


def check_spans(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """No main hangs free for more than the system's spacing, or its end distance, whatever the cause.

    Each stretch is told with what bars hangers from most of it, be it told of already; those
    that nothing bars are one finding.
    """
    found = list(_free_stretches(scene))
    bodies = _barring(scene, obstacles) if found else []
    # A hanger keeps clear of a body, so one that lies beside a main bars it too.
    margin = scene.ceiling.system.hanging.clearance + scene.ceiling.system.hanger_diameter / 2
    outlines = shapely.buffer(scene.to_local([o.outline for o in bodies]), margin)
    free: dict[int, list[_Free]] = defaultdict(list)
    for main, excess, line, is_end in found:
        shares = shapely.length(shapely.intersection(outlines, line)) if bodies else np.zeros(1)
        middle = np.asarray(line.interpolate(0.5, normalized=True).coords[0])
        free[int(np.argmax(shares)) if shares.max() > 0 else -1].append((excess, main, middle, is_end))
    bare = free.pop(-1, [])
    barring = [bodies[k] for k in sorted(free)]
    for run in group_runs(barring, scene.limits["run"].value) if barring else []:
        under = [item for i in run for item in free[sorted(free)[i]]]
        yield _span_finding(scene, [barring[i] for i in run], under)
    if bare:
        yield _span_finding(scene, [], bare)


def _barring(scene: Scene, obstacles: Sequence[Obstacle]) -> list[Obstacle]:
    """What hangers have to get past: services and beams below a soffit, and structure down at the mains."""
    tops = scene.ceiling.hangers.top[np.isfinite(scene.ceiling.hangers.top)]
    highest = max(float(tops.max(initial=scene.high)), scene.high)
    above = [o for o in obstacles if o.kind in SERVICES | STRUCTURE and o.top > scene.high]
    is_beside = SERVICES | {Kind.BEAM}
    return [o for o in above if o.bottom < (highest if o.kind in is_beside else scene.high)]


def _free_stretches(scene: Scene) -> Iterator[tuple[int, float, shapely.LineString, bool]]:
    """Mains' stretches without a hanger that are too long: the member, by how much, where, if at an end."""
    ceiling = scene.ceiling
    members, hangers, system = ceiling.members, ceiling.hangers, ceiling.system
    for main in np.flatnonzero(members.role == Role.MAIN_RUNNER).tolist():
        (low, v), (high, _) = members.start[main], members.end[main]
        u = hangers.point[hangers.line == members.line[main], 0]
        places = np.sort(u[(u >= low - tolerance.LENGTH) & (u <= high + tolerance.LENGTH)])
        stops = np.concatenate([[low], places, [high]])
        limits = np.full(len(stops) - 1, system.hanger_spacing)
        limits[[0, -1]] = system.hanger_end
        excess = np.diff(stops) - limits
        for k in np.flatnonzero(excess > tolerance.HANGER_PLACE).tolist():
            stretch = shapely.LineString([(stops[k], v), (stops[k + 1], v)])
            yield main, float(excess[k]), stretch, k in (0, len(excess) - 1)


def _span_finding(scene: Scene, bodies: list[Obstacle], found: Sequence[_Free]) -> Finding:
    excess, _, middle, is_end = min(found, key=lambda item: (-item[0], item[1]))
    mains = sorted({main for _, main, _, _ in found})
    what = f"{len(mains)} mains of {{}} hang" if len(mains) > 1 else "a main of {} hangs"
    text = f"{what.format(name_of(scene.room_at(middle)))} free" + (
        f" under {words(bodies)}" if bodies else ""
    )
    limit = scene.ceiling.system.hanger_end if is_end else scene.ceiling.system.hanger_spacing
    text += f", up to {excess:.0f} mm more than the {limit:.0f} mm that "
    text += "the first hanger may be from a main's end; " if is_end else "hangers may stand apart; "
    if bodies:
        text += "move it, raise it, or let an engineer span it"
    else:
        text += "nothing in the models bars hangers there: add them"
    return scene.finding(
        "main-without-hanger",
        at=middle,
        subjects=[*(o.key for o in bodies), *scene.member_keys(mains)],
        message=text,
        value=excess,
        z=scene.high,
    )
