from __future__ import annotations

import pytest
from handmade_lattices import make_layout, make_room, make_zone
from shapely import Point, Polygon, box

from ifcgrid.design.framing import CROWDED, place_members
from ifcgrid.domain.ceiling import Members, Opening, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")
WIDE = read_system("lay-in-600x1200")


def _layout(room: Polygon, node: tuple[float, float] = (0, 0)) -> Layout:
    return make_layout(room, 600, 600, node=node, main_every=2)


def _rows(members: Members, role: Role) -> list[tuple[str, list[float], list[float]]]:
    return [
        (key, start, end)
        for key, kind, start, end in zip(
            members.keys(),
            members.role.tolist(),
            members.start.round(6).tolist(),
            members.end.round(6).tolist(),
            strict=True,
        )
        if kind == role
    ]


def _lay_in(i: int, j: int, columns: int, rows: int) -> Opening:
    outline = box(i * 600, j * 600, (i + columns) * 600, (j + rows) * 600)
    return Opening(key="light", outline=outline, room=0, is_lay_in=True, cells=(i, j, columns, rows))


def _place(room: Polygon, *openings: Opening) -> Members:
    return place_members(make_zone(room), SYSTEM, _layout(room), openings)


def test_a_line_along_a_wall_is_a_member_only_where_the_room_is_on_both_sides() -> None:
    # The line v = 1200 runs along the notch of the L from u = 1800 on.
    room = Polygon([(0, 0), (3000, 0), (3000, 1200), (1800, 1200), (1800, 2400), (0, 2400)])
    assert _rows(_place(room), Role.MAIN_RUNNER) == [("main_runner/2/0", [0, 1200], [1800, 1200])]


def test_a_wall_a_hair_past_a_line_gets_no_main_along_it() -> None:
    room = box(-0.008, 0.008, 3000, 2400.008)
    assert [row[0] for row in _rows(_place(room), Role.MAIN_RUNNER)] == ["main_runner/2/0"]


def test_a_column_parts_a_main_into_runs() -> None:
    room = box(0, 0, 3600, 2400) - box(1500, 1100, 1900, 1300)
    assert _rows(_place(room), Role.MAIN_RUNNER) == [
        ("main_runner/2/0", [0, 1200], [1500, 1200]),
        ("main_runner/2/1", [1900, 1200], [3600, 1200]),
    ]


def test_a_column_that_touches_a_line_with_its_corner_does_not_cut_it() -> None:
    room = box(0, 0, 3600, 2400) - Polygon([(1500, 1200), (1700, 1400), (1500, 1600), (1300, 1400)])
    assert _rows(_place(room), Role.MAIN_RUNNER) == [("main_runner/2/0", [0, 1200], [3600, 1200])]


def test_a_corner_of_the_outline_that_only_reaches_a_line_makes_no_member() -> None:
    room = Polygon([(0, 0), (3600, 0), (3600, 1000), (1800, 1200), (0, 1000)])
    assert _rows(_place(room), Role.MAIN_RUNNER) == []


def test_pieces_of_a_tee_that_begin_in_one_step_have_different_keys() -> None:
    # A slim column stands on the tee line u = 600 within the first cell of a 600 x 1200 field.
    room = box(0, 0, 1200, 1200) - box(550, 400, 650, 500)
    members = place_members(make_zone(room), WIDE, make_layout(room, 600, 1200))
    assert _rows(members, Role.CROSS_TEE) == [
        ("cross_tee/1/0", [600, 0], [600, 400]),
        (f"cross_tee/1/{CROWDED}", [600, 500], [600, 1200]),
    ]


def test_a_light_of_two_cells_along_the_mains_takes_half_a_cross_tee_and_the_second_tee_runs_on() -> None:
    room = box(0, 0, 2400, 2400)
    members = _place(room, _lay_in(1, 0, 2, 1))
    assert ("cross_tee/2/1", [1200, 600], [1200, 1200]) in _rows(members, Role.CROSS_TEE)
    assert [row for row in _rows(members, Role.SECOND_TEE) if row[1][1] == 600] == [
        ("second_tee/1/0", [0, 600], [600, 600]),
        ("second_tee/1/1", [600, 600], [1800, 600]),  # it carries the cross tee that ends at the light
        ("second_tee/1/3", [1800, 600], [2400, 600]),
    ]


