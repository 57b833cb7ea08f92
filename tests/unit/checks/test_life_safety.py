"""Deflectors, what stands under them, detectors near air, and rings in ceilings held in earthquakes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade_obstacles import LEVEL, head, only, room, rules, thing
from shapely import Point, box

from ifcgrid.domain.bracing import PerimeterWall
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind


def pendent(drop: float, **more):
    return replace(head(1500, 900), bottom=LEVEL - drop, **more)


@pytest.mark.parametrize(
    ("drop", "found"),
    [
        (26.0, []),
        (24.0, ["deflector-too-high"]),
        (299.0, []),
        (302.0, ["deflector-too-low"]),
    ],
)
def test_a_pendent_heads_deflector_is_25_to_300_mm_below_the_ceiling(drop, found):
    assert rules(room(), pendent(drop)) == found


def test_the_measure_is_how_far_it_is_off():
    assert only(room(), pendent(10.0)).value == pytest.approx(15)
    assert only(room(), pendent(345.0)).value == pytest.approx(45)


@pytest.mark.parametrize("word", ["Concealed head", "recessed pendent", "Sidewall 3"])
def test_heads_of_other_types_are_not_judged_by_the_level_of_pendent_ones(word):
    assert rules(room(), pendent(0.0, type_name=word)) == []


@pytest.mark.parametrize(("top", "hits"), [(-45 - 458, False), (-45 - 456, True)])
@pytest.mark.parametrize(("beside", "near"), [(450, True), (470, False)])
def test_what_stands_in_the_clear_space_under_a_deflector_is_told(top, hits, beside, near):
    shelf = thing(Kind.OTHER, box(1500 + beside, 600, 3000, 1200), 0, LEVEL + top, "shelf")
    found = rules(room(), head(1500, 900), shelf)
    assert found == (["sprinkler-obstructed"] if hits and near else [])


def test_a_full_height_wall_bounds_the_room_and_obstructs_nothing():
    wall = thing(Kind.WALL, box(-100, 0, 0, 4800), 0, 3300, "wall")
    assert rules(room(), head(300, 900), wall) == []


def detector(x: float):
    return thing(Kind.DETECTOR, Point(x, 900).buffer(50, 64), LEVEL - 40, LEVEL + 10, "detector")


def terminal(name: str = "terminal"):
    return thing(Kind.AIR_TERMINAL, box(1202.5, 602.5, 1797.5, 1197.5), LEVEL, LEVEL + 20, name)


@pytest.mark.parametrize(("gap", "hits"), [(915.5, False), (913.0, True)])
def test_a_detector_keeps_3_ft_from_supply_air(gap, hits):
    seen = detector(1797.5 + gap + 50)
    found = [f for f in rules(room(), terminal(), seen) if f == "detector-near-air"]
    assert found == (["detector-near-air"] if hits else [])
    assert "detector-near-air" not in rules(room(), terminal("Return grille"), seen)


def test_a_ring_is_asked_for_only_where_a_ceiling_is_held_in_earthquakes():
    ceiling = room()
    held = replace(ceiling, perimeter=(PerimeterWall(part=0, ring=0, edge=0, is_attached=True, gap=0.0),))
    # Its drop of 25 mm is 60 mm beside the tee at 1800; half a tee's face is 12 mm.
    near = replace(head(1740, 900), outline=Point(1740, 900).buffer(12.5, 64))
    assert "ring-on-member" not in rules(ceiling, near)
    far = replace(near, outline=Point(1740, 900).buffer(60 - 12 - 25.4 - 0.5, 64))
    assert "ring-on-member" not in rules(held, far)
    close = replace(near, outline=Point(1740, 900).buffer(60 - 12 - 25.4 + 1.5, 64))
    assert "ring-on-member" in rules(held, close)


def test_findings_of_these_rules_have_a_spot_and_a_source():
    finding = only(room(), pendent(345.0))
    assert finding.verdict is Verdict.FAIL
    assert "NFPA 13" in finding.source
    assert np.allclose(finding.point, (1500, 900, LEVEL - 345))
