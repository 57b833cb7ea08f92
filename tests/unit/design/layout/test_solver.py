"""What `solve_layout` makes of odd rooms, oblique and curved walls, devices and bad input."""

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, affinity, box

from ifcgrid.design.layout import solve_layout
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

HALF = read_policy("half-module")
SQUARE = read_system("lay-in-600x600")
ROOM = box(0, 0, 6100, 4270)


def widths(layout: Layout, axis: str, ring: int = 0) -> list[float]:
    return [b.least for b in layout.borders if b.axis == axis and b.ring == ring]


def test_a_turned_wing_is_followed_to_a_hundredth_of_a_degree():
    wing = affinity.rotate(box(0, 0, 9330, 5170), 17.003, origin=(40_000, -7_000))
    layout = solve_layout(wing, SQUARE, HALF)
    assert layout.frame.angle_deg % 90.0 == pytest.approx(17.003, abs=1e-6)
    assert layout.certificate.method == "exact"


def test_a_short_oblique_wall_does_not_turn_the_grid():
    chamfered = Polygon([(0, 0), (6100, 0), (6100, 3770), (5600, 4270), (0, 4270)])
    layout = solve_layout(chamfered, SQUARE, HALF)
    assert layout.frame.angle_deg == 0.0
    assert widths(layout, "u") == pytest.approx([350, 350])
    assert widths(layout, "v") == pytest.approx([335, 335])
    assert not layout.meets_minimum
    assert "pieces at wall C go down to" in layout.reason


def test_the_many_edges_of_a_round_end_do_not_turn_the_grid():
    hall = box(0, 0, 5000, 6000).union(Point(5000, 3000).buffer(3000, quad_segs=64))
    turned = affinity.rotate(hall, 30, origin=(0, 0))
    assert solve_layout(turned, SQUARE, HALF).frame.angle_deg % 90.0 == pytest.approx(30.0, abs=1e-6)


def test_straight_walls_of_a_round_ended_hall_are_not_cut_for_the_sake_of_the_curve():
    hall = box(0, 0, 9000, 6000).union(Point(9000, 3000).buffer(3000, quad_segs=16))
    layout = solve_layout(hall, SQUARE, HALF)
    long_walls = [b.least for b in layout.borders if b.length == pytest.approx(9000)]
    assert long_walls == pytest.approx([600, 600])


def test_an_ellipse_is_followed_along_its_longer_axis():
    ellipse = affinity.rotate(affinity.scale(Point(0, 0).buffer(1, quad_segs=40), 6000, 3500), 30)
    assert solve_layout(ellipse, SQUARE, HALF).frame.angle_deg % 90.0 == pytest.approx(30.0, abs=0.1)


def test_a_pilaster_notches_a_panel_and_does_not_move_the_grid():
    room = box(0, 0, 9000, 6000)
    for x in (1500, 4300, 7100):
        room = room.difference(box(x, 0, x + 400, 200))
    layout = solve_layout(room, SQUARE, HALF)
    assert (layout.frame.x, layout.frame.y) == pytest.approx((0, 0))
    assert layout.meets_minimum


def test_a_slightly_crooked_wall_tapers_and_its_narrow_end_meets_the_minimum():
    crooked = Polygon([(0, 0), (6100, 0), (6100, 4290), (0, 4270)])
    layout = solve_layout(crooked, SQUARE, HALF)
    top = layout.borders[2]
    assert top.greatest - top.least == pytest.approx(20, abs=1e-6)
    assert top.least >= 300
    assert layout.meets_minimum


def test_borders_are_told_for_every_edge_of_every_ring_in_order():
    room = ROOM.difference(box(2000, 2000, 2400, 2400))
    layout = solve_layout(room, SQUARE, HALF)
    assert [(b.ring, b.edge) for b in layout.borders] == [(r, e) for r in (0, 1) for e in range(4)]
    for border in layout.borders:
        ring = room.exterior if border.ring == 0 else room.interiors[0]
        assert border.start == pytest.approx(ring.coords[border.edge])
        assert border.end == pytest.approx(ring.coords[border.edge + 1])


