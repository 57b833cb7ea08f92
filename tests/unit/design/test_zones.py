from __future__ import annotations

import math

import pytest
from handmade_lattices import LEVEL, make_room
from shapely import Polygon, affinity, box

from ifcgrid.design.zones import carve_rooms, group_zones
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import CeilingHeight, Covering, HeightSource, Room, Zone

HALL = box(0, 0, 6000, 4000)


def _solid(kind: Kind, outline: Polygon, key: str = "X", bottom: float = 0, top: float = 3500) -> Obstacle:
    return Obstacle(key=key, kind=kind, name=key, outline=outline, bottom=bottom, top=top)


def _wall(outline: Polygon, **more: float) -> Obstacle:
    return _solid(Kind.WALL, outline, "W", **more)


def _column(outline: Polygon, **more: float) -> Obstacle:
    return _solid(Kind.COLUMN, outline, "C", **more)


def _carve(*obstacles: Obstacle, room: Room | None = None) -> Room:
    (carved,) = carve_rooms([room or make_room(HALL)], obstacles)
    return carved


def _keys(zones: tuple[Zone, ...]) -> list[list[str]]:
    return [[room.key for room in zone.rooms] for zone in zones]


# --- carving -----------------------------------------------------------------------------


def test_a_free_column_becomes_a_hole_and_a_note() -> None:
    room = _carve(_column(box(3000, 2000, 3400, 2400)))
    assert room.outline.equals(HALL - box(3000, 2000, 3400, 2400))
    assert room.notes == ("column C cut out",)
    assert room.section is HALL or room.section == HALL


def test_a_column_in_the_wall_becomes_a_notch() -> None:
    room = _carve(_column(box(-200, 2000, 200, 2400)))
    assert room.outline.equals(HALL - box(0, 2000, 200, 2400))


def test_a_slit_behind_a_column_goes_with_it() -> None:
    room = _carve(_column(box(10, 2000, 410, 2400)))
    assert room.outline.equals(HALL - box(0, 2000, 410, 2400))
    assert len(room.outline.exterior.coords) == 9


@pytest.mark.parametrize("wall", [box(-200, -100, 6200, 0), box(-200, -100, 6200, 25), box(0, 0, 6000, 12.5)])
def test_walls_that_line_the_outline_leave_it_alone(wall: Polygon) -> None:
    room = make_room(HALL)
    assert _carve(_wall(wall), room=room) is room


def test_a_wall_that_reaches_in_moves_the_outline_to_its_face() -> None:
    # Spaces drawn to the middle of the walls.
    assert _carve(_wall(box(-100, -100, 6100, 60))).outline.equals(box(0, 60, 6000, 4000))


def test_a_thin_partition_that_ends_in_the_room_is_cut_out_whole() -> None:
    partition = box(2000, 2500, 2020, 4100)
    assert _carve(_wall(partition)).outline.equals(HALL - partition)


def test_a_room_parted_by_a_wall_keeps_its_larger_part_and_says_so() -> None:
    room = _carve(_wall(box(2000, -100, 2100, 4100)))
    assert room.outline.equals(box(2100, 0, 6000, 4000))
    assert room.notes == ("wall W cut out", "a separate part of 8.00 m² gets no ceiling")


@pytest.mark.parametrize(
    ("bottom", "top"),
    [(0, LEVEL), (0, 2000), (LEVEL, 3500), (LEVEL + 200, 3500)],
)
def test_what_does_not_go_through_the_ceiling_is_not_cut_out(bottom: float, top: float) -> None:
    room = make_room(HALL)
    assert _carve(_wall(box(2000, -100, 2100, 4100), bottom=bottom, top=top), room=room) is room


def test_a_soffit_along_a_wall_is_cut_out() -> None:
    soffit = Covering(key="S", name="strip", outline=box(-50, 3400, 6050, 4050), underside=2400, top=2450)
    room = _carve(room=make_room(HALL, soffits=(soffit,)))
    assert room.outline.equals(box(0, 0, 6000, 3400))
    assert room.notes == ("soffit strip cut out",)


def test_a_room_that_is_filled_stays_as_it_is() -> None:
    room = _carve(_column(box(-100, -100, 6100, 4100)))
    assert room.outline == HALL
    assert room.notes == ("columns, walls and soffits fill the room; none cut out",)


def test_other_kinds_are_not_cut_out() -> None:
    room = make_room(HALL)
    assert _carve(_solid(Kind.DUCT, box(1000, 1000, 2000, 2000)), room=room) is room


def test_carving_keeps_the_corners_of_a_turned_room_to_the_last_digit() -> None:
    hall = affinity.rotate(HALL, 17, origin=(0, 0))
    column = affinity.rotate(box(10, 2000, 410, 2400), 17, origin=(0, 0))
    room = _carve(_column(column), room=make_room(hall))
    before, after = set(hall.exterior.coords), set(room.outline.exterior.coords)
    assert before <= after
    assert len(after) == 8
    assert room.outline.area == pytest.approx(HALL.area - 410 * 400, abs=2)


