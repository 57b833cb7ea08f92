"""Valves, dampers and boxes that must be reached through a panel."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_ceilings import build_ceiling, rectangle
from handmade_obstacles import LEVEL, light, only, room, rules, thing
from shapely import box

from ifcgrid.domain.obstacle import Kind


def valve(x: float = 1500.0, y: float = 900.0, rise: float = 300.0, half: float = 75.0):
    body = thing(
        Kind.PIPE, box(x - half, y - half, x + half, y + half), LEVEL + rise, LEVEL + rise + 150, "valve"
    )
    return replace(body, needs_access=True)


def without_panel(ceiling, x: float, y: float):
    """The ceiling as it is with a lay-in light at a point: no panel there."""
    p = ceiling.panels
    low, high = p.bounds[:, :2], p.bounds[:, 2:]
    keep = ~((low <= (x, y)) & (high >= (x, y))).all(axis=1)
    assert keep.sum() == len(p) - 1
    picked = {
        name: getattr(p, name)[keep]
        for name in ("column", "row", "piece", "room", "area", "is_full", "bounds")
    }
    return replace(ceiling, panels=replace(p, **picked))


def test_a_valve_over_a_panel_is_reached():
    assert rules(room(), valve()) == []


def test_a_valve_over_a_light_is_not():
    finding = only(without_panel(room(), 1500, 900), light(1500, 900), valve())
    assert finding.rule == "device-without-access"
    assert finding.value == pytest.approx(450)
    assert finding.subjects == ("valve",)


def test_a_panel_that_a_device_is_cut_into_does_not_lift_out():
    detector = thing(Kind.DETECTOR, box(1450, 850, 1550, 950), LEVEL - 40, LEVEL + 10, "detector")
    finding = only(room(), detector, valve())
    assert "held by devices" in finding.message


def test_a_part_that_need_not_be_reached_may_be_over_a_light():
    assert (
        rules(without_panel(room(), 1500, 900), light(1500, 900), replace(valve(), needs_access=False)) == []
    )


@pytest.mark.parametrize(("border", "hits"), [(475.0, False), (473.0, True)])
def test_the_opening_is_450_mm_clear_between_the_tees(border, hits):
    ceiling = build_ceiling(rectangle(6000 + border - 600, 4800), (border, 600.0))
    face = ceiling.system.tee.face
    assert face == 24.0
    found = [f for f in rules(ceiling, valve(x=border / 2, half=50))]
    assert found == (["device-without-access"] if hits else [])


def test_what_lies_between_bars_the_way():
    duct = thing(Kind.DUCT, box(1210, 610, 1790, 1190), LEVEL + 150, LEVEL + 280, "duct")
    finding = only(room(), duct, valve())
    assert "other services lie between" in finding.message
    narrow = replace(duct, outline=box(1210, 610, 1480, 1190))
    assert rules(room(), narrow, valve()) == []


def test_a_device_above_the_structure_is_not_reached_from_here():
    assert rules(without_panel(room(), 1500, 900), light(1500, 900), valve(rise=2000)) == []