@pytest.mark.parametrize("turn", [False, True])
def test_the_way_round_of_the_rings_does_not_matter(turn):
    room = ROOM.difference(box(2000, 2000, 2400, 2400))
    turned = shapely.reverse(room) if turn else shapely.normalize(room)
    layout = solve_layout(turned, SQUARE, HALF)
    assert dict(layout.scores) == pytest.approx(dict(solve_layout(room, SQUARE, HALF).scores))
    assert sorted(widths(layout, "u", 1)) == pytest.approx(
        sorted(widths(solve_layout(room, SQUARE, HALF), "u", 1))
    )


def test_only_the_given_directions_of_the_mains_are_tried():
    layout = solve_layout(ROOM, SQUARE, HALF, angles=[90.0])
    assert layout.frame.angle_deg == 90.0
    assert {c.angle_deg for c in layout.certificate.best} == {90.0}
    assert solve_layout(ROOM, SQUARE, HALF, angles=[225.0]).frame.angle_deg == 45.0


def test_no_direction_at_all_is_refused():
    with pytest.raises(ValueError, match="angles is empty"):
        solve_layout(ROOM, SQUARE, HALF, angles=[])


def test_a_declared_direction_across_the_walls_is_searched_with_its_resolution():
    layout = solve_layout(ROOM, SQUARE, HALF, angles=[30.0])
    assert layout.certificate.method == "searched"
    assert 0 < layout.certificate.resolution < 1
    assert f"{layout.certificate.resolution:g} mm" in layout.certificate.statement


def test_a_certificate_tells_the_winner_first_and_where_the_others_lost():
    best = solve_layout(ROOM, SQUARE, HALF).certificate.best
    assert best[0].lost_on == ""
    assert {"border minimum", "equal borders", "mains"} <= {c.lost_on for c in best[1:]}
    for other in best[1:]:
        if other.lost_on != "order of offsets":
            scores, winning = dict(other.scores), dict(best[0].scores)
            assert scores[other.lost_on] > winning[other.lost_on]


def test_a_light_of_two_cells_is_not_crossed_by_a_main():
    # Rows from 335 mm on; the light fills rows 2 and 3, so the line between them is no main.
    light = box(350 + 1200, 335 + 600, 350 + 1800, 335 + 1800)
    layout = solve_layout(ROOM, SQUARE, HALF, fixtures=[light], angles=[0.0])
    assert dict(layout.scores)["fixtures on module"] == 0.0
    low = layout.frame.to_local(np.array(light.exterior.coords))[:, 1].min()
    first = round(low / 600)
    assert (first + 1) % 2 != layout.main_phase


def test_the_smallest_rooms_still_get_a_layout():
    layout = solve_layout(box(0, 0, 11, 10), SQUARE, HALF)
    assert (layout.columns, layout.rows) == (1, 1)
    assert not layout.meets_minimum


def test_terms_in_another_order_give_another_layout():
    waste_first = Policy(
        id="least-cut", title="", source="", basis="", terms=(Term.CUT_PANELS, Term.WASTE, Term.EQUAL_BORDERS)
    )
    layout = solve_layout(box(0, 0, 6010, 6000), SQUARE, waste_first)
    assert dict(layout.scores)["cut panels"] <= 10
    assert dict(solve_layout(box(0, 0, 6010, 6000), SQUARE, HALF).scores)["cut panels"] > 10


BAD = {
    "empty": (Polygon(), "empty"),
    "crossed": (Polygon([(0, 0), (1000, 1000), (1000, 0), (0, 1000)]), "no simple polygon"),
    "flat": (Polygon([(0, 0), (1000, 0), (1000, 0.05), (0, 0.05)]), "covers 50.0 mm²"),
    "no numbers": (Polygon([(0, 0), (1000, 0), (float("inf"), 1000)]), "no numbers"),
    "many": (shapely.MultiPolygon([box(0, 0, 1, 1)]), "empty"),
}


@pytest.mark.parametrize("name", BAD)
def test_an_outline_that_is_no_room_is_refused_by_the_key_of_its_zone(name):
    outline, words = BAD[name]
    with pytest.raises(NoLayoutError, match=words) as caught:
        solve_layout(outline, SQUARE, HALF, key="2O2Fr$t4X7Zf8NOew3FLKr")
    assert caught.value.key == "2O2Fr$t4X7Zf8NOew3FLKr"
    assert "2O2Fr$t4X7Zf8NOew3FLKr" in str(caught.value)
