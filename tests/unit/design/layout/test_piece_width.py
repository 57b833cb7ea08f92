"""The narrowest passage of a piece, against turning it and against eroding it."""

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, affinity, box

from ifcgrid.design.layout.piece_width import find_shape, measure_widths, widths_in_cells
from ifcgrid.design.layout.walls import read_edges

CELL = box(0, 0, 600, 600)


def width(piece: shapely.Geometry) -> float:
    return float(measure_widths([piece])[0])


def test_a_ring_around_a_column_is_as_narrow_as_what_is_left_of_the_cell():
    assert width(CELL.difference(box(75, 60, 525, 520))) == pytest.approx(60)


def test_a_sliver_is_measured_across_its_shortest_altitude():
    # Legs of 600 and 40 mm: altitude on the hypotenuse 600 * 40 / sqrt(600² + 40²).
    assert width(Polygon([(0, 0), (600, 0), (0, 40)])) == pytest.approx(24_000 / np.hypot(600, 40))


def test_the_arms_of_an_l_and_the_waist_of_a_neck_count():
    assert width(Polygon([(0, 0), (600, 0), (600, 50), (80, 50), (80, 600), (0, 600)])) == pytest.approx(50)
    neck = shapely.union_all([box(0, 0, 200, 300), box(200, 100, 400, 135), box(400, 0, 600, 300)])
    assert width(neck) == pytest.approx(35)


def test_a_jog_of_drawing_noise_is_no_passage():
    jogged = Polygon([(0, 0), (600, 0), (600, 402), (300, 402), (300, 400), (0, 400)])
    assert width(jogged) == pytest.approx(400, abs=3)


def test_of_two_parts_the_narrower_counts_and_scraps_do_not():
    parts = MultiPolygon([box(0, 0, 100, 100), box(200, 0, 240, 300)])
    assert width(parts) == pytest.approx(40)
    assert width(MultiPolygon([box(0, 0, 100, 100), box(200, 0, 205, 10)])) == pytest.approx(100)
    assert width(box(0, 0, 5, 10)) == 0.0
    assert width(Polygon()) == 0.0


def test_convex_pieces_are_nowhere_narrower_when_turned_about():
    rng = np.random.default_rng(3)
    for _ in range(30):
        piece = shapely.convex_hull(shapely.MultiPoint(rng.uniform(0, 600, (7, 2))))
        boxes = [affinity.rotate(piece, t, origin=(0, 0)).bounds for t in np.arange(0, 180, 0.5).tolist()]
        turned = min(x1 - x0 for x0, _, x1, _ in boxes)
        # Half a degree is 4 mm at most over the longest diagonal.
        assert turned - 4 <= width(piece) <= turned + 1e-6


def test_a_passage_is_where_eroding_parts_a_piece_first():
    rng = np.random.default_rng(5)
    for _ in range(12):
        at, gap, turn = rng.uniform(150, 450), rng.uniform(20, 120), rng.uniform(0, 90)
        dumb_bell = CELL.difference(box(at - 60, gap, at + 60, 700))
        piece = affinity.rotate(dumb_bell, turn)
        found = width(piece)
        assert isinstance(piece.buffer(-(found / 2 - 0.5)), Polygon)
        assert not isinstance(piece.buffer(-(found / 2 + 0.5), join_style="mitre"), Polygon)


def test_what_cells_hold_of_a_room_is_measured_in_them():
    room = box(0, 0, 1000, 1000).difference(box(300, 300, 700, 700))
    shape = find_shape(read_edges(room))
    assert shape.equals(room) or shape.symmetric_difference(room).area < 1e-6
    found = widths_in_cells(shape, np.array([[0.0, 0.0], [600.0, 600.0], [2000.0, 0.0]]), (600.0, 600.0))
    # The corner cell is an L with arms of 300 mm.
    assert found[:2] == pytest.approx([300, 300])
    assert found[2] == 0.0
