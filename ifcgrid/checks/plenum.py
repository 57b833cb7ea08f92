"""The plenum study: how high a ceiling could hang under what is above it, and what governs.

The same bodies, clearances and exceptions as in the clash rules, turned round: not whether
a ceiling at its level clears them, but up to which level it would. Devices that sit in the
ceiling go with it, so each needs the same height over the underside wherever that is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Geometry, Polygon

from ifcgrid.checks.body import heights_over
from ifcgrid.checks.fixture import FED_BY, Fixtures, find_fixtures
from ifcgrid.checks.limits import Limit, read_limits
from ifcgrid.checks.partitions import PARTITIONS
from ifcgrid.checks.scene import Scene
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle
from ifcgrid.domain.plenum import Keeper, Plenum

__all__ = ["find_plenum"]

_IMMOVABLE = frozenset({Kind.SLAB, Kind.ROOF})

_DEPTH_KINDS = frozenset({Kind.LIGHT, Kind.AIR_TERMINAL, Kind.DEVICE})
"""Devices whose connection has to go on over them; heads and detectors are fed from above."""


def find_plenum(
    ceiling: Ceiling, obstacles: Sequence[Obstacle], limits: Mapping[str, Limit] | None = None
) -> Plenum:
    """What above a ceiling keeps it down, the lowest first.

    Args:
        ceiling: one zone's ceiling, as it hangs now.
        obstacles: whatever stands near it, in model coordinates and mm.
        limits: the clearances; those of `checks/data/clash.toml` when not given.
    """
    limits = read_limits() if limits is None else limits
    scene = Scene.of(ceiling, limits)
    known = sorted(obstacles, key=lambda o: (o.key, o.source))
    fixtures = find_fixtures(scene, known)
    least = ceiling.zone.rooms[0].floor + limits["ceiling-below-headroom"].value
    above = _lowest_of_each(scene, [o for o in known if _is_above(scene, o)], fixtures)
    lower = _lower(scene, [k for k in above if k.level >= least], known, fixtures)
    through = sorted(k.key for k in (*above, *lower) if k.level < least)
    keepers = sorted((k for k in (*above, *lower) if k.level >= least), key=lambda k: (k.level, k.key))
    # What is above a slab or roof is another storey's: nobody moves the slab to get there.
    last = next((n for n, k in enumerate(keepers, start=1) if k.kind in _IMMOVABLE), len(keepers))
    return Plenum(
        zone=ceiling.key,
        level=scene.low,
        floor=ceiling.zone.rooms[0].floor,
        keepers=tuple(keepers[:last]),
        walls=tuple(_ending_walls(scene, known)),
        through=tuple(dict.fromkeys(through)),
        least=least,
        is_known=_is_covered(scene, known),
    )


def _lowest_of_each(scene: Scene, bodies: Sequence[Obstacle], fixtures: Fixtures) -> list[Keeper]:
    """For each body the clearance that keeps the ceiling down most."""
    found: dict[str, Keeper] = {}
    for keeper in _all_keepers(scene, bodies, fixtures):
        if keeper.key not in found or keeper.level < found[keeper.key].level:
            found[keeper.key] = keeper
    return list(found.values())


def _lower(
    scene: Scene, keepers: Sequence[Keeper], obstacles: Sequence[Obstacle], fixtures: Fixtures
) -> list[Keeper]:
    """What hangs under the ceiling now and would meet it where it has to come down to."""
    level = min((k.level for k in keepers), default=scene.low)
    if level >= scene.low:
        return []
    tops = {o.key: o.top for o in obstacles}
    under = [o for o in obstacles if o.kind in SERVICES | STRUCTURE and o.top <= scene.low + scene.contact]
    met = []
    for keeper in sorted(_lowest_of_each(scene, under, fixtures), key=lambda k: (-k.level, k.key)):
        if keeper.level < level < tops[keeper.key]:
            met.append(keeper)
            level = keeper.level
    return met


def _is_above(scene: Scene, obstacle: Obstacle) -> bool:
    """Whether an obstacle can keep the ceiling down: nothing under it, no wall from the floor up."""
    if obstacle.top <= scene.low + scene.contact:
        return False
    if obstacle.kind in PARTITIONS:
        return obstacle.bottom >= scene.low - tolerance.HEIGHT
    return obstacle.kind in SERVICES | STRUCTURE


def _ending_walls(scene: Scene, obstacles: Iterable[Obstacle]) -> Iterator[tuple[str, float]]:
    """Walls at the zone's edge that end at or above its ceiling, the lowest first: name and top."""
    edge = scene.ceiling.zone.outline.boundary
    reach = scene.limits["opening-reach"].value
    beside = [
        (o.top, o.name or o.key)
        for o in obstacles
        if o.kind is Kind.WALL
        and o.bottom < scene.low
        and o.top >= scene.low - tolerance.HEIGHT
        and shapely.distance(o.outline, edge) <= reach
    ]
    for top, name in sorted(beside):
        yield name, top


