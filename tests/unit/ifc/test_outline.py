"""Cleaning of rings and closing of segments, in plain plan geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from handmade_models import rectangle
from handmade_spaces import RING
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, affinity

from ifcgrid.ifc.outline import clean, crossing_point, filled


def corners(polygon):
    """The outer corners as a set of points in whole hundredths of a mm."""
    return {(round(x, 2), round(y, 2)) for x, y in polygon.exterior.coords}


def ring_segments(*rings):
    return np.array([(a, b) for r in rings for a, b in zip(r, r[1:] + r[:1], strict=True)], dtype=float)


def test_a_clean_ring_is_left_as_it_is():
    assert corners(clean(Polygon(RING))) == set(RING)


def test_points_on_a_straight_wall_and_doubled_points_go():
    ring = [
        (0, 0),
        (1500, 0),
        (1500, 0),
        (3000, 0.004),
        (6000, 0),
        (6000, 0.002),
        (6000, 4000),
        (0, 4000),
        (0, 7),
    ]
    assert corners(clean(Polygon(ring))) == {(0, 0), (6000, 0), (6000, 4000), (0, 4000)}


def test_a_corner_cut_off_by_noise_is_restored():
    ring = [(0, 0), (5999.6, 0), (6000, 0.4), (6000, 4000), (0, 4000)]
    assert corners(clean(Polygon(ring))) == {(0, 0), (6000, 0), (6000, 4000), (0, 4000)}


def test_a_step_of_noise_bends_the_longer_wall():
    ring = [(0, 0), (1000, 0), (1000, 0.5), (6000, 0.5), (6000, 4000), (0, 4000)]
    cleaned = clean(Polygon(ring))
    assert len(cleaned.exterior.coords) - 1 == 5
    assert {(1000, 0), (6000, 0.5), (0, 0)} <= corners(cleaned)


def test_a_step_that_was_meant_stays():
    # 9.5 mm and 26 mm steps occur in real models.
    for step in (1.0, 9.5, 26.0):
        ring = [(0, 0), (3000, 0), (3000, step), (6000, step), (6000, 4000), (0, 4000)]
        assert corners(clean(Polygon(ring))) == {(float(x), float(y)) for x, y in ring}


def test_an_arc_keeps_its_points():
    arc = [(5000 * math.cos(a), 5000 * math.sin(a)) for a in np.linspace(0, math.pi, 80)]
    assert len(clean(Polygon(arc)).exterior.coords) - 1 == 80


def test_rings_are_turned_the_same_way_and_holes_kept():
    hole = rectangle(1000, 1000, 1400, 1400)
    cleaned = clean(Polygon(RING[::-1], [hole]))
    assert cleaned.exterior.is_ccw
    assert not cleaned.interiors[0].is_ccw
    assert cleaned.area == pytest.approx(Polygon(RING, [hole]).area)


def test_holes_and_rings_without_area_go():
    sliver = [(1000, 1000), (3000, 1000), (3000, 1000.0002)]
    assert len(clean(Polygon(RING, [sliver])).interiors) == 0
    assert clean(Polygon([(0, 0), (5000, 0), (5000, 0.0001)])).is_empty


def test_a_slit_of_noise_is_closed():
    ring = [(0, 0), (6000, 0), (6000, 4000), (3000.3, 4000), (3000.2, 1000), (3000, 4000), (0, 4000)]
    cleaned = clean(Polygon(ring))
    assert cleaned.is_valid
    assert cleaned.area == pytest.approx(24e6, rel=1e-4)


@given(
    x=st.lists(st.integers(1, 40), min_size=2, max_size=6),
    angle=st.floats(0, 360),
    start=st.integers(0, 30),
)
def test_no_real_corner_of_a_turned_comb_moves(x, angle, start):
    # A comb of teeth 0.1 to 4 m wide: every corner is one, wherever the ring begins.
    points, at = [(0.0, -1000.0)], 0.0
    for i, step in enumerate(x):
        points += [(at, 1000.0 * (i % 2)), (at + step * 100.0, 1000.0 * (i % 2))]
        at += step * 100.0
    points.append((at, -1000.0))
    turned = affinity.rotate(Polygon(points), angle, origin=(0, 0))
    ring = list(turned.exterior.coords)[:-1]
    k = start % len(ring)
    cleaned = clean(Polygon(ring[k:] + ring[:k]))
    assert cleaned.symmetric_difference(turned).area < 0.01 * turned.length
    assert all(min(math.dist(p, q) for q in ring) < 1e-9 for p in cleaned.exterior.coords)


def test_crossed_chains_are_found_where_they_cross():
    bow = [(0.0, 0.0), (4000.0, 3000.0), (4000.0, 0.0), (0.0, 3000.0)]
    assert crossing_point(ring_segments(bow)) == pytest.approx((2000.0, 1500.0))
    assert crossing_point(ring_segments(RING)) is None


def test_touching_chains_do_not_cross():
    # A wall that ends on another one, a hair beyond it.
    segments = np.concatenate([ring_segments(RING), [[(2000.0, -0.001), (2000.0, 4000.0)]]])
    assert crossing_point(segments) is None


def test_rings_in_rings_fill_by_turns():
    shape = filled(
        ring_segments(rectangle(0, 0, 900, 900), rectangle(100, 100, 800, 800), rectangle(200, 200, 700, 700))
    )
    assert shape.area == pytest.approx(900**2 - 700**2 + 500**2)


def test_a_wall_drawn_twice_parts_nothing():
    shape = filled(ring_segments(rectangle(0, 0, 500, 400), rectangle(500, 0, 900, 400)))
    assert shape.area == pytest.approx(900 * 400)
    assert shape.geom_type == "Polygon"


def test_a_loose_end_does_not_spoil_a_ring():
    segments = np.concatenate([ring_segments(RING), [[(6000.0, 0.0), (9000.0, 100.0)]]])
    assert filled(segments).area == pytest.approx(Polygon(RING).area)


def test_nothing_bounds_nothing():
    assert filled(np.empty((0, 2, 2))).is_empty
    assert filled(np.array([[(0.0, 0.0), (0.0, 0.0)]])).is_empty


@pytest.mark.parametrize("apart", [0.0, 0.007, 0.5])
@pytest.mark.parametrize(("dx", "dy"), [(1, 1), (-1, -1), (1, -1), (-1, 0)])
def test_a_hole_that_meets_a_corner_but_for_a_hair_stays_a_hole(apart, dx, dy):
    outer = [(0, 0), (5000, 0), (5000, 2000), (2000, 2000), (2000, 4000), (0, 4000)]
    x, y = 2000 + dx * apart, 2000 + dy * apart
    hole = [(x, y), (1000, y), (1000, 1000), (x, 1000)]
    room = clean(Polygon(outer, [hole]))
    assert len(room.interiors) == 1
    assert room.is_valid
    assert room.area == pytest.approx(Polygon(outer).area - 1e6, abs=4000 * apart + 1.0)
