"""Walls under, to and through the ceiling, and rated ones that stop short of the structure."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_obstacles import GRID_TOP, LEVEL, SOFFIT, only, room, rules, thing
from shapely import box

from ifcgrid.checks.clash import tell_once
from ifcgrid.checks.walls import WallClass, class_walls
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind

BESIDE = box(-100, 0, 0, 4800)
SLAB = thing(Kind.SLAB, box(-500, -500, 6500, 5300), SOFFIT, SOFFIT + 200, "slab")


def wall(top: float, barrier: str = "fire EI60", bottom: float = 0.0):
    return replace(thing(Kind.WALL, BESIDE, bottom, top, "wall"), barrier=barrier)


@pytest.mark.parametrize(
    ("top", "where"),
    [
        (LEVEL - 6, WallClass.UNDER),
        (LEVEL, WallClass.TO),
        (GRID_TOP, WallClass.TO),
        (GRID_TOP + 6, WallClass.THROUGH),
        (SOFFIT, WallClass.THROUGH),
    ],
)
def test_a_wall_ends_under_at_or_above_the_ceiling(top, where):
    (classed,) = class_walls(room(), [wall(top)])
    assert (classed.wall_class, classed.rise) == (where, top - LEVEL)


def test_a_wall_that_begins_at_the_ceiling_stands_above_it_and_one_elsewhere_is_not_classed():
    (classed,) = class_walls(room(), [wall(SOFFIT, bottom=LEVEL)])
    assert classed.wall_class is WallClass.ABOVE
    assert class_walls(room(), [thing(Kind.WALL, box(-400, 0, -300, 4800), 0, SOFFIT)]) == ()


@pytest.mark.parametrize(("short", "hits"), [(4.0, False), (6.0, True), (500.0, True), (900.0, True)])
def test_a_rated_wall_reaches_the_structure(short, hits):
    found = rules(room(), SLAB, wall(SOFFIT - short))
    assert found == (["rated-wall-short"] if hits else [])
    assert rules(room(), SLAB, wall(SOFFIT - short, barrier="")) == []
    if hits:
        finding = only(room(), SLAB, wall(SOFFIT - short))
        assert finding.value == pytest.approx(short)
        assert "fire EI60" in finding.message


def test_the_greatest_gap_along_a_wall_counts():
    beam = thing(Kind.BEAM, box(-200, 0, 200, 2000), SOFFIT - 300, SOFFIT, "beam")
    assert only(room(), SLAB, beam, wall(SOFFIT - 300)).value == pytest.approx(300)
    whole = replace(beam, outline=box(-200, -500, 200, 5300))
    assert rules(room(), SLAB, whole, wall(SOFFIT - 300)) == []


def test_without_structure_a_rated_wall_that_ends_at_the_ceiling_is_asked_about():
    finding = only(room(), wall(LEVEL))
    assert (finding.rule, finding.verdict, finding.value) == ("rated-wall-short", Verdict.UNKNOWN, None)
    assert rules(room(), wall(SOFFIT)) == []


def test_a_barrier_that_closes_the_void_is_told_instead():
    barrier = thing(Kind.OTHER, BESIDE, LEVEL, SOFFIT, "Cavity barrier 1")
    finding = only(room(), SLAB, wall(LEVEL), barrier)
    assert (finding.rule, finding.verdict) == ("cavity-barrier", Verdict.UNKNOWN)
    low = replace(barrier, top=SOFFIT - 100)
    assert rules(room(), SLAB, wall(LEVEL), low) == ["rated-wall-short"]


def test_a_wall_between_two_rooms_is_one_cause():
    finding = only(room(), SLAB, wall(LEVEL))
    other = replace(finding, room="next door")
    assert tell_once([finding, other]) == (finding,)
    duct = replace(finding, rule="service-in-ceiling")
    assert tell_once([duct, replace(duct, room="next door")]) == (duct, replace(duct, room="next door"))
