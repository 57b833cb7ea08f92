"""A policy that wants whole panels at one wall."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from shapely import affinity

from ifcgrid.design.preferred_wall import start_at_wall
from ifcgrid.design.setting_out import Start, solve_from
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.room import Room, Zone
from ifcgrid.domain.setting_out import read_control
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

SYSTEM, LONGEST = read_system("lay-in-600x600"), read_policy("whole-at-longest")


def zone(outline) -> Zone:
    room = Room(
        key="r", name="r", number="1", storey="", storey_key="", section=outline, outline=outline,
        floor=0.0, top=3000.0, height=None,
    )  # fmt: skip
    return Zone(key="r", rooms=(room,), outline=outline, level=2700.0)


@pytest.mark.parametrize("angle", [0.0, 17.0])
def test_whole_panels_begin_at_the_longest_wall_and_the_rest_falls_opposite(angle):
    # 6100 x 4500 = 7 x 600 + 300: the far border is 300 mm, the one at the wall a whole panel.
    outline = affinity.rotate(shapely.box(0, 0, 6100, 4500), angle, origin=(0, 0))
    start = start_at_wall(Start(), zone(outline), LONGEST)
    layout = solve_from(outline, SYSTEM, LONGEST, start)
    long = sorted(round(b.least, 2) for b in layout.borders if b.length > 5000)
    short = {round(b.least, 2) for b in layout.borders if b.length < 5000}
    assert long == [300, 600]
    assert short == {350}
    assert "whole panels begin at the wall that the policy prefers" in layout.set_out_from


def test_what_the_plan_declares_goes_first():
    where = zone(shapely.box(0, 0, 6100, 4500))
    line = Start(lines=(HeldLine(name="axis B", point=(100.0, 0.0), angle_deg=90.0),))
    assert start_at_wall(line, where, LONGEST) is line
    across = Start(angles=(30.0,))
    assert start_at_wall(across, where, LONGEST) is across
    along = start_at_wall(Start(angles=(90.0,)), where, LONGEST)
    assert along.angles == (90.0,)
    assert len(along.lines) == 1


def test_a_policy_without_a_wall_changes_nothing():
    start = Start()
    assert start_at_wall(start, zone(shapely.box(0, 0, 6100, 4500)), read_policy("half-module")) is start


def test_a_wall_that_is_not_there_is_named():
    policy = replace(LONGEST, whole_at=read_control("wall K"))
    with pytest.raises(NoLayoutError, match="has no wall K"):
        start_at_wall(Start(), zone(shapely.box(0, 0, 6100, 4500)), policy)
