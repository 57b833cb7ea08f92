"""Sprinklers and detectors against ceiling, obstructions and air: levels, rings, distances.

All of it is told with the figure's source and edition's standing; what a head is listed for
is not in a model.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.body import band_outline
from ifcgrid.checks.fixture import Fixtures
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import SERVICES, Kind, Obstacle

__all__ = ["check_deflectors", "check_detectors", "check_obstructions", "check_rings"]

_NOT_PENDENT = re.compile(r"\b(sidewall|concealed|recessed|flush|upright|dry barrel)\b", re.IGNORECASE)
_NOT_SUPPLY = re.compile(r"\b(return|exhaust|extract|transfer|relief)\b", re.IGNORECASE)
_IN_THE_WAY = SERVICES | {Kind.BEAM, Kind.LIGHT, Kind.AIR_TERMINAL, Kind.DEVICE, Kind.WALL, Kind.OTHER}
"""What may keep a spray from spreading. A wall that meets the ceiling bounds the room instead."""


def _pendent_heads(fixtures: Fixtures) -> list[int]:
    return [
        i
        for i, o in enumerate(fixtures.obstacles)
        if o.kind is Kind.SPRINKLER and not _NOT_PENDENT.search(f"{o.name} {o.type_name}")
    ]


def check_deflectors(scene: Scene, fixtures: Fixtures) -> Iterator[Finding]:
    """Deflectors of pendent heads, the lowest of each body, hang neither too near the ceiling nor too low.

    The measure is by how much the level is off; heads of a room that are off have one cause.
    """
    least = scene.limits["deflector-too-high"].value
    most = scene.limits["deflector-too-low"].value
    groups: dict[tuple[str, str], list[tuple[float, int]]] = defaultdict(list)
    for i in _pendent_heads(fixtures):
        drop = scene.low - fixtures.obstacles[i].bottom
        room = scene.room_at(fixtures.centre[i]).key
        if drop < least - scene.contact:
            groups[room, "deflector-too-high"].append((least - drop, i))
        elif drop > most + scene.contact:
            groups[room, "deflector-too-low"].append((drop - most, i))
    for (_, rule), rows in groups.items():
        off, worst = max(rows, key=lambda row: (row[0], -row[1]))
        heads = [fixtures.obstacles[i] for _, i in sorted(rows, key=lambda row: row[1])]
        drop = scene.low - fixtures.obstacles[worst].bottom
        at = fixtures.centre[worst]
        yield scene.finding(
            rule,
            at=at,
            subjects=[o.key for o in heads],
            message=f"{words(heads)} in {name_of(scene.room_at(at))}: the deflector is {drop:.0f} mm below "
            f"the ceiling; {'at most' if rule.endswith('low') else 'at least'} "
            f"{scene.limits[rule].value:.0f} mm {'are' if drop else 'is'} asked of pendent heads under an "
            f"unobstructed ceiling; {'raise' if rule.endswith('low') else 'lower'} "
            f"{verb(heads, 'it', 'them')} by {off:.0f} mm",
            value=off,
            z=fixtures.obstacles[worst].bottom,
        )


def check_obstructions(scene: Scene, obstacles: Sequence[Obstacle], fixtures: Fixtures) -> Iterator[Finding]:
    """What stands in the clear space under a head's deflector: told, for its width and row decide."""
    heads = _pendent_heads(fixtures)
    if not heads:
        return
    depth = scene.limits["sprinkler-obstructed"].value
    lowest = min(fixtures.obstacles[i].bottom for i in heads)
    bodies = [
        o for o in obstacles if o.kind in _IN_THE_WAY and lowest - depth < o.top and _ends_below(scene, o)
    ]
    if not bodies:
        return
    local = scene.to_local([o.outline for o in bodies])
    points = np.asarray(shapely.points(fixtures.centre[heads]))
    near = shapely.STRtree(local).query(points, predicate="dwithin", distance=depth)
    met: dict[int, list[tuple[float, int]]] = defaultdict(list)
    for h, b in near.T.tolist():
        head, body = fixtures.obstacles[heads[h]], bodies[b]
        if body.key != head.key and body.bottom < head.bottom:
            shape = scene.to_local([band_outline(body, head.bottom - depth, head.bottom)])[0]
            if shapely.dwithin(shape, points[h], depth):
                into = min(body.top, head.bottom) - (head.bottom - depth)
                if into > scene.contact:
                    met[b].append((into, heads[h]))
    for b, rows in sorted(met.items()):
        into, worst = max(rows, key=lambda row: (row[0], -row[1]))
        found = [fixtures.obstacles[i] for _, i in sorted(rows, key=lambda row: row[1])]
        at = fixtures.centre[worst]
        yield scene.finding(
            "sprinkler-obstructed",
            at=at,
            subjects=[bodies[b].key, *(o.key for o in found)],
            verdict=Verdict.UNKNOWN,
            message=f"{words([bodies[b]])} reaches {into:.0f} mm into the {depth:.0f} mm to be kept clear "
            f"under the deflector of {words(found)} in {name_of(scene.room_at(at))}; how wide it may "
            "be there depends on the standard's tables",
            value=into,
            z=fixtures.obstacles[worst].bottom,
        )


