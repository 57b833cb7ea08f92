"""Coverage against shapely, which clips every cell on its own."""

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity, box

from ifcgrid.design.layout.coverage import Coverage, measure_cells
from ifcgrid.design.layout.walls import read_edges

L_ROOM = Polygon([(0, 0), (6350, 0), (6350, 3200), (3700, 3200), (3700, 5080), (0, 5080)])
RING = box(0, 0, 6000, 4800).difference(box(2800, 2200, 3257, 2657))
ROUND = shapely.Point(3000, 3000).buffer(3000, quad_segs=24)
KITE = Polygon([(0, 0), (5217, 611), (6100, 4303), (911, 3777)])
COMB = Polygon(
    [(0, 0), (5000, 0), (5000, 3000), (4100, 3000), (3900, 700), (2500, 700), (2100, 3000), (0, 2900)]
)
SHAPES = {"L": L_ROOM, "ring": RING, "round": ROUND, "kite": KITE, "comb": COMB}


def cover(outline: Polygon, module: tuple[float, float], offsets: list[tuple[float, float]]) -> Coverage:
    edges = read_edges(outline)
    marked = np.ones(len(edges), dtype=bool)
    return measure_cells(edges.start, edges.end, module, np.array(offsets, dtype=float), marked=marked)


def clip(outline: Polygon, coverage: Coverage, offset: tuple[float, float], k: int) -> np.ndarray:
    _, rows, columns = coverage.area.shape
    a, c = coverage.module
    x = offset[0] + (coverage.first[k, 0] + np.arange(columns)) * a
    y = offset[1] + (coverage.first[k, 1] + np.arange(rows)) * c
    x, y = np.meshgrid(x, y)
    return shapely.intersection(outline, shapely.box(x, y, x + a, y + c))


OFFSETS = [(0.0, 0.0), (137.0, 411.5), (599.99, 0.01), (300.0, 300.0)]


@pytest.mark.parametrize("module", [(600.0, 600.0), (300.0, 1200.0), (609.6, 1219.2)])
@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("angle", [0.0, 17.0])
def test_cell_areas_are_those_that_shapely_clips(name, module, angle):
    outline = affinity.rotate(SHAPES[name], angle, origin=(0, 0))
    coverage = cover(outline, module, OFFSETS)
    for k, offset in enumerate(OFFSETS):
        wanted = shapely.area(clip(outline, coverage, offset, k))
        # Walls within the length tolerance of a line belong to the cell on their room side.
        snapped = 0.01 * max(module) + 1e-3
        assert np.abs(coverage.area[k] - wanted).max() <= snapped
        assert coverage.area[k].sum() == pytest.approx(outline.area, rel=1e-12)


@pytest.mark.parametrize("name", SHAPES)
def test_cell_areas_are_exact_where_no_wall_is_within_the_tolerance_of_a_line(name):
    offset = (137.3, 411.7)
    coverage = cover(SHAPES[name], (600.0, 600.0), [offset])
    wanted = shapely.area(clip(SHAPES[name], coverage, offset, 0))
    assert np.abs(coverage.area[0] - wanted).max() <= 1e-9 * 600 * 600 + 0.01**2


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("offset", [(137.3, 411.7), (20.0, 590.0), (0.0, 0.0)])
def test_extents_are_the_bounding_boxes_of_the_pieces(name, offset):
    coverage = cover(SHAPES[name], (600.0, 600.0), [offset])
    clipped = clip(SHAPES[name], coverage, offset, 0)
    pieces = coverage.pieces
    measured = 0
    for row, column, extent in zip(pieces.row, pieces.column, pieces.extent, strict=True):
        if coverage.area[0, row, column] >= 100.0:
            least_x, least_y, most_x, most_y = clipped[row, column].bounds
            assert extent == pytest.approx((most_x - least_x, most_y - least_y), abs=0.02)
            measured += 1
    assert measured > 10


def test_a_cell_that_is_only_touched_at_a_node_on_the_curve_is_no_piece():
    # x² + y² = 3000² goes through the node (1800, 2400): the cell beyond it is touched there only.
    angles = np.sort(np.append(np.linspace(0, 2 * np.pi, 400, endpoint=False), np.arctan2(2400, 1800)))
    circle = Polygon(np.stack([3000 * np.cos(angles), 3000 * np.sin(angles)], axis=1))
    coverage = cover(circle, (600.0, 600.0), [(0.0, 0.0)])
    assert (int(coverage.full[0]), int(coverage.cut[0])) == (60, 28)


def test_a_wall_on_a_grid_line_leaves_full_panels_and_nothing_beyond():
    coverage = cover(box(0, 0, 6 * 609.6, 5 * 609.6), (609.6, 609.6), [(0.0, 0.0)])
    assert (int(coverage.full[0]), int(coverage.cut[0])) == (30, 0)


def test_many_offsets_at_once_give_the_same_as_one_by_one():
    offsets = [(float(x), float(y)) for x in range(0, 600, 97) for y in range(0, 600, 131)]
    together = cover(KITE, (600.0, 600.0), offsets)
    for k, offset in enumerate(offsets):
        alone = cover(KITE, (600.0, 600.0), [offset])
        assert alone.full[0] == together.full[k]
        assert alone.cut[0] == together.cut[k]
