"""Random scenes against a plain recomputation of every pair: no missed and no invented clash."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from handmade_ceilings import build_ceiling, rectangle
from handmade_obstacles import GRID_TOP, LEVEL, light, room, thing
from shapely import LineString, Point, affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import Kind, Obstacle

TOUCH = 0.5
WIRE = 2.0


def _services(rng: np.random.Generator, count: int) -> list[Obstacle]:
    kinds = (Kind.DUCT, Kind.PIPE, Kind.TRAY, Kind.BEAM)
    found = []
    for k in range(count):
        x, y = rng.uniform(-1000, 7000), rng.uniform(-1000, 5800)
        w, d = rng.uniform(30, 3000), rng.uniform(30, 800)
        bottom = rng.choice([rng.uniform(2500, 2760), rng.uniform(2740, 3600)])
        outline = affinity.rotate(box(x, y, x + w, y + d), rng.uniform(0, 180))
        top = bottom + rng.uniform(20, 500)
        found.append(thing(kinds[k % 4], outline, bottom, top, f"{k:03d}", meshed=bool(k % 2)))
    return found


def _expected_pairs(ceiling: Ceiling, services: list[Obstacle]) -> tuple[set[str], dict[str, set[str]]]:
    """Keys of what is in the build-up, and the hangers through each: all pairs, boxes and points."""
    names = ceiling.hangers.keys()
    keys = [f"{ceiling.key}/{name}" for name in names]
    in_build_up, crossed = set(), {}
    for body in services:
        inside = body.outline.intersection(ceiling.zone.outline).buffer(-TOUCH / 2)
        clear = max(GRID_TOP - body.bottom, 0), max(body.top - LEVEL, 0)
        if not inside.is_empty and min(clear) > TOUCH:
            in_build_up.add(body.key)
        met = set()
        for key, point, low, high in zip(
            keys, ceiling.hangers.point, ceiling.hangers.bottom, ceiling.hangers.top, strict=True
        ):
            spot = Point(ceiling.layout.frame.to_world([point])[0])
            edge = body.outline.exterior.distance(spot)
            depth = WIRE + (edge if body.outline.contains(spot) else -edge)
            if depth > TOUCH and min(high, body.top) - max(low, body.bottom) > TOUCH:
                met.add(key)
        if met and body.top > GRID_TOP:
            crossed[body.key] = met
    return in_build_up, crossed


@pytest.mark.parametrize("seed", range(20))
def test_services_and_hangers_are_found_all_and_only(seed):
    rng = np.random.default_rng(seed)
    turn = {"angle_deg": 17.0} if seed % 2 else {}
    ceiling = room(**turn)
    services = _services(rng, 12)
    in_build_up, crossed = _expected_pairs(ceiling, services)
    found_up: set[str] = set()
    found_hangers: dict[str, set[str]] = {}
    for finding in find_clashes(ceiling, services):
        bodies = {s for s in finding.subjects if "/" not in s}
        hangers = {s for s in finding.subjects if "/" in s}
        if finding.rule.endswith("-in-ceiling"):
            found_up |= bodies
        for body in bodies:
            found_hangers.setdefault(body, set()).update(hangers)
    assert found_up == in_build_up
    # Bodies of one run share a finding, so its hangers are those of all its bodies.
    assert {h for hangers in found_hangers.values() for h in hangers} == {
        h for hangers in crossed.values() for h in hangers
    }
    for body, hangers in crossed.items():
        assert hangers <= found_hangers[body]


@pytest.mark.parametrize("seed", range(10))
def test_lights_are_judged_as_plain_arithmetic_on_the_lattice_says(seed):
    rng = np.random.default_rng(100 + seed)
    cells = [(i, j) for i in range(0, 10, 2) for j in range(0, 8, 2)]
    lights, expected = [], {}
    for i, j in cells:
        shift = rng.choice([0.0, 2.9, 3.1, 8.0, 60.0], 2) * rng.choice([-1, 1], 2)
        x, y = 300 + 600 * i + shift[0], 300 + 600 * j + shift[1]
        # Beyond the walls there is no cell; the two last rows and columns stay clear of them.
        if not (300 <= x <= 5700 and 300 <= y <= 4500):
            continue
        key = f"{i}-{j}"
        lights.append(light(x, y, key=key))
        if np.abs(shift).max() > 3.0:
            expected[key] = np.abs(shift).max()
    found = {}
    for finding in find_clashes(room(), lights):
        assert finding.rule == "device-off-module"
        for key in (s for s in finding.subjects if "/" not in s):
            found[key] = finding.value
    assert found == pytest.approx(expected)


@pytest.mark.parametrize("seed", range(10))
def test_small_devices_on_lines_are_found_all_and_only(seed):
    rng = np.random.default_rng(200 + seed)
    ceiling = room()
    lines = [LineString([a, b]) for a, b in zip(ceiling.members.start, ceiling.members.end, strict=True)]
    spots = [
        thing(Kind.LIGHT, Point(x, y).buffer(60, 32), LEVEL, LEVEL + 90, f"{k}")
        for k, (x, y) in enumerate(rng.uniform((100, 100), (5900, 4700), (15, 2)))
    ]
    expected = {s.key for s in spots if any(line.distance(s.outline.centroid) < 60 - TOUCH for line in lines)}
    findings = find_clashes(ceiling, spots)
    assert {f.subjects[0] for f in findings if f.rule == "device-across-member"} == expected


def test_two_thousand_devices_on_five_thousand_members_take_well_under_a_second():
    ceiling = build_ceiling(rectangle(600.0 * 60, 600.0 * 90), (600.0, 600.0))
    devices = [
        light(300 + 600 * i + (5 if (i + j) % 50 == 0 else 0), 300 + 600 * j, key=f"{i:02d}-{j:02d}")
        for i in range(60)
        for j in range(0, 80, 2)
    ]
    assert len(ceiling.members) > 5000
    assert len(devices) > 2000
    start = time.perf_counter()
    findings = find_clashes(ceiling, devices)
    assert time.perf_counter() - start < 2.0  # 0.3 s alone on two cores; the suite may share them
    assert findings


def test_a_scene_moved_far_away_gives_the_same_findings():
    rng = np.random.default_rng(7)
    services = _services(rng, 12)
    far = (250_000.0, -400_000.0)
    moved = [
        replace(
            s,
            outline=affinity.translate(s.outline, *far),
            mesh=None if s.mesh is None else s.mesh + np.array([*far, 0.0]),
        )
        for s in services
    ]
    here, there = find_clashes(room(), services), find_clashes(room(at=far), moved)
    assert [(f.rule, f.subjects) for f in here] == [(f.rule, f.subjects) for f in there]
    assert [f.value for f in here] == pytest.approx([f.value for f in there], abs=1e-3)
