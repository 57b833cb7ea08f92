"""Services and structure against the build-up (2700 to 2738) and the hangers, about each limit by 1 mm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade_obstacles import GRID_TOP, LEVEL, light, meshed, only, prism, rod, room, rules, thing
from shapely import Point, affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind

SPAN = box(-500, 1500, 6500, 1900)
"""Right across the room between the hanger lines at y = 1200 and 2400."""


@pytest.mark.parametrize("kind", sorted(SERVICES | STRUCTURE))
@pytest.mark.parametrize(("bottom", "hits"), [(GRID_TOP + 1, False), (GRID_TOP - 1, True)])
@pytest.mark.parametrize("with_mesh", [False, True])
def test_what_comes_from_above_may_not_reach_below_the_mains_tops(kind, bottom, hits, with_mesh):
    body = thing(kind, SPAN, bottom, bottom + 300, meshed=with_mesh)
    rule = "structure-in-ceiling" if kind in STRUCTURE else "service-in-ceiling"
    # What is higher may still be in the way of panels as they are tilted in.
    assert rules(room(), body) == [rule if hits else "panel-tilt-in"]


@pytest.mark.parametrize(("top", "hits"), [(LEVEL - 1, False), (LEVEL + 1, True)])
def test_what_comes_from_below_may_not_reach_the_underside(top, hits):
    cabinet = thing(Kind.EQUIPMENT, box(1000, 1500, 1600, 1900), 0, top)
    assert rules(room(), cabinet) == (["service-in-ceiling"] if hits else [])


def test_a_low_ducts_measure_is_what_it_must_rise():
    finding = only(room(), thing(Kind.DUCT, SPAN, LEVEL + 10, 3000, "duct"))
    assert finding.value == pytest.approx(28.0)
    assert "10 mm above the ceiling's" in finding.message
    assert "by 28 mm" in finding.message
    below = only(room(), thing(Kind.DUCT, SPAN, LEVEL - 60, 3000, "duct"))
    assert below.value == pytest.approx(98.0)
    assert "60 mm below the ceiling's" in below.message


def test_a_riser_through_the_ceiling_needs_an_opening():
    finding = only(room(), thing(Kind.PIPE, Point(1500, 1700).buffer(60), 0, 6000, "riser"))
    assert "through it; it needs an opening" in finding.message


def test_services_beside_the_room_or_on_another_storey_are_no_finding():
    beside = thing(Kind.DUCT, box(6000, 0, 6500, 4800), 2700, 3000)
    above = thing(Kind.DUCT, SPAN, 6000, 6300)
    assert rules(room(), beside, above) == []


def test_a_duct_that_ends_at_its_terminal_is_expected():
    terminal = thing(Kind.AIR_TERMINAL, box(1202.5, 602.5, 1797.5, 1197.5), LEVEL, LEVEL + 20, "terminal")
    drop = meshed(Kind.DUCT, rod((1500, 900, LEVEL + 20), (1500, 900, 3000), 100), "drop")
    assert rules(room(), terminal, drop) == []
    assert rules(room(), drop) == ["service-in-ceiling"]


def test_an_elbow_is_judged_only_where_it_comes_down():
    terminal = thing(Kind.AIR_TERMINAL, box(1202.5, 602.5, 1797.5, 1197.5), LEVEL, LEVEL + 20, "terminal")
    leg = rod((1500, 900, LEVEL + 20), (1500, 900, 3000), 100)
    run = rod((1500, 900, 3000), (5000, 900, 3000), 100)
    assert rules(room(), terminal, meshed(Kind.DUCT, np.concatenate([leg, run]), "elbow")) == []


def test_a_tilted_pipe_is_judged_where_it_is_over_the_room():
    # Its axis falls by 700 in 7500; at the room's far wall (5800 along) its underside is still at 2738.6.
    clear = meshed(Kind.PIPE, rod((3000, -1000, 3300), (3000, 6500, 2600), 20))
    assert clear.bottom < LEVEL
    assert rules(room(), clear) == ["panel-tilt-in"]
    finding = only(room(), meshed(Kind.PIPE, rod((3000, -1000, 3300), (3000, 6500, 2500), 20)))
    slope = 800 / 7500
    underside = 3300 - 5800 * slope - 20 * np.hypot(1, slope)
    assert finding.value == pytest.approx(GRID_TOP - underside, abs=0.5)


def test_slabs_in_the_build_up_are_one_cause_wherever_they_lie():
    slabs = [
        thing(Kind.SLAB, box(4000 * k, 0, 4000 * k + 1500, 4800), 2710, 2900, f"slab {k}") for k in (0, 1)
    ]
    finding = only(room(), *slabs)
    assert finding.rule == "structure-in-ceiling"
    assert finding.subjects[:2] == ("slab 0", "slab 1")


@pytest.mark.parametrize(("bottom", "hits"), [(GRID_TOP + 1, False), (GRID_TOP - 1, True), (LEVEL, True)])
def test_a_wall_that_stands_above_the_ceiling_counts_as_structure(bottom, hits):
    wall = thing(Kind.WALL, box(1000, 1500, 4000, 1600), bottom, 3300)
    assert rules(room(), wall) == (["structure-in-ceiling"] if hits else [])


def test_a_beam_is_never_sent_down():
    finding = only(room(), thing(Kind.BEAM, SPAN, LEVEL - 400, LEVEL + 20, "beam"))
    assert finding.value == pytest.approx(438.0)


def test_a_turned_room_gives_the_same_measures():
    level, turned = room(), room(angle_deg=17.0, at=(12000.0, -3000.0))
    scene = [
        light(1535, 900, key="light"),
        thing(Kind.DUCT, box(-500, 2300, 6500, 2600), 2900, 3100, "duct", meshed=True),
        thing(Kind.PIPE, box(-500, 3000, 6500, 3100), 2720, 2820, "pipe", meshed=True),
    ]

    def carried(body):
        outline = affinity.translate(affinity.rotate(body.outline, 17.0, origin=(0, 0)), 12000, -3000)
        mesh = None
        if body.mesh is not None:
            mesh = prism(outline, body.bottom, body.top)
        return replace(body, outline=outline, mesh=mesh)

    there = find_clashes(turned, [carried(body) for body in scene])
    here = find_clashes(level, scene)
    assert [(f.rule, f.subjects) for f in here] == [(f.rule, f.subjects) for f in there]
    assert [f.value for f in here] == pytest.approx([f.value for f in there], abs=1e-6)
