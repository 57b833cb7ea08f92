"""Walls and columns in a ceiling's field: overlaid, cut out, or met by the trim."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_ceilings import build_ceiling, rectangle
from handmade_obstacles import LEVEL, only, room, rules, thing
from shapely import Point, Polygon, box

from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind

COLUMN = box(2700, 1500, 3100, 1900)


def carved(section: Polygon, outline: Polygon):
    """A ceiling over an outline whose room's section is larger."""
    ceiling = build_ceiling(outline, (600.0, 600.0))
    (only_room,) = ceiling.zone.rooms
    return replace(ceiling, zone=replace(ceiling.zone, rooms=(replace(only_room, section=section),)))


@pytest.mark.parametrize("kind", [Kind.COLUMN, Kind.WALL])
def test_what_stands_in_panels_fails_with_its_area_and_members(kind):
    finding = only(room(), thing(kind, COLUMN, 0, 3300, "post"))
    assert finding.rule == f"{kind}-in-ceiling"
    assert finding.verdict is Verdict.FAIL
    assert finding.value == pytest.approx(0.16)
    assert finding.unit == "m2"
    # The tee at x = 3000 and the second tee at y = 1800 run through it.
    assert len(finding.subjects) == 4


@pytest.mark.parametrize(
    ("top", "hits"), [(LEVEL, False), (LEVEL + 4, False), (LEVEL + 6, True), (1900, False)]
)
def test_a_wall_that_ends_at_the_ceiling_or_below_is_no_finding(top, hits):
    screen = thing(Kind.WALL, box(1000, 1500, 4000, 1600), 0, top, meshed=True)
    assert rules(room(), screen) == (["wall-in-ceiling"] if hits else [])


def test_walls_along_the_outline_are_expected():
    walls = [
        thing(Kind.WALL, box(-150, -150, 0, 4950), 0, 3300, "west"),
        thing(Kind.WALL, box(-150, -150, 6150, 0), 0, 3300, "south"),
        thing(Kind.WALL, box(5990, -150, 6150, 4950), 0, 3300, "east, with 10 mm of plaster in the room"),
    ]
    assert rules(room(), *walls) == []


@pytest.mark.parametrize(("depth", "hits"), [(29.0, False), (31.0, True)])
def test_a_wall_may_line_the_outline_by_its_finish(depth, hits):
    wall = thing(Kind.WALL, box(6000 - depth, -150, 6150, 4950), 0, 3300)
    assert ("wall-in-ceiling" in rules(room(), wall)) is hits


@pytest.mark.parametrize("kind", [Kind.COLUMN, Kind.WALL])
def test_what_the_rooms_outline_ignores_and_the_grid_avoids_is_told(kind):
    section = rectangle(6000, 4800)
    ceiling = carved(section, section.difference(COLUMN))
    finding = only(ceiling, thing(kind, COLUMN, 0, 3300, "post"))
    assert finding.rule == f"{kind}-in-room"
    assert finding.verdict is Verdict.FAIL
    assert finding.value == pytest.approx(0.16)
    assert "cut out of the grid" in finding.message
    assert COLUMN.contains(Point(finding.point[:2]))


def test_a_column_whose_hole_is_in_the_outline_already_is_no_finding():
    section = rectangle(6000, 4800).difference(COLUMN)
    assert rules(carved(section, section), thing(Kind.COLUMN, COLUMN, 0, 3300)) == []


def test_several_ignored_columns_of_a_room_are_one_cause():
    other = box(4500, 1500, 4900, 1900)
    section = rectangle(6000, 4800)
    ceiling = carved(section, section.difference(COLUMN).difference(other))
    posts = [thing(Kind.COLUMN, shape, 0, 3300, key) for shape, key in ((COLUMN, "a"), (other, "b"))]
    finding = only(ceiling, *posts)
    assert finding.subjects == ("a", "b")
    assert finding.value == pytest.approx(0.32)


def test_a_wall_on_the_seam_of_rooms_drawn_to_its_middle_is_no_finding():
    section = box(0, 0, 6000, 4800)
    ceiling = carved(section, box(0, 0, 5925, 4800))
    assert rules(ceiling, thing(Kind.WALL, box(5925, 0, 6075, 4800), 0, 3300)) == []


def test_a_partition_that_starts_at_a_wall_is_told():
    partition = box(3000, 0, 3100, 2500)
    section = rectangle(6000, 4800)
    finding = only(carved(section, section.difference(partition)), thing(Kind.WALL, partition, 0, 3300))
    assert finding.rule == "wall-in-room"
    assert finding.value == pytest.approx(0.25)


def test_a_wall_as_one_ring_around_the_room_is_no_finding():
    ring = box(-200, -200, 6200, 5000).difference(box(0, 0, 6000, 4800))
    assert rules(room(), thing(Kind.WALL, ring, 0, 3300)) == []
