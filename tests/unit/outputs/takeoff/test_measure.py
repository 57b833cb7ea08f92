"""Net quantities: what belongs to which room, corners, carried ends, length classes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade_lattices import make_room, make_zone
from shapely import Point, Polygon, box
from take_offs import a_ceiling

from ifcgrid.design.stock import carried_ends
from ifcgrid.domain.ceiling import Opening
from ifcgrid.domain.hanging import HangerKind, Trapezes
from ifcgrid.domain.quantity import Item
from ifcgrid.outputs.takeoff.measure import fixings_along, measure_ceiling, room_lines

L_ROOM = Polygon([(0, 0), (6100, 0), (6100, 3100), (3700, 3100), (3700, 4900), (0, 4900)])
COLUMN_ROOM = box(0, 0, 6100, 4270) - box(2000, 1500, 2457, 1957)


def total(ceiling, item, room=None):
    return sum(q.value for q in measure_ceiling(ceiling) if q.item is item and room in (None, q.room))


@pytest.mark.parametrize(
    ("outline", "inside", "outside"),
    [
        (box(0, 0, 6100, 4270), 4, 0),
        (L_ROOM, 5, 1),
        (COLUMN_ROOM, 4, 4),
        (Point(3000, 3000).buffer(2900, quad_segs=16), 0, 0),  # a curve has bends, no corners
    ],
)
def test_corners_inside_and_outside(outline, inside, outside):
    ceiling = a_ceiling(outline=outline)
    assert (total(ceiling, Item.INSIDE_CORNER), total(ceiling, Item.OUTSIDE_CORNER)) == (inside, outside)


@pytest.mark.parametrize("outline", [box(0, 0, 6100, 4270), L_ROOM, COLUMN_ROOM])
def test_tee_ends_in_runners_are_those_that_the_design_says_are_carried(outline):
    ceiling = a_ceiling(outline=outline)
    assert total(ceiling, Item.CONNECTION) == int(carried_ends(ceiling.members, ceiling.layout).sum())


def test_perimeter_and_areas_of_a_room_with_a_column():
    ceiling = a_ceiling(outline=COLUMN_ROOM)
    assert total(ceiling, Item.PERIMETER) == pytest.approx(COLUMN_ROOM.length)
    assert total(ceiling, Item.CEILING_AREA) == pytest.approx(COLUMN_ROOM.area / 1e6)
    assert total(ceiling, Item.PANEL_AREA) == pytest.approx(COLUMN_ROOM.area / 1e6)


def test_rooms_of_one_zone_share_its_quantities_without_a_rest():
    left, right = box(0, 0, 3000, 4270), box(3000, 0, 6100, 4270)
    ceiling = a_ceiling()
    rooms = (make_room(left, "left"), make_room(right, "right"))
    zone = replace(make_zone(box(0, 0, 6100, 4270), *rooms), key="left")
    room = np.array
    panels, members, hangers = ceiling.panels, ceiling.members, ceiling.hangers
    in_right = (panels.bounds[:, 0] + panels.bounds[:, 2]) / 2 + ceiling.layout.frame.x > 3000
    split = replace(
        ceiling,
        zone=zone,
        panels=replace(panels, room=in_right.astype(np.int32)),
        members=replace(members, room=room([k % 2 for k in range(len(members))])),
        hangers=replace(hangers, room=room([k % 2 for k in range(len(hangers))])),
    )
    items = (Item.PANEL, Item.CUT_PANEL, Item.MAIN_LENGTH, Item.HANGER, Item.CEILING_AREA)
    for item in items:
        assert total(split, item) == pytest.approx(total(ceiling, item)), item
    assert total(split, Item.PERIMETER) == pytest.approx(total(ceiling, Item.PERIMETER), abs=0.1)
    assert {line.key for line in room_lines([split])} == {"left", "right"}
    # The line between the two is no wall.
    assert total(split, Item.PERIMETER, "left") == pytest.approx(3000 * 2 + 4270, abs=0.1)
    assert total(split, Item.INSIDE_CORNER, "left") == 2


def test_a_soffit_with_its_own_grid_is_a_row_of_its_own():
    ceiling = a_ceiling()
    soffit = replace(ceiling, zone=replace(ceiling.zone, key="soffit"))
    assert [line.key for line in room_lines([ceiling, soffit])] == ["R1", "soffit"]
    assert {q.room for q in measure_ceiling(soffit)} == {"soffit"}


def test_openings_are_taken_from_the_panels_and_told():
    ceiling = a_ceiling()
    lamp = Opening(key="lamp", outline=box(600, 600, 1200, 1200), room=0, is_lay_in=True, cells=(1, 1, 1, 1))
    spot = Opening(key="spot", outline=box(1300, 700, 1400, 800), room=0, is_lay_in=False)
    ceiling = replace(ceiling, openings=(lamp, spot))
    assert total(ceiling, Item.LAY_IN_OPENING) == total(ceiling, Item.CUT_OPENING) == 1
    assert total(ceiling, Item.OPENING_AREA) == pytest.approx(0.36 + 0.01)


def test_hangers_are_told_by_length_and_those_without_structure_have_no_anchor():
    ceiling = a_ceiling()
    hangers = ceiling.hangers
    number = len(hangers)
    top = hangers.bottom + np.where(np.arange(number) == 0, np.nan, 400.0)
    top[1] = hangers.bottom[1] + 500.0
    ceiling = replace(ceiling, hangers=replace(hangers, top=top))
    found = {q.size: q.value for q in measure_ceiling(ceiling) if q.item is Item.HANGER}
    assert found == {(0.0, 0.0): 1, (250.0, 500.0): number - 2, (500.0, 750.0): 1}
    assert total(ceiling, Item.ANCHOR) == number - 1
    assert total(ceiling, Item.HANGER_LENGTH) == pytest.approx(400.0 * (number - 2) + 500.0)


def test_a_trapeze_has_two_anchors_and_the_hanger_under_it_none():
    ceiling = a_ceiling()
    hangers = ceiling.hangers
    kind = np.zeros(len(hangers), dtype=np.int32)
    kind[0] = HangerKind.TRAPEZE
    trapezes = Trapezes(
        hanger=np.array([0], dtype=np.int32),
        ends=np.zeros((1, 2, 2)),
        z=np.array([3000.0]),
        top=np.array([[3300.0, 3300.0]]),
        support=(("s", "s"),),
        spans=(("duct",),),
    )
    hung = replace(hangers, kind=kind, top=hangers.bottom + 300.0)
    ceiling = replace(ceiling, hangers=hung, trapezes=trapezes)
    assert total(ceiling, Item.TRAPEZE) == 1
    assert total(ceiling, Item.ANCHOR) == len(hangers) - 1 + 2


@pytest.mark.parametrize(("length", "number"), [(450.0, 2), (451.0, 3), (900.0, 3), (100.0, 2)])
def test_fixings_of_a_wall_angle(length, number):
    assert fixings_along(length, 450.0) == number
