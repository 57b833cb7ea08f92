"""Sprinklers against tees and the agreed points of their panels; devices that share a panel."""

from __future__ import annotations

import numpy as np
import pytest
from handmade_ceilings import build_ceiling, rectangle
from handmade_obstacles import LEVEL, head, light, only, room, rules, thing
from shapely import Point

from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind


@pytest.mark.parametrize(("x", "y"), [(1500, 900), (1350, 900), (1650, 750), (1500, 1050)])
def test_a_head_at_the_middle_or_a_quarter_point_is_no_finding(x, y):
    assert rules(room(), head(x, y)) == []


@pytest.mark.parametrize(("shift", "expected"), [(24.0, []), (26.0, ["sprinkler-off-point"])])
def test_a_head_may_stand_25_mm_off_its_point(shift, expected):
    assert rules(room(), head(1500 + shift, 900)) == expected
    step = shift / np.sqrt(2)
    assert rules(room(), head(1500 + step, 900 - step)) == expected


def test_a_head_off_its_point_is_told_not_failed():
    finding = only(room(), head(1575, 900))
    assert finding.verdict is Verdict.UNKNOWN
    assert finding.value == pytest.approx(75.0)
    assert finding.source.startswith("St Johns County")
    assert "(+75, 0)" in finding.message or "(-75, 0)" in finding.message


def test_the_points_of_a_cut_panel_are_those_of_the_piece():
    # Borders of 300: the piece at the wall reaches from x = 0 to 300, its middle is at 150.
    ceiling = build_ceiling(rectangle(5400, 4200), (300.0, 300.0))
    assert rules(ceiling, head(150, 1200)) == []
    assert rules(ceiling, head(150 + 38, 1200)) == ["sprinkler-off-point"]


@pytest.mark.parametrize(("gap", "expected"), [(1.0, []), (-1.0, ["sprinkler-on-member"])])
def test_an_escutcheon_may_not_meet_a_line(gap, expected):
    found = rules(room(), head(1800 - 35 - gap, 900))
    assert [r for r in found if r != "sprinkler-off-point"] == expected


def test_a_head_on_a_tee_is_one_finding_that_tells_the_way_off():
    finding = only(room(), head(1800 - 10, 900))
    assert finding.rule == "sprinkler-on-member"
    assert finding.value == pytest.approx(25.0, abs=0.1)
    assert "(-25, 0) mm" in finding.message
    assert len(finding.subjects) == 2


def test_a_head_drawn_as_a_bare_pipe_gets_an_escutcheon():
    assert "sprinkler-on-member" in rules(room(), head(1800 - 29, 900, radius=8.0))
    assert "sprinkler-on-member" not in rules(room(), head(1800 - 31, 900, radius=8.0))


def test_a_head_exactly_on_a_tee_is_sent_square_to_it():
    finding = only(room(), head(1800, 900))
    assert finding.value == pytest.approx(35.0, abs=0.1)
    assert "(-35, 0) mm" in finding.message or "(+35, 0) mm" in finding.message


def test_a_sidewall_head_is_not_judged():
    sidewall = thing(Kind.SPRINKLER, Point(60, 900).buffer(30), LEVEL - 150, LEVEL - 10, "Sidewall sprinkler")
    assert rules(room(), sidewall) == []


def test_two_small_devices_cut_into_one_panel_are_told_with_the_panel():
    ceiling = room()
    detector = thing(Kind.DETECTOR, Point(1650, 900).buffer(50), LEVEL - 48, LEVEL, "detector")
    finding = only(ceiling, head(1350, 900), detector)
    assert finding.rule == "devices-in-one-panel"
    assert finding.subjects == ("detector", "head", f"{ceiling.key}/panel/2/1")
    assert finding.value == 2


def test_small_devices_in_neighbouring_panels_are_no_finding():
    detector = thing(Kind.DETECTOR, Point(2100, 900).buffer(50), LEVEL - 48, LEVEL, "detector")
    assert rules(room(), head(1500, 900), detector) == []


def test_a_head_inside_a_light_overlaps_it_and_is_told_once():
    finding = only(room(), light(1500, 900), head(1500, 900))
    assert finding.rule == "devices-overlap"
    assert finding.value == pytest.approx(70.0, abs=0.1)
