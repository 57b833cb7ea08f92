"""Lights and other devices against module, members, size and each other, about each limit by 1 mm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_ceilings import build_ceiling, rectangle
from handmade_obstacles import LEVEL, light, meshed, only, prism, room, rules, thing
from shapely import Point, affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.ceiling import Members
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind

CELL = (1500.0, 900.0)
"""The middle of a cell in the field's midst."""


def _index(ceiling, key):
    keys = ceiling.members.keys()
    return keys.index(key.removeprefix(f"{ceiling.key}/"))


def without(ceiling, *indices):
    """The ceiling with some members taken out, as framing does where a device lies."""
    keep = np.setdiff1d(np.arange(len(ceiling.members)), indices)
    m = ceiling.members
    cut = {name: getattr(m, name)[keep] for name in ("role", "line", "index", "room", "start", "end")}
    return replace(ceiling, members=Members(**cut))


def test_a_light_in_its_cell_is_no_finding():
    assert rules(room(), light(*CELL)) == []


@pytest.mark.parametrize(("shift", "expected"), [(2.0, []), (4.0, ["device-off-module"])])
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_light_may_stand_3_mm_off_the_module_in_either_axis(shift, expected, axis, sign):
    middle = np.array(CELL)
    middle[axis] += sign * shift
    assert rules(room(), light(*middle)) == expected


def test_the_message_tells_where_to_move_in_the_models_axes():
    finding = only(room(), light(1535.0, 900.0))
    assert finding.value == pytest.approx(35.0)
    assert finding.limit == 3.0
    assert finding.verdict is Verdict.FAIL
    assert finding.point == pytest.approx((1535.0, 900.0, LEVEL))
    assert "room 101" in finding.message
    assert "'light'" in finding.message
    assert "35 mm off the module" in finding.message
    assert "(-35, 0) mm" in finding.message


def test_the_move_is_told_in_the_models_axes_when_the_grid_is_turned():
    ceiling = room(angle_deg=90.0)
    # The cell's middle (1500, 900) of the level room, turned by 90 degrees, then 35 mm along the mains.
    finding = only(ceiling, light(-900.0, 1535.0))
    assert finding.value == pytest.approx(35.0)
    assert "(0, -35) mm" in finding.message


def test_an_off_module_light_names_the_members_that_it_lies_on():
    ceiling = room()
    finding = only(ceiling, light(1535.0, 900.0))
    assert finding.subjects[0] == "light"
    crossed = ceiling.members.start[[_index(ceiling, key) for key in finding.subjects[1:]]]
    assert crossed[:, 0].tolist() == [1800.0]


@pytest.mark.parametrize(("turn", "expected"), [(0.3, []), (1.0, ["device-off-module"])])
def test_a_turned_light_is_off_module_by_its_corners_shift(turn, expected):
    # 595 / 2 mm turned by 0.3 degrees shift a corner by 1.6 mm, by 1 degree by 5.2 mm.
    assert rules(room(), light(*CELL, turn=turn)) == expected


def test_lights_that_would_all_move_alike_have_one_cause():
    lights = [light(1540.0 + 1200 * k, 900.0, key=f"light {k}") for k in range(3)]
    finding = only(room(), *lights)
    assert finding.subjects[:3] == ("light 0", "light 1", "light 2")
    assert "3 lights" in finding.message


def test_lights_that_would_move_differently_have_causes_of_their_own():
    assert rules(room(), light(1540.0, 900.0, key="a"), light(2740.0 - 80, 900.0, key="b")) == [
        "device-off-module",
        "device-off-module",
    ]


def test_a_light_over_a_border_strip_is_sent_to_the_nearest_whole_cell():
    # Borders of 300: the cell between -300 and 300 is cut by the wall at 0, the next is whole.
    ceiling = build_ceiling(rectangle(5400, 4200), (300.0, 300.0))
    finding = only(ceiling, light(300.0, 1200.0))
    assert finding.value == pytest.approx(300.0)
    assert "(+300, 0) mm" in finding.message


@pytest.mark.parametrize(("excess", "expected"), [(-1.0, []), (1.0, ["device-larger-than-module"])])
def test_a_light_may_not_exceed_its_cell(excess, expected):
    assert rules(room(), light(*CELL, size=(600.0 + excess, 595.0))) == expected


def test_24_inches_do_not_go_into_600_mm():
    finding = only(room(), light(*CELL, size=(609.6, 609.6)))
    assert finding.rule == "device-larger-than-module"
    assert finding.value == pytest.approx(9.6)


