"""The room over a ceiling for panels and devices, and what lies on lights: each at its limit."""

from __future__ import annotations

import numpy as np
import pytest
from handmade_obstacles import LEVEL, head, light, meshed, only, prism, rod, room, rules, thing
from shapely import Point, box

from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind

SPAN = box(1250, 1900, 3900, 2300)
"""Between the mains at 1200 and 2400; no hanger stands in it."""


@pytest.mark.parametrize("kind", sorted(SERVICES | STRUCTURE))
@pytest.mark.parametrize(("bottom", "hits"), [(101.0, False), (99.0, True)])
def test_panels_are_tilted_in_through_100_mm(kind, bottom, hits):
    body = thing(kind, SPAN, LEVEL + bottom, LEVEL + 400)
    assert rules(room(), body) == (["panel-tilt-in"] if hits else [])


def test_the_measure_is_what_is_missing_and_told_with_the_way_out():
    finding = only(room(), thing(Kind.DUCT, SPAN, LEVEL + 60, LEVEL + 400, "duct"))
    assert finding.value == pytest.approx(40.0)
    assert "by 40 mm" in finding.message
    assert finding.subjects == ("duct",)


def test_a_falling_duct_is_measured_where_it_is_over_the_room():
    # Its axis falls 100 in 1000 and leaves the room at x = 6000; its box reaches far lower.
    radius, fall = 100.0, 0.1
    at_wall = LEVEL + 70 + radius * np.hypot(1.0, fall)
    duct = meshed(
        Kind.DUCT, rod((3000, 2100, at_wall + 300), (8000, 2100, at_wall - 200), radius, 256), "duct"
    )
    assert duct.bottom < LEVEL - 100
    assert only(room(), duct).value == pytest.approx(30.0, abs=0.2)


@pytest.mark.parametrize(("rise", "hits"), [(151.0, False), (149.0, True)])
def test_a_lay_in_light_needs_150_mm(rise, hits):
    duct = thing(Kind.DUCT, box(1250, 700, 1700, 1100), LEVEL + rise, LEVEL + 400, "duct")
    assert rules(room(), light(1500, 900), duct) == (["fixture-depth"] if hits else [])


@pytest.mark.parametrize(("rise", "hits"), [(226.0, False), (224.0, True), (150.0, True)])
def test_a_tall_light_needs_its_own_depth_and_25_mm(rise, hits):
    lamp = thing(Kind.LIGHT, box(1202.5, 602.5, 1797.5, 1197.5), LEVEL, LEVEL + 200, "lamp")
    duct = thing(Kind.DUCT, box(1250, 700, 1700, 1100), LEVEL + rise, LEVEL + 400, "duct")
    assert rules(room(), lamp, duct) == (["fixture-depth"] if hits else [])


def test_a_duct_beside_a_lights_raised_middle_is_measured_over_what_lies_under_it():
    tray, box_ = prism(box(1202.5, 602.5, 1797.5, 1197.5), LEVEL, LEVEL + 60), box(1400, 800, 1600, 1000)
    lamp = meshed(Kind.LIGHT, np.concatenate([tray, prism(box_, LEVEL + 60, LEVEL + 180)]), "lamp")
    beside = thing(Kind.DUCT, box(1210, 620, 1390, 1180), LEVEL + 152, LEVEL + 400, "duct")
    over = thing(Kind.DUCT, box(1210, 620, 1450, 1180), LEVEL + 152, LEVEL + 400, "duct")
    assert rules(room(), lamp, beside) == []
    assert only(room(), lamp, over).value == pytest.approx(180 + 25 - 152)


def test_a_duct_comes_down_to_its_terminal_but_not_to_a_light():
    terminal = thing(Kind.AIR_TERMINAL, box(1202.5, 602.5, 1797.5, 1197.5), LEVEL, LEVEL + 60, "terminal")
    drop = meshed(Kind.DUCT, rod((1500, 900, LEVEL + 60), (1500, 900, LEVEL + 500), 100), "drop")
    assert rules(room(), terminal, drop) == []
    assert rules(room(), light(1500, 900), drop) == ["fixture-depth"]


def test_a_pipe_comes_down_to_its_head():
    drop = meshed(Kind.PIPE, rod((1500, 900, LEVEL + 90), (1500, 900, LEVEL + 500), 12), "drop")
    assert rules(room(), head(1500, 900), drop) == []


def test_a_run_whose_insulation_reaches_into_the_grid_is_told_once():
    pipe = meshed(Kind.PIPE, rod((1300, 2100, LEVEL + 100), (3900, 2100, LEVEL + 100), 30, 64), "pipe")
    wrap = meshed(Kind.PIPE, rod((1300, 2100, LEVEL + 100), (3900, 2100, LEVEL + 100), 70, 64), "wrap")
    finding = only(room(), pipe, wrap)
    assert (finding.rule, finding.subjects) == ("service-in-ceiling", ("wrap",))
    assert finding.value == pytest.approx(8.0, abs=0.1)


def test_one_duct_over_panels_and_a_light_is_told_by_what_it_lacks_most():
    duct = thing(Kind.DUCT, box(1250, 700, 3900, 1100), LEVEL + 90, LEVEL + 400, "duct")
    finding = only(room(), light(1500, 900), duct)
    assert (finding.rule, finding.value) == ("fixture-depth", pytest.approx(60.0))
    assert finding.subjects == ("duct", "light")


@pytest.mark.parametrize(("gap", "hits"), [(76.0, False), (74.0, True), (0.0, True)])
def test_insulation_over_a_recessed_light_is_told(gap, hits):
    quilt = thing(
        Kind.OTHER, Point(1500, 900).buffer(900), LEVEL + 80 + gap, LEVEL + 400, "Mineral wool quilt"
    )
    ceiling = room()
    assert rules(ceiling, light(1500, 900), quilt) == (["insulation-over-light"] if hits else [])
    if hits:
        finding = only(ceiling, light(1500, 900), quilt)
        assert finding.verdict is Verdict.UNKNOWN
        assert finding.value == pytest.approx(75 - gap)