def _ends_below(scene: Scene, body: Obstacle) -> bool:
    """Whether a body hangs or stands under the ceiling; one that goes on above it bounds the room."""
    if body.kind in (Kind.WALL, Kind.OTHER):
        return body.top < scene.low - scene.contact
    return body.bottom < scene.low - scene.contact


def check_detectors(scene: Scene, fixtures: Fixtures) -> Iterator[Finding]:
    """Detectors keep their distance from supply air; the measure is what is missing between their edges."""
    kinds = np.array([o.kind.value for o in fixtures.obstacles])
    detectors = np.flatnonzero(kinds == Kind.DETECTOR.value)
    terminals = [
        i
        for i in np.flatnonzero(kinds == Kind.AIR_TERMINAL.value).tolist()
        if not _NOT_SUPPLY.search(f"{fixtures.obstacles[i].name} {fixtures.obstacles[i].type_name}")
    ]
    if not len(detectors) or not terminals:
        return
    limit = scene.limits["detector-near-air"].value
    outlines = fixtures.outlines
    pairs = shapely.STRtree(outlines[terminals]).query(
        outlines[detectors], predicate="dwithin", distance=limit - scene.contact
    )
    near: dict[int, list[int]] = defaultdict(list)
    for d, t in pairs.T.tolist():
        near[int(detectors[d])].append(terminals[t])
    for i, found in sorted(near.items()):
        gaps = shapely.distance(outlines[found], outlines[i])
        closest = found[int(np.argmin(gaps))]
        one, other = fixtures.obstacles[i], [fixtures.obstacles[t] for t in sorted(found)]
        yield scene.finding(
            "detector-near-air",
            at=fixtures.centre[i],
            subjects=[one.key, *(o.key for o in other)],
            message=f"{words([one])} in {name_of(scene.room_at(fixtures.centre[i]))} is "
            f"{gaps.min():.0f} mm from {words([fixtures.obstacles[closest]])}; supply air may keep "
            f"smoke from it: {limit:.0f} mm are kept, move it by {limit - gaps.min():.0f} mm",
            value=float(limit - gaps.min()),
        )


def check_rings(scene: Scene, fixtures: Fixtures) -> Iterator[Finding]:
    """In a ceiling that is held against earthquakes what passes through it has its ring free of members.

    The ring is the free movement about the body where it passes the grid: of a head, its
    drop; lay-in devices move with the grid and need none.
    """
    ceiling = scene.ceiling
    if ceiling.braces is None and not ceiling.perimeter:
        return
    ring = scene.limits["ring-on-member"].value
    tees = np.flatnonzero(ceiling.members.role != Role.WALL_ANGLE)
    passing = [
        i
        for i, o in enumerate(fixtures.obstacles)
        if not fixtures.is_lay_in[i] and o.bottom < scene.low and o.top > scene.high
    ]
    if not passing or not len(tees):
        return
    shapes = scene.to_local([_at_grid(scene, fixtures.obstacles[i]) for i in passing])
    half = ceiling.system.tee.face / 2
    tree = shapely.STRtree(scene.lines[tees])
    pairs = tree.query(shapes, predicate="dwithin", distance=ring + half - scene.contact)
    met: dict[int, list[int]] = defaultdict(list)
    for p, t in pairs.T.tolist():
        met[p].append(int(tees[t]))
    for p, members in sorted(met.items()):
        i = passing[p]
        gap = float(shapely.distance(scene.lines[members], shapes[p]).min()) - half
        yield _ring_finding(scene, fixtures, i, members, ring, max(gap, 0.0))


def _at_grid(scene: Scene, device: Obstacle) -> shapely.Geometry:
    shape = band_outline(device, scene.low + scene.contact, scene.high)
    return device.outline if shapely.is_empty(shape) else shape


def _ring_finding(
    scene: Scene, fixtures: Fixtures, i: int, members: Sequence[int], ring: float, gap: float
) -> Finding:
    at: NDArray[np.float64] = fixtures.centre[i]
    return scene.finding(
        "ring-on-member",
        at=at,
        subjects=[fixtures.obstacles[i].key, *scene.member_keys(members)],
        message=f"{words([fixtures.obstacles[i]])} in {name_of(scene.room_at(at))} passes {gap:.0f} mm from "
        f"a member; {ring:.0f} mm are kept free all round where a ceiling is held against earthquakes, "
        f"unless a flexible joint moves with it; move it by {ring - gap:.0f} mm",
        value=ring - gap,
    )
