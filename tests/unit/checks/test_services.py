"""Services and structure against the build-up (2700 to 2738) and the hangers, about each limit by 1 mm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_obstacles import GRID_TOP, LEVEL, SOFFIT, light, meshed, only, prism, rod, room, rules, thing
from shapely import Point, affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind

SPAN = box(-500, 1500, 6500, 1900)
"""Right across the room between the hanger lines at y = 1200 and 2400."""


@pytest.mark.parametrize("kind", sorted(SERVICES | STRUCTURE))
@pytest.mark.parametrize(("bottom", "hits"), [(GRID_TOP + 1, False), (GRID_TOP - 1, True)])
@pytest.mark.parametrize("with_mesh", [False, True])
def test_what_comes_from_above_may_not_reach_below_the_mains_tops(kind, bottom, hits, with_mesh):
    body = thing(kind, SPAN, bottom, bottom + 300, meshed=with_mesh)
    rule = "structure-in-ceiling" if kind in STRUCTURE else "service-in-ceiling"
    assert rules(room(), body) == ([rule] if hits else [])


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
    assert rules(room(), clear) == []
    finding = only(room(), meshed(Kind.PIPE, rod((3000, -1000, 3300), (3000, 6500, 2500), 20)))
    slope = 800 / 7500
    underside = 3300 - 5800 * slope - 20 * np.hypot(1, slope)
    assert finding.value == pytest.approx(GRID_TOP - underside, abs=0.5)


def test_a_round_duct_between_two_hangers_is_no_clash_but_its_box_would_be():
    ceiling = room()
    hangers = ceiling.hangers.point
    on_main = hangers[np.isclose(hangers[:, 1], 2400)]
    a, b = on_main[0], on_main[1]
    # Askew under 45 degrees through the middle between two hangers: its bounding box holds both.
    middle = (a + b) / 2
    duct = meshed(Kind.DUCT, rod((*(middle - 900), 3000), (*(middle + 900), 3000), 150), "duct")
    assert box(*duct.outline.bounds).contains(shapely.MultiPoint([a, b]))
    crossed = [
        p for p in hangers if Point(p).distance(shapely.LineString([middle - 900, middle + 900])) < 150
    ]
    assert crossed == []
    assert rules(ceiling, duct) == []


@pytest.mark.parametrize("with_mesh", [False, True])
def test_a_duct_across_hangers_is_one_finding_with_all_of_them(with_mesh):
    ceiling = room()
    duct = thing(Kind.DUCT, box(-500, 2300, 6500, 2600), 2900, 3100, "duct", meshed=with_mesh)
    finding = only(ceiling, duct)
    on_main = np.flatnonzero(np.isclose(ceiling.hangers.point[:, 1], 2400))
    keys = ceiling.hangers.keys()
    assert finding.rule == "hanger-through-service"
    assert finding.subjects == ("duct", *(f"{ceiling.key}/{keys[i]}" for i in on_main))
    assert f"{len(on_main)} hangers" in finding.message
    # The wire of 4 mm stands 100 mm inside the nearer side.
    assert finding.value == pytest.approx(102.0)


@pytest.mark.parametrize(("gap", "hits"), [(3.0, False), (1.0, True)])
def test_a_wire_of_4_mm_may_pass_beside_a_duct(gap, hits):
    duct = thing(Kind.DUCT, box(-500, 2400 + gap, 6500, 2700), 2900, 3100, "duct")
    assert rules(room(), duct) == (["hanger-through-service"] if hits else [])


@pytest.mark.parametrize(("bottom", "hits"), [(SOFFIT + 1, False), (SOFFIT - 1, True)])
def test_a_duct_above_the_soffit_is_no_clash(bottom, hits):
    duct = thing(Kind.DUCT, box(-500, 2300, 6500, 2600), bottom, bottom + 300, "duct", meshed=True)
    assert rules(room(), duct) == (["hanger-through-service"] if hits else [])


def test_pieces_of_one_run_are_one_cause():
    pieces = [
        thing(Kind.DUCT, box(1000 * k, 2300, 1000 * (k + 1) - 10, 2600), 2900, 3100, f"duct {k}")
        for k in range(6)
    ]
    assert rules(room(), *pieces) == ["hanger-through-service"]
    apart = [pieces[0], pieces[5]]
    assert rules(room(), *apart) == ["hanger-through-service"] * 2


def test_a_hanger_touches_the_soffit_that_carries_it():
    slab = thing(Kind.SLAB, box(-500, -500, 6500, 5300), SOFFIT, SOFFIT + 250, "slab")
    assert rules(room(), slab) == []


def test_a_hanger_that_runs_through_a_beam_to_the_slab_is_told():
    beam = thing(Kind.BEAM, box(-500, 2300, 6500, 2600), 3000, SOFFIT, "beam")
    assert rules(room(), beam) == ["hanger-through-structure"]
    ceiling = room()
    on_beam = replace(ceiling, hangers=replace(ceiling.hangers, support=("beam",) * len(ceiling.hangers)))
    assert rules(on_beam, beam) == []


def test_hangers_that_run_into_a_beam_in_the_build_up_are_told_with_it():
    beam = thing(Kind.BEAM, box(-500, 2300, 6500, 2600), 2700, 3300, "beam")
    finding = only(room(), beam)
    assert finding.rule == "structure-in-ceiling"
    assert len(finding.subjects) > 1


def test_a_zone_without_structure_above_is_one_finding_of_unknown_verdict():
    ceiling = room()
    top = ceiling.hangers.top.copy()
    top[:4] = np.nan
    bare = replace(ceiling, hangers=replace(ceiling.hangers, top=top))
    finding = only(bare)
    assert finding.rule == "hanger-without-structure"
    assert finding.verdict is Verdict.UNKNOWN
    assert finding.value == 4
    assert finding.subjects == tuple(f"{ceiling.key}/{k}" for k in ceiling.hangers.keys()[:4])


def test_slabs_in_the_build_up_are_one_cause_wherever_they_lie():
    slabs = [
        thing(Kind.SLAB, box(4000 * k, 0, 4000 * k + 1500, 4800), 2710, 2900, f"slab {k}") for k in (0, 1)
    ]
    finding = only(room(), *slabs)
    assert finding.rule == "structure-in-ceiling"
    assert finding.subjects[:2] == ("slab 0", "slab 1")


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