def test_a_light_of_two_by_two_cells_between_mains_is_free_of_tees() -> None:
    room = box(0, 0, 2400, 1200)
    members = _place(room, _lay_in(1, 0, 2, 2))
    assert [row[0] for row in _rows(members, Role.CROSS_TEE)] == ["cross_tee/1/0", "cross_tee/3/0"]
    assert [row[0] for row in _rows(members, Role.SECOND_TEE)] == ["second_tee/1/0", "second_tee/1/3"]


def test_a_light_across_a_main_does_not_cut_the_main() -> None:
    room = box(0, 0, 2400, 2400)
    members = _place(room, _lay_in(1, 1, 1, 2))
    assert _rows(members, Role.MAIN_RUNNER) == [("main_runner/2/0", [0, 1200], [2400, 1200])]


def test_wall_angles_keep_the_room_on_their_left_however_the_rings_are_drawn() -> None:
    column = box(900, 900, 1100, 1100)
    outer, hole = list(box(0, 0, 2400, 2400).exterior.coords), list(column.exterior.coords)
    for first in (outer, outer[::-1]):
        for second in (hole, hole[::-1]):
            room = Polygon(first, [second])
            rows = _rows(_place(room), Role.WALL_ANGLE)
            assert len(rows) == 8
            for _, (u, v), (p, q) in rows:
                length = ((p - u) ** 2 + (q - v) ** 2) ** 0.5
                left = Point((u + p) / 2 - (q - v) / length, (v + q) / 2 + (p - u) / length)
                assert room.contains(left)


def test_wall_angles_are_named_by_the_ring_and_edge_of_the_outline() -> None:
    room = Polygon([(0, 0), (0, 2000), (3000, 2000), (3000, 0)])  # drawn clockwise
    rows = _rows(_place(room), Role.WALL_ANGLE)
    assert rows[1] == ("wall_angle/0/1", [3000, 2000], [0, 2000])  # edge 1, from its end to its start


def test_members_are_shared_out_to_rooms_by_their_middle() -> None:
    west, east = box(0, 0, 1500, 2400), box(1500, 0, 3600, 2400)
    zone = make_zone(box(0, 0, 3600, 2400), make_room(west, "W"), make_room(east, "E"))
    members = place_members(zone, SYSTEM, _layout(zone.outline))
    by_key = dict(zip(members.keys(), members.room.tolist(), strict=True))
    assert by_key["main_runner/2/0"] == 1
    assert by_key["cross_tee/1/0"] == 0
    assert by_key["cross_tee/5/2"] == 1
    assert by_key["second_tee/1/2"] == 0  # its middle lies on the seam: the first room


def test_pieces_shorter_than_a_millimetre_are_not_made() -> None:
    room = box(0, 0, 600.5, 1200)
    assert _rows(_place(room), Role.SECOND_TEE) == [("second_tee/1/0", [0, 600], [600, 600])]


def test_main_spacing_counts_from_the_phase_also_below_zero() -> None:
    room = box(0, 0, 1200, 3600)
    for phase, wanted in ((0, [1200, 2400]), (1, [600, 1800, 3000]), (-1, [600, 1800, 3000])):
        layout = make_layout(room, 600, 600, main_every=2, main_phase=phase)
        members = place_members(make_zone(room), SYSTEM, layout)
        assert [row[1][1] for row in _rows(members, Role.MAIN_RUNNER)] == wanted


def test_a_layout_of_another_system_is_refused() -> None:
    room = box(0, 0, 2400, 2400)
    zone: Zone = make_zone(room)
    with pytest.raises(ValueError, match=r"R1.*lay-in-600x1200"):
        place_members(zone, WIDE, _layout(room))


def test_a_room_smaller_than_a_cell_has_wall_angle_only() -> None:
    members = _place(box(100, 100, 500, 500))
    assert members.role.tolist() == [Role.WALL_ANGLE] * 4
