from __future__ import annotations

import numpy as np
import pytest
from handmade_lattices import make_layout, make_room, make_zone
from shapely import Point, Polygon, affinity, box

from ifcgrid.design.panels import cut_panels
from ifcgrid.domain.ceiling import Opening


def test_a_wall_a_hair_off_its_line_makes_no_border() -> None:
    room = box(0, 0, 3000.008, 1799.992)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600))
    assert len(panels) == 15
    assert panels.is_full.all()


def test_a_cell_that_a_wall_parts_holds_two_pieces_with_their_own_keys() -> None:
    room = box(0, 0, 1200, 1200) - box(600, 200, 1300, 300)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600))
    assert panels.keys() == ["panel/0/0", "panel/0/1", "panel/1/0", "panel/1/0/1", "panel/1/1"]
    assert panels.bounds[2].tolist() == [600, 0, 1200, 200]
    assert panels.bounds[3].tolist() == [600, 300, 1200, 600]
    assert panels.outlines == {}


def test_a_room_narrower_than_a_cell_is_one_row_of_cut_panels() -> None:
    room = box(0, 150, 1800, 450)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600))
    assert panels.area.tolist() == [180_000.0] * 3
    assert not panels.is_full.any()


def test_scraps_below_one_square_centimetre_are_no_panels() -> None:
    room = Polygon([(0, 0), (609, 0), (600, 9), (600, 600), (0, 600)])
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600))
    assert len(panels) == 1  # the triangle beyond 600 has 40.5 mm²


def test_lay_in_openings_replace_their_panels_and_cut_openings_none() -> None:
    room = box(0, 0, 3000, 3000)
    lay_in = Opening(key="a", outline=box(600, 600, 1800, 1200), room=0, is_lay_in=True, cells=(1, 1, 2, 1))
    cut = Opening(key="b", outline=box(2000, 2000, 2100, 2100), room=0, is_lay_in=False)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600), [lay_in, cut])
    assert len(panels) == 23
    assert not {"panel/1/1", "panel/2/1"} & set(panels.keys())
    assert panels.area.sum() == room.area - lay_in.outline.area


def test_a_device_that_covers_a_cell_leaves_no_panel_in_it() -> None:
    # 24 in are 609.6 mm (international inch).
    room = box(0, 0, 3000, 3000)
    diffuser = Opening(key="a", outline=box(595.2, 1195.2, 1204.8, 1804.8), room=0, is_lay_in=False)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600), [diffuser])
    assert "panel/1/2" not in panels.keys()  # noqa: SIM118
    assert {"panel/0/2", "panel/2/2", "panel/1/1", "panel/1/3"} <= set(panels.keys())
    assert panels.area.sum() == room.area - 600 * 600


@pytest.mark.parametrize(
    ("outline", "is_left"),
    [
        (box(600, 1200, 1200, 1800 - 99 / 600), False),  # less than 1 cm²
        (box(600, 1200, 1200, 1800 - 101 / 600), True),
        (Point(900, 1500).buffer(424.3, quad_segs=64), False),  # a round one that reaches all four corners
        (Point(900, 1500).buffer(400.0), True),  # one that leaves four corners
    ],
)
def test_a_panel_of_which_more_than_a_scrap_is_left_stays(outline: Polygon, is_left: bool) -> None:
    room = box(0, 0, 3000, 3000)
    device = Opening(key="a", outline=outline, room=0, is_lay_in=False)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600), [device])
    assert ("panel/1/2" in panels.keys()) == is_left  # noqa: SIM118


def test_a_piece_belongs_to_the_room_with_the_greater_share() -> None:
    west, east = box(0, 0, 1000, 1200), box(1000, 0, 2400, 1200)
    zone = make_zone(west | east, make_room(west, "W"), make_room(east, "E"))
    panels = cut_panels(zone, make_layout(zone.outline, 600, 600, angle=0))
    assert dict(zip(panels.keys(), panels.room.tolist(), strict=True)) == {
        "panel/0/0": 0,
        "panel/0/1": 0,
        "panel/1/0": 0,  # 400 of 600 mm
        "panel/1/1": 0,
        "panel/2/0": 1,
        "panel/2/1": 1,
        "panel/3/0": 1,
        "panel/3/1": 1,
    }


def test_a_piece_in_a_gap_between_rooms_belongs_to_the_nearest() -> None:
    west, east = box(0, 0, 600, 600), box(1900, 0, 2400, 600)
    zone = make_zone(box(0, 0, 2400, 600), make_room(west, "W"), make_room(east, "E"))
    panels = cut_panels(zone, make_layout(zone.outline, 600, 600))
    assert panels.room.tolist() == [0, 0, 1, 1]


@pytest.mark.parametrize("angle", [0, 17, 31.7, 45, 77])
def test_equal_shares_go_to_the_first_room_at_any_angle(angle: float) -> None:
    both, west, east = (
        affinity.rotate(box(low, 0, high, 600), angle, origin=(0, 0))
        for low, high in ((0, 600), (0, 300.0002), (300.0002, 600))  # equal within the tolerance
    )
    for order in ((west, east), (east, west)):
        zone = make_zone(both, *(make_room(r, str(k)) for k, r in enumerate(order)))
        assert cut_panels(zone, make_layout(both, 600, 600, angle=angle)).room.tolist() == [0]


def test_a_layout_far_from_the_origin_loses_no_panel() -> None:
    # National grid coordinates in millimetres.
    room = box(4.5e8, 5.4e9, 4.5e8 + 6100, 5.4e9 + 4270)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600, node=(4.5e8 + 350, 5.4e9 + 335)))
    assert (len(panels), int(panels.is_full.sum())) == (88, 54)
    assert np.isclose(panels.area.sum(), room.area, rtol=1e-6)


@pytest.mark.parametrize("angle", [0, 90, 180, 270])
def test_borders_are_cut_on_the_side_where_the_wall_is(angle: float) -> None:
    room = box(0, 0, 1300, 1400)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600, node=(100, 200), angle=angle))
    widths = sorted({round(float(x), 6) for x in (panels.bounds[:, 2:] - panels.bounds[:, :2]).ravel()})
    assert widths == [100, 200, 600]
    assert panels.area.sum() == pytest.approx(room.area, rel=1e-12)