def test_a_light_over_two_cells_is_clear_when_the_tee_between_was_taken_out():
    ceiling = room()
    long = light(1800.0, 900.0, size=(1195.0, 595.0))
    finding = only(ceiling, long)
    assert finding.rule == "device-across-member"
    (key,) = finding.subjects[1:]
    assert rules(without(ceiling, _index(ceiling, key)), long) == []


def test_a_light_over_a_main_stands_across_it():
    finding = only(room(), light(1500.0, 1200.0, size=(595.0, 1195.0)))
    assert finding.rule == "device-across-member"
    assert "main runner" in finding.message


@pytest.mark.parametrize(("gap", "expected"), [(1.0, []), (-1.0, ["device-across-member"])])
def test_a_round_light_may_not_reach_over_a_line(gap, expected):
    spot = thing(Kind.LIGHT, Point(1800.0 - 75.0 - gap, 900.0).buffer(75.0, 32), LEVEL - 3, LEVEL + 110)
    assert rules(room(), spot) == expected


def test_the_way_off_a_line_is_told():
    spot = thing(Kind.LIGHT, Point(1800.0 - 55.0, 900.0).buffer(75.0, 32), LEVEL - 3, LEVEL + 110)
    finding = only(room(), spot)
    assert finding.value == pytest.approx(20.0, abs=0.1)
    assert "(-20, 0) mm" in finding.message


def test_a_circle_drawn_with_few_corners_is_measured_by_its_true_radius():
    # Seen along x, a 9-sided polygon of radius 75 reaches 75 one way and 70.5 the other.
    ring = shapely.Polygon([(75 * np.cos(a), 75 * np.sin(a)) for a in np.arange(9) * 2 * np.pi / 9])
    spot = thing(Kind.LIGHT, affinity.translate(ring, 1800.0 + 73.0, 900.0), LEVEL - 3, LEVEL + 110)
    finding = only(room(), spot)
    assert finding.value == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize(("overlap", "expected"), [(-1.0, []), (1.0, ["devices-overlap"])])
def test_two_devices_may_not_overlap(overlap, expected):
    a = thing(Kind.LIGHT, box(1250, 650, 1400, 800), LEVEL, LEVEL + 80, "a")
    b = thing(Kind.DEVICE, box(1400 - overlap, 650, 1550, 800), LEVEL, LEVEL + 80, "b")
    assert [r for r in rules(room(), a, b) if r != "devices-in-one-panel"] == expected


def test_the_overlap_of_two_devices_is_measured():
    a = thing(Kind.LIGHT, box(1250, 650, 1400, 800), LEVEL, LEVEL + 80, "a")
    b = thing(Kind.DEVICE, box(1380, 650, 1550, 800), LEVEL, LEVEL + 80, "b")
    assert only(room(), a, b).value == pytest.approx(20.0)


def test_the_same_element_read_from_two_files_does_not_overlap_itself():
    assert rules(room(), light(*CELL, source="one.ifc"), light(*CELL, source="two.ifc")) == []


@pytest.mark.parametrize(
    ("bottom", "top"), [(1100.0, 1180.0), (LEVEL - 680.0, LEVEL), (LEVEL + 200.0, LEVEL + 280.0)]
)
def test_switches_pendants_and_lights_above_the_ceiling_are_not_judged(bottom, top):
    askew = affinity.rotate(box(1550, 950, 2050, 1450), 30)
    assert rules(room(), thing(Kind.LIGHT, askew, bottom, top)) == []


def test_a_lamp_on_a_rod_is_judged_by_its_rod():
    shade = prism(box(1250, 650, 2150, 1150), LEVEL - 900, LEVEL - 700)
    rod = prism(box(1490, 890, 1510, 910), LEVEL - 700, LEVEL + 100)
    assert rules(room(), meshed(Kind.LIGHT, np.concatenate([shade, rod]))) == []


def test_devices_of_other_rooms_are_not_judged():
    assert rules(room(), light(7040.0, 900.0)) == []


def test_findings_do_not_depend_on_the_order_of_the_obstacles():
    scene = [
        light(1540.0, 900.0, key="a"),
        light(2700.0, 2140.0, key="b"),
        thing(Kind.DUCT, box(-100, 3000, 6100, 3300), 2720, 2900, "duct"),
    ]
    first, second = (find_clashes(room(), order) for order in (scene, scene[::-1]))
    assert [(f.rule, f.subjects, f.message, f.value) for f in first] == [
        (f.rule, f.subjects, f.message, f.value) for f in second
    ]
