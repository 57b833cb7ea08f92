"""The room above a ceiling that panels are tilted in through and that devices need over them.

Both are clearances over the ceiling's underside. One obstacle that takes both is one cause;
it is told by what it lacks most. What already reaches into the build-up is told there.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from ifcgrid.checks.body import band_outline, heights_over
from ifcgrid.checks.fixture import FED_BY, Fixtures
from ifcgrid.checks.hangers import Crossings
from ifcgrid.checks.runs import group_runs
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle

__all__ = ["check_clear_zone", "check_insulation"]

_DEPTH_KINDS = frozenset({Kind.LIGHT, Kind.AIR_TERMINAL, Kind.DEVICE})
"""Devices whose connection has to go on over them; heads and detectors are fed from above."""

_INSULATION = re.compile(
    r"\b(insulation|insulating|quilt|mineral wool|glass wool|rock wool)\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lack:
    """One obstacle that takes a clearance: by how much, at which local point, over which devices."""

    rule: str
    obstacle: Obstacle
    missing: float
    bottom: float
    spot: NDArray[np.float64]
    devices: tuple[int, ...] = ()


def check_clear_zone(
    scene: Scene,
    obstacles: Sequence[Obstacle],
    fixtures: Fixtures,
    crossings: Crossings,
    told: Collection[str],
) -> Iterator[Finding]:
    """Panels can be tilted in everywhere, and devices have room for body, connection and tilt.

    Hangers that structure leaves no way for have the same cause; those that a service bars
    can be hung another way and are told by themselves.
    """
    needs = _find_needs(scene, fixtures)
    tilt = scene.low + scene.limits["panel-tilt-in"].value
    upper = max(tilt, float(needs.highest.max(initial=tilt)))
    bodies = [
        o
        for o in obstacles
        if o.kind in SERVICES | STRUCTURE
        and o.key not in told
        and o.bottom < upper - scene.contact
        and o.top > scene.high
        and shapely.intersects(scene.ceiling.zone.outline, o.outline)
    ]
    if not bodies:
        return
    over = _over_devices(scene, bodies, fixtures, needs)
    lacks = []
    for k, body in enumerate(bodies):
        found = [lack for lack in (_tilt_lack(scene, body, fixtures), over.get(k)) if lack is not None]
        if found:
            lacks.append(max(found, key=lambda lack: lack.missing))
    # A run of which a piece reaches into the build-up, or whose insulation does, is told there.
    known = [o for o in obstacles if o.key in told and o.kind in SERVICES]
    for run in group_runs([*known, *(lack.obstacle for lack in lacks)], scene.limits["run"].value):
        if min(run) >= len(known):
            yield _finding(scene, [lacks[i - len(known)] for i in run], fixtures, crossings)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Needs:
    """What devices need above them: a clearance (n,) over their own top, and least free z (n,)."""

    above_top: NDArray[np.float64]
    least: NDArray[np.float64]
    top: NDArray[np.float64]

    @property
    def highest(self) -> NDArray[np.float64]:
        """Model z (n,) under which nothing may be; -inf where nothing is asked."""
        z: NDArray[np.float64] = np.where(
            np.isnan(self.above_top), -np.inf, np.maximum(self.top + self.above_top, self.least)
        )
        return z


def _find_needs(scene: Scene, fixtures: Fixtures) -> _Needs:
    top = np.array([o.top for o in fixtures.obstacles], dtype=float)
    is_recessed = top > scene.low + tolerance.PLANE_REACH
    is_light = np.array([o.kind is Kind.LIGHT for o in fixtures.obstacles], dtype=bool)
    has_connection = np.array([o.kind in _DEPTH_KINDS for o in fixtures.obstacles], dtype=bool)
    clearance = np.where(has_connection, scene.limits["fixture-clearance"].value, 0.0)
    least = scene.low + scene.limits["fixture-depth"].value
    return _Needs(
        above_top=np.where(is_recessed, clearance, np.nan),
        least=np.where(is_light & fixtures.is_lay_in, least, -np.inf),
        top=top,
    )


def _tilt_lack(scene: Scene, body: Obstacle, fixtures: Fixtures) -> _Lack | None:
    upper = scene.low + scene.limits["panel-tilt-in"].value
    if body.bottom >= upper - scene.contact:
        return None
    area = shapely.intersection(
        band_outline(body, scene.high, upper - scene.contact), scene.ceiling.zone.outline
    )
    if body.kind in SERVICES and len(fixtures):
        area = shapely.difference(area, _connections(scene, area, fixtures, body.kind))
    if shapely.is_empty(shapely.buffer(area, -scene.contact / 2)):
        return None
    bottom = max(heights_over(body, area)[0], scene.high)
    if upper - bottom <= scene.contact:
        return None
    return _Lack(
        rule="panel-tilt-in",
        obstacle=body,
        missing=upper - bottom,
        bottom=bottom,
        spot=_spot(scene, area),
    )


def _connections(scene: Scene, area: Geometry, fixtures: Fixtures, kind: Kind) -> Geometry:
    """Where, in model coordinates, a kind of service comes down to the devices that it feeds."""
    reach = scene.limits["connection"].value
    outlines = shapely.transform(fixtures.outlines, scene.ceiling.layout.frame.to_world)
    near = outlines[shapely.dwithin(outlines, area, reach) & fixtures.fed_by(kind)]
    return shapely.union_all(shapely.buffer(near, reach, quad_segs=4))


def _spot(scene: Scene, area: Geometry) -> NDArray[np.float64]:
    """A local point of an area that is given in model coordinates."""
    inside = shapely.get_coordinates(shapely.point_on_surface(area))
    local: NDArray[np.float64] = scene.ceiling.layout.frame.to_local(inside)[0]
    return local


def _over_devices(
    scene: Scene, bodies: Sequence[Obstacle], fixtures: Fixtures, needs: _Needs
) -> dict[int, _Lack]:
    """By index of the body: the device over which it lacks most, with all those it is too low over."""
    highest = needs.highest
    asked = np.flatnonzero(np.isfinite(highest))
    if len(asked) == 0:
        return {}
    outlines = np.array([fixtures.obstacles[i].outline for i in asked], dtype=object)
    plans = np.array([body.outline for body in bodies], dtype=object)
    pairs = shapely.STRtree(outlines).query(plans, predicate="intersects")
    lacks: dict[int, list[tuple[float, float, Geometry, int]]] = {}
    for b, a in pairs.T.tolist():
        body, i = bodies[b], int(asked[a])
        device = fixtures.obstacles[i]
        if body.kind in FED_BY[device.kind] or body.bottom >= highest[i] - scene.contact:
            continue
        area = shapely.intersection(plans[b], outlines[a])
        if shapely.is_empty(shapely.buffer(area, -scene.contact / 2)):
            continue
        bottom, _ = heights_over(body, area)
        own_top = heights_over(device, area)[1] + float(needs.above_top[i])
        missing = max(own_top, float(needs.least[i])) - bottom
        if missing > scene.contact:
            lacks.setdefault(b, []).append((missing, bottom, area, i))
    found = {}
    for b, rows in lacks.items():
        missing, bottom, area, _ = max(rows, key=lambda row: (row[0], -row[3]))
        found[b] = _Lack(
            rule="fixture-depth",
            obstacle=bodies[b],
            missing=missing,
            bottom=bottom,
            spot=_spot(scene, area),
            devices=tuple(sorted(row[3] for row in rows)),
        )
    return found


def _finding(scene: Scene, run: Sequence[_Lack], fixtures: Fixtures, crossings: Crossings) -> Finding:
    worst = max(run, key=lambda lack: (lack.missing, lack.obstacle.key))
    bodies = [lack.obstacle for lack in run]
    above = worst.bottom - scene.low
    text = f"{words(bodies)} over the ceiling of {name_of(scene.room_at(worst.spot))} "
    text += f"{verb(bodies, 'is', 'are down to')} {above:.0f} mm above its underside"
    devices: list[int] = []
    if worst.rule == "fixture-depth":
        devices = sorted({i for lack in run for i in lack.devices})
        over = [fixtures.obstacles[i] for i in devices]
        lights = [o for o in over if o.kind is over[0].kind]
        text += f"; {words(lights)} under {verb(bodies, 'it', 'them')} "
        text += f"{verb(lights, 'needs', 'need')} {worst.missing:.0f} mm more"
        text += " for body, connection and tilt"
    else:
        text += f"; panels are tilted in through {scene.limits[worst.rule].value:.0f} mm, "
        text += f"{worst.missing:.0f} mm more than there is"
    text += f"; raise {verb(bodies, 'it', 'them')}, or lower the ceiling, by {worst.missing:.0f} mm"
    below = [o.key for o in bodies if o.kind in STRUCTURE]
    hangers = sorted({h for key in below for h in crossings.get(key, ())})
    if hangers:
        text += f"; {len(hangers)} {'hangers have' if len(hangers) > 1 else 'hanger has'} no way past"
    subjects = [*(o.key for o in bodies), *(fixtures.obstacles[i].key for i in devices)]
    return scene.finding(
        worst.rule,
        at=worst.spot,
        subjects=[*subjects, *scene.hanger_keys(hangers)],
        message=text,
        value=worst.missing,
        z=worst.bottom,
    )


def check_insulation(scene: Scene, obstacles: Sequence[Obstacle], fixtures: Fixtures) -> Iterator[Finding]:
    """Whether thermal insulation lies over recessed lights: told, for only their data say if it may."""
    lights = [
        o for o in fixtures.obstacles if o.kind is Kind.LIGHT and o.top > scene.low + tolerance.PLANE_REACH
    ]
    layers = [
        o
        for o in obstacles
        if o.kind is Kind.OTHER and o.top > scene.low and _INSULATION.search(f"{o.name} {o.type_name}")
    ]
    if not lights or not layers:
        return
    limit = scene.limits["insulation-over-light"].value
    tree = shapely.STRtree([o.outline for o in lights])
    for layer in layers:
        under: dict[int, float] = {}
        for k in sorted(tree.query(layer.outline, predicate="intersects").tolist()):
            area = shapely.intersection(layer.outline, lights[k].outline)
            gap = heights_over(layer, area)[0] - lights[k].top
            if shapely.area(area) > tolerance.PIECE_AREA and gap < limit - scene.contact:
                under[k] = gap
        if under:
            yield _insulation_finding(scene, layer, [lights[k] for k in under], min(under.values()))


def _insulation_finding(scene: Scene, layer: Obstacle, lights: Sequence[Obstacle], gap: float) -> Finding:
    at = scene.ceiling.layout.frame.to_local(shapely.get_coordinates(shapely.centroid(lights[0].outline)))[0]
    return scene.finding(
        "insulation-over-light",
        at=at,
        subjects=[layer.key, *(o.key for o in lights)],
        verdict=Verdict.UNKNOWN,
        message=f"insulation '{layer.name or layer.key}' lies "
        + ("on " if gap <= scene.contact else f"{gap:.0f} mm over ")
        + f"{words(lights)} in {name_of(scene.room_at(at))}; whether "
        f"{verb(lights, 'it is', 'they are')} made for that is not in the model",
        value=max(scene.limits["insulation-over-light"].value - gap, 0.0),
        z=lights[0].top,
    )
