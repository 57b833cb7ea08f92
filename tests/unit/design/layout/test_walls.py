"""Edges, curves and chords of outlines, and the directions that walls ask for."""

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, affinity, box

from ifcgrid.design.layout.directions import find_directions
from ifcgrid.design.layout.walls import find_chords, read_edges


def test_edges_have_the_room_on_their_left_whatever_the_order_of_the_points():
    room = Polygon(
        [(0, 0), (0, 4000), (5000, 4000), (5000, 0)],
        [[(1000, 1000), (1000, 2000), (2000, 2000), (2000, 1000)][::step] for step in (1,)],
    )
    for shape in (room, Polygon(room.exterior.coords[::-1], [room.interiors[0].coords[::-1]])):
        edges = read_edges(shape)
        run = edges.end - edges.start
        middle = (edges.start + edges.end) / 2 + np.stack([-run[:, 1], run[:, 0]], axis=1) * 1e-3
        assert all(shape.contains(Point(p)) for p in middle)


def test_an_arc_is_a_curve_and_the_straight_walls_beside_it_are_not():
    hall = box(0, 0, 9000, 6000).union(Point(9000, 3000).buffer(3000, quad_segs=16)).simplify(0)
    edges = read_edges(hall)
    assert np.count_nonzero(edges.is_curve) == 32
    assert edges.length[~edges.is_curve].min() > 5000


def test_a_wall_built_crooked_in_three_parts_is_no_curve():
    room = Polygon([(0, 0), (2000, 4), (4000, 4), (6000, 0), (6000, 4000), (0, 4000)])
    assert not read_edges(room).is_curve.any()


@pytest.mark.parametrize("axis", [0, 1])
def test_chords_fill_the_room_and_end_on_its_walls(axis):
    room = Polygon(
        [(0, 0), (5200, 700), (4100, 4300), (900, 3800)], [box(2000, 1800, 2600, 2500).exterior.coords]
    )
    edges = read_edges(room)
    chords = find_chords(edges.start, edges.end, axis)
    assert (chords.width.mean(axis=1) * chords.height).sum() == pytest.approx(room.area)
    for low, high, left, right in zip(
        chords.low, chords.high, chords.left_s.mean(axis=1), chords.right_s.mean(axis=1), strict=True
    ):
        ends = np.array([[left, (low + high) / 2], [right, (low + high) / 2]])
        line = LineString(ends if axis == 0 else ends[:, ::-1])
        assert line.difference(room.buffer(1e-6)).length == pytest.approx(0)
        assert all(room.boundary.distance(Point(p)) < 1e-6 for p in line.coords)


@pytest.mark.parametrize("angle", [0.0, 0.005, 17.0, 45.0, 89.999, 90.0, 133.7, 359.9999])
def test_a_rectangle_has_one_direction(angle):
    room = affinity.rotate(box(0, 0, 8000, 5000), angle, origin=(1e6, -2e6))
    (found,) = find_directions(read_edges(room))
    assert (found - angle + 45.0) % 90.0 - 45.0 == pytest.approx(0.0, abs=1e-7)
    assert 0.0 <= found < 90.0


def test_walls_that_waver_below_the_tolerance_make_one_direction_that_is_their_mean():
    # 8 m walls off by 0.4 mm in opposite senses: 0.003 degrees each.
    room = Polygon([(0, 0), (8000, 0.4), (8000, 5000), (0, 5000.4)])
    (found,) = find_directions(read_edges(room))
    assert found == pytest.approx(0.0, abs=1e-6) or found == pytest.approx(90.0, abs=1e-6)


def test_directions_that_are_all_but_as_long_are_all_tried():
    triangle = Polygon([(0, 0), (6000, 0), (3000, 6000 * 3**0.5 / 2)])
    assert find_directions(read_edges(triangle)) == pytest.approx((0.0, 30.0, 60.0))


def test_a_round_room_follows_the_axes_of_the_model():
    assert find_directions(read_edges(Point(0, 0).buffer(3000, quad_segs=33))) == (0.0,)