def test_a_round_column_stays_round() -> None:
    circle = Polygon([(3000 + 200 * math.cos(k / 20), 2000 + 200 * math.sin(k / 20)) for k in range(125)])
    room = _carve(_column(circle))
    assert room.outline.interiors[0].is_valid
    assert len(room.outline.interiors[0].coords) == 126
    assert room.outline.area == pytest.approx(HALL.area - circle.area)


# --- zones -------------------------------------------------------------------------------

WEST, EAST = box(0, 0, 6000, 4000), box(6000, 0, 9000, 3000)


def _pair(gap: float = 0, **changes: object) -> list[Room]:
    east = affinity.translate(EAST, gap, 0)
    return [make_room(east, "B", **changes), make_room(WEST, "A", **changes)]


def test_a_room_alone_is_a_zone_with_its_own_outline() -> None:
    room = make_room(HALL)
    (zone,) = group_zones([room], [])
    assert zone.outline is room.outline
    assert (zone.key, zone.level, zone.rooms) == (room.key, LEVEL, (room,))


@pytest.mark.parametrize("gap", [0, 0.004, 3, -3, 5])
def test_rooms_that_touch_without_a_wall_are_one_zone(gap: float) -> None:
    (zone,) = group_zones(_pair(gap), [])
    assert _keys((zone,)) == [["A", "B"]]
    assert zone.key == "A"
    assert len(zone.outline.exterior.coords) == 7  # an L without points on its straight walls
    assert zone.outline.area == pytest.approx(WEST.area + 3000 * (3000 + gap), abs=10)
    assert zone.outline.bounds == (0, 0, 9000 + gap, 4000)


def test_a_wall_on_the_seam_parts_them() -> None:
    wall = _wall(box(5950, -100, 6050, 4100))
    assert _keys(group_zones(_pair(), [wall])) == [["A"], ["B"]]
    assert _keys(group_zones(carve_rooms(_pair(), [wall]), [wall])) == [["A"], ["B"]]
    beside = _wall(box(5900, -100, 6000, 4100))  # drawn on one side of the seam only
    assert _keys(group_zones(_pair(), [beside])) == [["A"], ["B"]]


@pytest.mark.parametrize("top", [2100, LEVEL])
def test_a_partition_up_to_the_ceiling_lets_the_grid_pass(top: float) -> None:
    assert _keys(group_zones(_pair(), [_wall(box(5950, -100, 6050, 4100), top=top)])) == [["A", "B"]]


def test_a_wall_that_leaves_a_wide_opening_is_cut_out_of_the_common_ceiling() -> None:
    wall = _wall(box(5980, -100, 6020, 1500))
    (zone,) = group_zones(carve_rooms(_pair(), [wall]), [wall])
    assert zone.outline.equals((WEST | EAST) - box(5980, 0, 6020, 1500))
    assert "wall W cut out" in zone.notes


def test_an_opening_of_less_than_300_mm_does_not_join_rooms() -> None:
    assert _keys(group_zones(_pair(), [_wall(box(5950, -100, 6050, 2750))])) == [["A"], ["B"]]
    corner = [make_room(WEST, "A"), make_room(box(6000, 3800, 9000, 7000), "B")]
    assert _keys(group_zones(corner, [])) == [["A"], ["B"]]


def test_rooms_at_different_levels_are_not_one_zone() -> None:
    low = CeilingHeight(value=LEVEL - 200, source=HeightSource.PLAN, candidates=())
    near = CeilingHeight(value=LEVEL - 4, source=HeightSource.PLAN, candidates=())
    assert _keys(group_zones([make_room(WEST, "A"), make_room(EAST, "B", height=low)], [])) == [["A"], ["B"]]
    (zone,) = group_zones([make_room(WEST, "B"), make_room(EAST, "A", height=near)], [])
    assert (zone.key, zone.level) == ("A", LEVEL)  # the level of the largest room


def test_small_steps_of_level_do_not_add_up() -> None:
    rooms = [
        make_room(
            box(k * 3000, 0, (k + 1) * 3000, 3000),
            f"R{k}",
            height=CeilingHeight(value=LEVEL + 4 * k, source=HeightSource.PLAN, candidates=()),
        )
        for k in range(4)
    ]
    assert _keys(group_zones(rooms, [])) == [["R0", "R1"], ["R2", "R3"]]


def _covering(outline: Polygon) -> Covering:
    return Covering(key="K", name="ceiling", outline=outline, underside=LEVEL, top=LEVEL + 50)


