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
from ifcgrid.domain.hanging import HangerKind, Trapezes
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
    assert finding.rule == "panel-tilt-in"
    assert f"{len(ceiling.hangers)} hangers have no way past" in finding.message
    assert len(finding.subjects) == 1 + len(ceiling.hangers)
    low = thing(Kind.SLAB, box(-500, -500, 6500, 5300), 2720, 3000, "slab")
    assert only(tight, low).rule == "structure-in-ceiling"


def _leaning(ceiling, toward):
    """The ceiling with all hangers of the main at 2400 leaning across it by 1 in 6."""
    h = ceiling.hangers
    leans = np.isclose(h.point[:, 1], 2400)
    top_point = h.point.copy()
    top_point[leans, 1] += toward * (h.top - h.bottom)[leans] / 6
    kind = np.where(leans, HangerKind.SPLAYED, HangerKind.STRAIGHT).astype(np.int32)
    return replace(ceiling, hangers=replace(h, kind=kind, top_point=top_point))


@pytest.mark.parametrize("with_mesh", [False, True])
def test_a_leaning_hanger_is_judged_where_it_goes_not_over_its_foot(with_mesh):
    pipe = thing(Kind.PIPE, box(-500, 2360, 6500, 2440), 3200, 3260, "pipe", meshed=with_mesh)
    assert rules(room(), pipe) == ["hanger-through-service"]
    assert rules(_leaning(room(), 1), pipe) == []
    aside = thing(Kind.PIPE, box(-500, 2460, 6500, 2540), 3200, 3260, "pipe", meshed=with_mesh)
    assert rules(room(), aside) == []
    assert rules(_leaning(room(), 1), aside) == ["hanger-through-service"]
    assert rules(_leaning(room(), -1), aside) == []


def _with_trapeze(ceiling, low, high, z):
    """The ceiling with its fifth hanger on a bar across the main."""
    k = 4
    u = float(ceiling.hangers.point[k, 0])
    top = ceiling.hangers.top.copy()
    top[k] = z
    bars = Trapezes(
        hanger=np.array([k], dtype=np.int32),
        ends=np.array([[[u, low], [u, high]]]),
        z=np.array([z]),
        top=np.array([[SOFFIT, SOFFIT]]),
        support=(("slab", "slab"),),
        spans=(("duct",),),
    )
    return replace(ceiling, hangers=replace(ceiling.hangers, top=top), trapezes=bars), u


@pytest.mark.parametrize(
    ("outline", "bottom", "hits"),
    [
        ((-200, -400, 200, 400), 2950, False),  # over the bar, between the rods
        ((-200, -400, 200, 400), 2850, True),  # the bar itself runs through it
        ((-200, 400, 200, 600), 2950, True),  # a rod runs through it
        ((-200, -400, 200, 400), 2801, True),  # and here the hanger under the bar
    ],
)
def test_a_trapeze_is_judged_with_its_bar_and_its_rods(outline, bottom, hits):
    base = room()
    v = float(base.hangers.point[4, 1])
    ceiling, u = _with_trapeze(base, v - 500, v + 500, 2900.0)
    a, b, c, d = outline
    # Narrow along the main: no other hanger stands there.
    duct = thing(Kind.DUCT, box(u + a, v + b, u + c, v + d), bottom, bottom + 80, "duct")
    assert rules(ceiling, duct) == (["hanger-through-service"] if hits else [])


def _without(ceiling, low, high):
    """The ceiling without the hangers between two places along the mains."""
    h = ceiling.hangers
    keep = (h.point[:, 0] < low) | (h.point[:, 0] > high)
    return replace(
        ceiling,
        hangers=replace(
            h,
            line=h.line[keep],
            index=h.index[keep],
            room=h.room[keep],
            point=h.point[keep],
            bottom=h.bottom[keep],
            top=h.top[keep],
            support=tuple(s for s, k in zip(h.support, keep.tolist(), strict=True) if k),
        ),
    )


def test_mains_that_hang_free_under_a_duct_are_one_finding():
    ceiling = room()
    spacing = ceiling.system.hanger_spacing
    places = np.unique(ceiling.hangers.point[:, 0])
    middle = places[len(places) // 2]
    bare = _without(ceiling, middle - 1, middle + 1)
    duct = thing(Kind.DUCT, box(middle - 200, -500, middle + 200, 5300), 2900, 3100, "duct")
    finding = only(bare, duct)
    assert finding.rule == "main-without-hanger"
    assert finding.subjects[0] == "duct"
    assert len(finding.subjects) == 1 + 3  # and the three mains
    free = float(places[len(places) // 2 + 1] - places[len(places) // 2 - 1])
    assert finding.value == pytest.approx(free - spacing, abs=1e-3)
    assert "duct 'duct'" in finding.message


def test_mains_that_hang_free_are_told_whatever_the_cause():
    ceiling = room()
    places = np.unique(ceiling.hangers.point[:, 0])
    middle = places[len(places) // 2]
    bare = _without(ceiling, middle - 1, middle + 1)
    beside = thing(Kind.DUCT, box(middle - 200, -900, middle + 200, -600), 2900, 3100, "duct")
    above = thing(Kind.DUCT, box(middle - 200, -500, middle + 200, 5300), SOFFIT + 1, SOFFIT + 200, "duct")
    for others in ((), (beside,), (above,)):
        finding = only(bare, *others)
        assert finding.rule == "main-without-hanger"
        assert finding.message.startswith("3 mains of ")
        assert "nothing in the models bars hangers there" in finding.message
        assert len(finding.subjects) == 3  # the three mains and nothing else
    none = _without(ceiling, -1e6, 1e6)
    (finding,) = (f for f in find_clashes(none, []) if f.rule == "main-without-hanger")
    assert len(finding.subjects) == 3


@pytest.mark.parametrize(("gap", "is_named"), [(20.0, True), (40.0, False)])
def test_a_duct_in_the_build_up_is_told_as_what_bars_hangers_beside_it_too(gap, is_named):
    # Down in the ceiling, and beside the main: its silhouette is not over the main, its clearance is.
    ceiling = room()
    places = np.unique(ceiling.hangers.point[:, 0])
    middle = places[len(places) // 2]
    bare = _without(ceiling, middle - 1, middle + 1)
    duct = thing(Kind.DUCT, box(500, 1200 + gap, 5500, 1800), 2650, 2950, "low duct")
    low, *free = find_clashes(bare, [duct])
    assert low.rule == "service-in-ceiling"
    assert {f.rule for f in free} == {"main-without-hanger"}
    named = [f for f in free if "low duct" in f.subjects]
    assert len(named) == is_named
    assert sum(len(f.subjects) for f in free) == 3 + is_named


@pytest.mark.parametrize(("more", "hits"), [(0.4, False), (1.0, True)])
def test_a_main_may_hang_free_just_as_far_as_the_spacing(more, hits):
    ceiling = room()
    main = ceiling.hangers.point[np.isclose(ceiling.hangers.point[:, 1], 2400), 0]
    step = float(np.diff(np.sort(main)).max())
    system = replace(ceiling.system, hanger_spacing=step - more, hanger_end=6000.0)
    duct = thing(Kind.DUCT, box(-500, 2350, 6500, 2450), SOFFIT - 1, SOFFIT - 0.8, "duct")
    found = rules(replace(ceiling, system=system), duct)
    assert ("main-without-hanger" in found) == hits
