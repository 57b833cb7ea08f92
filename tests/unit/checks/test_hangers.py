"""Hangers against services and structure, about each limit by 1 mm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_obstacles import SOFFIT, meshed, only, rod, room, rules, thing
from shapely import Point, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind


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
    support = ("",) * 4 + ceiling.hangers.support[4:]
    bare = replace(ceiling, hangers=replace(ceiling.hangers, top=top, support=support))
    finding = only(bare)
    assert finding.rule == "hanger-without-structure"
    assert finding.verdict is Verdict.UNKNOWN
    assert finding.value == 4
    assert finding.subjects == tuple(f"{ceiling.key}/{k}" for k in ceiling.hangers.keys()[:4])


def test_hangers_whose_main_lies_in_a_roof_are_told_with_the_roof():
    ceiling = room()
    top, support = np.full(len(ceiling.hangers), np.nan), ("",) * len(ceiling.hangers)
    bare = replace(ceiling, hangers=replace(ceiling.hangers, top=top, support=support))
    roof = thing(Kind.ROOF, box(-500, -500, 3000, 5300), 2700, 3100, "roof")
    low, missing = (f for f in find_clashes(bare, [roof]))
    assert (low.rule, missing.rule) == ("structure-in-ceiling", "hanger-without-structure")
    under = int((ceiling.hangers.point[:, 0] < 3000).sum())
    assert len(low.subjects) == 1 + under
    assert missing.value == len(ceiling.hangers) - under


def test_hangers_that_a_soffit_leaves_no_room_for_are_told_with_it():
    ceiling = room()
    top, support = np.full(len(ceiling.hangers), np.nan), ("slab",) * len(ceiling.hangers)
    tight = replace(ceiling, hangers=replace(ceiling.hangers, top=top, support=support))
    slab = thing(Kind.SLAB, box(-500, -500, 6500, 5300), 2738, 3000, "slab")
    finding = only(tight, slab)
    assert finding.rule == "hanger-through-structure"
    assert "no room" in finding.message
    assert len(finding.subjects) == 1 + len(ceiling.hangers)
    low = thing(Kind.SLAB, box(-500, -500, 6500, 5300), 2720, 3000, "slab")
    assert only(tight, low).rule == "structure-in-ceiling"
