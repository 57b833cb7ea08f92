"""The plenum study: at the level it finds nothing clashes from above, 1 mm higher something does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from handmade_obstacles import LEVEL, SOFFIT, head, light, meshed, prism, rod, room, thing
from shapely import affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.checks.limits import read_limits
from ifcgrid.checks.plenum import find_plenum
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle

FROM_ABOVE = {"service-in-ceiling", "structure-in-ceiling", "panel-tilt-in", "fixture-depth"}
SLAB = thing(Kind.SLAB, box(-500, -500, 7000, 5500), SOFFIT, SOFFIT + 200, "slab")
TILT_IN = read_limits()["panel-tilt-in"].value
MAIN = 38.0


def raised(ceiling: Ceiling, things: Sequence[Obstacle], rise: float) -> set[str]:
    """What fails from above when the ceiling and the devices in it hang higher; judged by the clash rules."""
    zone = replace(ceiling.zone, level=ceiling.zone.level + rise)
    hangers = replace(ceiling.hangers, bottom=ceiling.hangers.bottom + rise)
    moved = [
        replace(
            o,
            bottom=o.bottom + rise,
            top=o.top + rise,
            mesh=None if o.mesh is None else o.mesh + np.array([0.0, 0.0, rise]),
        )
        if o.kind in DEVICES
        else o
        for o in things
    ]
    found = find_clashes(replace(ceiling, zone=zone, hangers=hangers), moved)
    return {f.rule for f in found if f.verdict is Verdict.FAIL} & FROM_ABOVE


def duct(bottom: float, key: str = "duct", **more: float) -> Obstacle:
    y = more.get("y", 1000.0)
    return thing(Kind.DUCT, box(500, y, 5500, y + 300), bottom, bottom + 200, key)


class TestWhatGoverns:
    def test_structure_alone_asks_for_room_to_tilt_panels_in(self):
        found = find_plenum(room(), [SLAB])
        assert found.highest == SOFFIT - TILT_IN
        assert found.governing is not None
        assert (found.governing.key, found.governing.rule) == ("slab", "panel-tilt-in")
        assert found.governing.source == read_limits()["panel-tilt-in"].source
        assert found.without(1) is None
        assert found.is_known

    def test_the_lowest_governs_and_the_next_one_follows_when_it_is_gone(self):
        found = find_plenum(room(), [SLAB, duct(3200.0, "high", y=3000.0), duct(3000.0, "low")])
        assert [k.key for k in found.keepers] == ["low", "high", "slab"]
        assert found.highest == 3000 - TILT_IN
        assert found.without(1) == 3200 - TILT_IN
        assert found.without(2) == SOFFIT - TILT_IN
        assert find_plenum(room(), [SLAB, duct(3200.0, "high", y=3000.0)]).highest == found.without(1)

    def test_what_is_over_the_slab_is_another_storeys(self):
        upper = thing(Kind.ROOF, box(-500, -500, 7000, 5500), SOFFIT + 3000, SOFFIT + 3200, "roof")
        found = find_plenum(room(), [SLAB, upper, duct(SOFFIT + 2500)])
        assert [k.key for k in found.keepers] == ["slab"]

    @pytest.mark.parametrize(("depth", "need"), [(80.0, 150.0), (200.0, 225.0)])
    def test_a_lay_in_light_under_a_duct_asks_for_its_depth(self, depth: float, need: float):
        lamp = replace(light(3300.0, 1500.0), top=LEVEL + depth)
        wide = thing(Kind.DUCT, box(500, 1300, 5500, 1700), 3100, 3300, "duct")
        found = find_plenum(room(), [SLAB, lamp, wide])
        assert found.governing is not None
        assert (found.governing.rule, found.governing.device) == ("fixture-depth", "light")
        assert found.governing.need == need
        assert found.highest == 3100 - need

    def test_a_light_beside_the_duct_asks_nothing_of_it(self):
        lamp = replace(light(3300.0, 3900.0), top=LEVEL + 200)
        found = find_plenum(room(), [SLAB, lamp, duct(3100.0)])
        assert found.highest == 3100 - TILT_IN

    def test_a_duct_that_already_hangs_too_low_brings_the_ceiling_down(self):
        found = find_plenum(room(), [SLAB, duct(LEVEL - 60)])
        assert found.highest == LEVEL - 60 - TILT_IN

    def test_what_goes_through_at_every_usable_height_is_named_apart(self):
        riser = thing(Kind.PIPE, box(2000, 2000, 2110, 2110), 0.0, SOFFIT, "riser")
        found = find_plenum(room(), [SLAB, riser])
        assert found.through == ("riser",)
        assert found.highest == SOFFIT - TILT_IN

    def test_furniture_under_the_ceiling_and_walls_from_the_floor_up_do_not_count(self):
        desk = thing(Kind.EQUIPMENT, box(2000, 2000, 3000, 3000), 0.0, 750.0, "desk")
        wall = thing(Kind.WALL, box(2900, 0, 3000, 4800), 0.0, SOFFIT, "wall")
        assert find_plenum(room(), [SLAB, desk, wall]).highest == SOFFIT - TILT_IN

    def test_a_wall_that_hangs_from_above_asks_for_the_grids_depth(self):
        apron = thing(Kind.WALL, box(2900, 0, 3000, 4800), 3000.0, SOFFIT, "apron")
        found = find_plenum(room(), [SLAB, apron])
        assert found.highest == 3000 - MAIN

    def test_nothing_above_is_not_known(self):
        found = find_plenum(room(), [])
        assert found.highest is None
        assert not found.is_known
        half = thing(Kind.SLAB, box(-500, -500, 3000, 5500), SOFFIT, SOFFIT + 200, "half")
        assert not find_plenum(room(), [half]).is_known

    def test_walls_that_end_below_the_highest_level_are_named(self):
        low = thing(Kind.WALL, box(-100, 0, 0, 4800), 0.0, LEVEL + 200, "low wall")
        high = thing(Kind.WALL, box(6000, 0, 6100, 4800), 0.0, SOFFIT, "high wall")
        found = find_plenum(room(), [SLAB, low, high])
        assert found.lower_walls == (("low wall", LEVEL + 200),)


def scene(seed: int) -> tuple[Ceiling, list[Obstacle]]:
    """Boxes, rods, sloping ducts and prisms over a room, lights, terminals and heads in it."""
    rng = np.random.default_rng(seed)
    things: list[Obstacle] = [SLAB] if seed % 5 else []
    for k in range(int(rng.integers(1, 7))):
        x, y, bottom = rng.uniform(0, 5000), rng.uniform(0, 4000), rng.uniform(2500, 3250)
        kind = (Kind.DUCT, Kind.PIPE, Kind.TRAY, Kind.BEAM, Kind.EQUIPMENT)[int(rng.integers(5))]
        shape = int(rng.integers(4))
        if shape == 0:
            end = (x + rng.uniform(300, 2500), y + rng.uniform(-500, 500), bottom + rng.uniform(0, 120))
            things.append(meshed(kind, rod((x, y, bottom + 100), end, rng.uniform(20, 90)), f"{k}"))
            continue
        plan = affinity.rotate(
            box(x, y, x + rng.uniform(50, 2500), y + rng.uniform(50, 500)), rng.uniform(0, 90)
        )
        top = bottom + rng.uniform(60, 400)
        if shape == 1:
            mesh = prism(plan, bottom, top)
            mesh[:, :, 2] += (mesh[:, :, 0] - x) * rng.uniform(-0.05, 0.05)
            things.append(meshed(kind, mesh, f"{k}"))
        else:
            things.append(thing(kind, plan, bottom, top, f"{k}", meshed=shape == 2))
    for k in range(int(rng.integers(0, 6))):
        i, j = int(rng.integers(0, 10)), int(rng.integers(0, 8))
        middle = (600 * i + 300.0, 600 * j + 300.0)
        depth = rng.uniform(30, 320)
        if k % 3 == 2:
            things.append(head(*middle, key=f"head {k}"))
        else:
            lamp = replace(light(*middle, key=f"lamp {k}"), top=LEVEL + depth)
            things.append(replace(lamp, kind=Kind.AIR_TERMINAL if k % 3 else Kind.LIGHT))
    return room(**({"angle_deg": 17.0} if seed % 3 == 0 else {})), things


@pytest.mark.parametrize("seed", range(40))
def test_at_the_highest_level_nothing_clashes_from_above_and_1_mm_more_does(seed):
    ceiling, things = scene(seed)
    found = find_plenum(ceiling, things)
    if found.through:
        highest = LEVEL if found.highest is None else min(found.highest, LEVEL)
        usable = np.arange(read_limits()["ceiling-below-headroom"].value, highest, 10.0)
        assert all(raised(ceiling, things, level - LEVEL) for level in usable)
        return
    if found.highest is None:
        assert raised(ceiling, things, 600.0) == set()
        return
    rise = found.highest - LEVEL
    assert raised(ceiling, things, rise) == set()
    assert raised(ceiling, things, rise + 1.0)