def test_a_gap_under_one_covering_belongs_to_the_common_ceiling() -> None:
    # The covering reaches 50 mm past the rooms; only what lies between them is joined.
    covering = _covering(box(-50, -50, 9250, 4050))
    (zone,) = group_zones(_pair(200, covering=covering), [])
    assert zone.outline.equals(
        Polygon([(0, 0), (9200, 0), (9200, 3000), (6000, 3000), (6000, 4000), (0, 4000)])
    )


@pytest.mark.parametrize("wall", [box(6000, -100, 6200, 4100), box(6050, -100, 6150, 4100)])
def test_a_wall_in_the_gap_parts_them(wall: Polygon) -> None:
    covering = _covering(box(-50, -50, 9250, 4050))
    assert _keys(group_zones(_pair(200, covering=covering), [_wall(wall)])) == [["A"], ["B"]]


def test_a_passage_of_less_than_300_mm_round_a_wall_does_not_join_them() -> None:
    covering = _covering(box(-50, -50, 9250, 4050))
    narrow, wide = _wall(box(6050, -100, 6150, 2800)), _wall(box(6050, -100, 6150, 2000))
    assert _keys(group_zones(_pair(200, covering=covering), [narrow])) == [["A"], ["B"]]
    (zone,) = group_zones(_pair(200, covering=covering), [wide])
    assert zone.outline.area == pytest.approx(WEST.area + 3200 * 3000 - 100 * 2000)


def test_a_column_in_the_gap_is_cut_out() -> None:
    covering = _covering(box(-50, -50, 9250, 4050))
    (zone,) = group_zones(_pair(200, covering=covering), [_column(box(6050, 1000, 6150, 1100))])
    assert [ring.bounds for ring in map(Polygon, zone.outline.interiors)] == [(6050, 1000, 6150, 1100)]


def test_another_room_in_the_gap_is_not_covered() -> None:
    covering = _covering(box(-50, -50, 9250, 4050))
    other = make_room(box(6000, 1000, 6200, 4000), "X", height=None)
    rooms = _pair(200, covering=covering)
    zones = group_zones([*rooms, make_room(other.outline, "X", floor=-1000.0)], [])
    assert _keys(zones) == [["A", "B"], ["X"]]
    assert zones[0].outline.intersection(other.outline).area < 1


def test_rooms_joined_by_a_virtual_boundary_may_be_drawn_apart() -> None:
    rooms = _pair(150)
    assert _keys(group_zones(rooms, [])) == [["A"], ["B"]]
    joined = [rooms[0], make_room(WEST, "A", open_to=("B", "not in the model"))]
    assert _keys(group_zones(joined, [])) == [["A", "B"]]
    assert _keys(group_zones(joined, [_wall(box(6000, -100, 6150, 4100))])) == [["A"], ["B"]]


def test_rooms_around_a_core_make_a_zone_with_a_hole() -> None:
    core = box(2000, 2000, 4000, 4000)
    rooms = [
        make_room(box(0, 0, 6000, 2000), "S"),
        make_room(box(0, 4000, 6000, 6000), "N"),
        make_room(box(0, 2000, 2000, 4000), "W"),
        make_room(box(4000, 2000, 6000, 4000), "E"),
    ]
    (zone,) = group_zones(rooms, [])
    assert zone.outline.equals(box(0, 0, 6000, 6000) - core)
    assert [len(ring.coords) for ring in (zone.outline.exterior, *zone.outline.interiors)] == [5, 5]


def test_the_order_of_rooms_and_obstacles_changes_nothing() -> None:
    rooms = [make_room(box(k * 3000, 0, (k + 1) * 3000, 3000), f"R{k}") for k in range(4)]
    walls = [
        _solid(Kind.WALL, box(2950, 0, 3050, 1000), "W1"),
        _solid(Kind.COLUMN, box(7000, 1000, 7400, 1400), "C1"),
        _solid(Kind.WALL, box(8950, -10, 9050, 3010), "W2"),
    ]
    one = group_zones(carve_rooms(rooms, walls), walls)
    two = group_zones(carve_rooms(rooms[::-1], walls[::-1]), walls[::-1])
    assert [(z.key, z.outline.wkb, z.notes) for z in one] == [(z.key, z.outline.wkb, z.notes) for z in two]
    assert _keys(one) == [["R0", "R1", "R2"], ["R3"]]


def test_turned_rooms_join_without_points_on_straight_walls() -> None:
    rooms = [
        make_room(affinity.rotate(box(k * 3000, 0, (k + 1) * 3000, 3000), 17, origin=(0, 0)), f"R{k}")
        for k in range(3)
    ]
    (zone,) = group_zones(rooms, [])
    assert len(zone.outline.exterior.coords) == 5
    assert zone.outline.area == pytest.approx(27e6)


def test_no_rooms_make_no_zones() -> None:
    assert group_zones([], []) == ()
