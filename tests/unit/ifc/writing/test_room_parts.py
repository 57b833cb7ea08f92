"""A zone's ceiling is divided among its rooms without rest and without overlap."""

import pytest
from ceilings import LEVEL, make_room
from shapely import Polygon, box, unary_union

from ifcgrid.domain.room import Zone
from ifcgrid.ifc.writing.room_parts import room_parts


def zone_of(outline, *outlines):
    rooms = tuple(make_room(str(i), o) for i, o in enumerate(outlines))
    return Zone(key="z", rooms=rooms, outline=outline, level=LEVEL)


def test_a_zone_of_one_room_is_its_outline_as_it_is():
    outline = box(0, 0, 100, 100)
    assert room_parts(zone_of(outline, box(0, 0, 120, 100))) == [[outline]]


def test_a_gap_between_rooms_goes_to_one_of_them():
    parts = room_parts(zone_of(box(0, 0, 2005, 1000), box(0, 0, 1000, 1000), box(1005, 0, 2005, 1000)))
    areas = [sum(p.area for p in part) for part in parts]
    assert areas == pytest.approx([1_005_000, 1_000_000])


def test_rooms_that_overlap_share_no_area_twice_and_a_hole_stays():
    outline = Polygon(box(0, 0, 3000, 1000).exterior, [box(1400, 400, 1600, 600).exterior])
    parts = room_parts(zone_of(outline, box(0, 0, 1510, 1000), box(1490, 0, 3000, 1000)))
    pieces = [p for part in parts for p in part]
    assert sum(p.area for p in pieces) == pytest.approx(outline.area)
    assert unary_union(pieces).symmetric_difference(outline).area == pytest.approx(0.0, abs=1e-6)


def test_a_room_in_two_pieces_gets_both():
    outline = box(0, 0, 3000, 1000)
    cross = box(1000, 0, 2000, 1000)
    rest = outline.difference(cross)
    parts = room_parts(
        Zone(
            key="z",
            rooms=(make_room("a", cross), make_room("b", rest)),
            outline=outline,
            level=LEVEL,
        )
    )
    assert [len(part) for part in parts] == [1, 2]
