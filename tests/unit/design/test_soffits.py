"""Soffits with a grid of their own."""

import pytest
from handmade_lattices import make_room
from shapely import box

from ifcgrid.design.soffits import lay_soffits
from ifcgrid.design.zones import carve_rooms
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import Covering
from ifcgrid.systems import read_system

TILES = read_system("lay-in-600x600")
PLANKS = read_system("lay-in-300x1200")
ROOM = box(0, 0, 9000, 6000)


def strip(width: float, key: str = "S") -> Covering:
    return Covering(
        key=key, name="strip", outline=box(-50, 6000 - width, 9050, 6050), underside=2400, top=2450
    )


def test_a_soffit_becomes_a_zone_at_its_level_and_is_adopted():
    room = make_room(ROOM, soffits=(strip(1500),))
    (zone,) = lay_soffits(room, TILES)
    assert zone.key == "S-soffit"
    assert zone.level == 2400
    assert zone.outline.bounds == pytest.approx((0, 4500, 9000, 6000))
    (own,) = zone.rooms
    assert own.key == room.key
    assert own.covering is not None
    assert own.covering.key == "S"
    assert own.level == pytest.approx(2400)
    assert own.name.endswith("(soffit strip)")


def test_the_two_levels_share_the_room_without_gap_or_overlap():
    room = make_room(ROOM, soffits=(strip(1500),))
    (zone,) = lay_soffits(room, TILES)
    (upper,) = carve_rooms([room], [])
    assert upper.outline.area + zone.outline.area == pytest.approx(ROOM.area)
    assert upper.outline.intersection(zone.outline).area == pytest.approx(0.0)
    assert upper.outline.boundary.intersection(zone.outline.boundary).length >= 9000 - 1


@pytest.mark.parametrize(("width", "system", "count"), [(600, TILES, 1), (599, TILES, 0), (599, PLANKS, 1)])
def test_only_a_soffit_as_wide_as_a_panel_gets_a_grid(width, system, count):
    assert len(lay_soffits(make_room(ROOM, soffits=(strip(width),)), system)) == count


def test_columns_are_cut_out_of_a_soffit_too():
    column = Obstacle(
        key="C",
        name="C1",
        kind=Kind.COLUMN,
        source="",
        outline=box(4000, 5000, 4400, 5400),
        bottom=0,
        top=3500,
    )
    (zone,) = lay_soffits(make_room(ROOM, soffits=(strip(1500),)), TILES, [column])
    assert zone.outline.area == pytest.approx(9000 * 1500 - 400 * 400)


def test_soffits_come_by_key_and_those_outside_the_room_do_not_count():
    far = Covering(key="A", name="", outline=box(20_000, 0, 22_000, 2000), underside=2400, top=2450)
    room = make_room(ROOM, soffits=(strip(1500, "Z"), strip(2000, "B"), far))
    assert [zone.key for zone in lay_soffits(room, TILES)] == ["B-soffit", "Z-soffit"]