def _is_covered(scene: Scene, obstacles: Iterable[Obstacle]) -> bool:
    """Whether structure stands over the whole zone."""
    over = [o.outline for o in obstacles if o.kind in STRUCTURE and o.top > scene.low]
    bare = shapely.difference(scene.ceiling.zone.outline, shapely.union_all(over))
    return bool(shapely.is_empty(shapely.buffer(bare, -tolerance.WALL_FINISH)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Connections:
    """Where a kind of service may come down to devices that it feeds, in model coordinates."""

    near: Geometry
    wide: Geometry

    @classmethod
    def of(cls, scene: Scene, fixtures: Fixtures, kind: Kind) -> _Connections:
        fed = fixtures.outlines[fixtures.fed_by(kind)]
        outlines = shapely.transform(fed, scene.ceiling.layout.frame.to_world)
        near, wide = (
            shapely.union_all(shapely.buffer(outlines, reach, quad_segs=4))
            for reach in (tolerance.PLANE_REACH, scene.limits["connection"].value)
        )
        return cls(near=near, wide=wide)


def _all_keepers(scene: Scene, bodies: Sequence[Obstacle], fixtures: Fixtures) -> Iterator[Keeper]:
    of_kind = {kind: _Connections.of(scene, fixtures, kind) for kind in {body.kind for body in bodies}}
    for body in bodies:
        area = shapely.intersection(body.outline, scene.ceiling.zone.outline)
        if shapely.is_empty(area):
            continue
        yield from _over_ceiling(scene, body, area, of_kind[body.kind])
    yield from _over_devices(scene, bodies, fixtures)


def _over_ceiling(
    scene: Scene, body: Obstacle, area: Geometry, connections: _Connections
) -> Iterator[Keeper]:
    """What the build-up and the tilting of panels ask under a body."""
    is_service, is_wall = body.kind in SERVICES, body.kind in PARTITIONS
    rule = "service-in-ceiling" if is_service else "structure-in-ceiling"
    depth = scene.ceiling.system.main.height
    rules = [(rule, depth + scene.limits[rule].value, connections.near)]
    if not is_wall:
        rules.append(("panel-tilt-in", scene.limits["panel-tilt-in"].value, connections.wide))
    for name, need, expected in rules:
        if not scene.limits[name].is_judged:
            continue
        rest = shapely.difference(area, expected) if is_service else area
        thin = tolerance.WALL_FINISH if is_wall else scene.contact
        if shapely.is_empty(shapely.buffer(rest, -thin / 2)):
            continue
        yield _keeper(scene, body, rest, need, name)


def _over_devices(scene: Scene, bodies: Sequence[Obstacle], fixtures: Fixtures) -> Iterator[Keeper]:
    """What devices ask under a body: their own depth with room for connection and tilt."""
    plans = np.array([o.outline for o in fixtures.obstacles], dtype=object)
    if len(plans) == 0 or not bodies or not scene.limits["fixture-depth"].is_judged:
        return
    tree, is_lay_in = shapely.STRtree(plans), fixtures.is_lay_in
    depth, clearance = (scene.limits[k].value for k in ("fixture-depth", "fixture-clearance"))
    for body in bodies:
        if body.kind in PARTITIONS:
            continue
        for i in sorted(tree.query(body.outline, predicate="intersects").tolist()):
            device = fixtures.obstacles[i]
            area = shapely.intersection(body.outline, plans[i])
            is_recessed = device.top > scene.low + tolerance.PLANE_REACH
            if not is_recessed or body.kind in FED_BY[device.kind]:
                continue
            if shapely.is_empty(shapely.buffer(area, -scene.contact / 2)):
                continue
            own = heights_over(device, area)[1] - scene.low
            own += clearance if device.kind in _DEPTH_KINDS else 0.0
            is_lit = device.kind is Kind.LIGHT and is_lay_in[i]
            need = max(own, depth) if is_lit else own
            yield _keeper(scene, body, area, need, "fixture-depth", device.key)


def _keeper(scene: Scene, body: Obstacle, area: Geometry, need: float, rule: str, device: str = "") -> Keeper:
    spot = shapely.get_coordinates(shapely.point_on_surface(_largest(area)))[0]
    return Keeper(
        key=body.key,
        kind=body.kind,
        name=body.name,
        bottom=heights_over(body, area)[0],
        need=need,
        rule=rule,
        source=scene.limits[rule].source,
        spot=(float(spot[0]), float(spot[1])),
        device=device,
    )


def _largest(area: Geometry) -> Geometry:
    parts = [part for part in shapely.get_parts(area) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=area)
