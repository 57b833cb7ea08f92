"""Known layouts that are not the best: measured at the place that is given.

All derived by hand from the offsets; every number is recomputed here by clipping each cell
with shapely, and pieces by turning them. The rule that opposite borders be equal is
NAVEDTRA 14044 (US Navy, Builder) p. 5-16.
"""

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from ifcgrid.design.layout import measure_layout, solve_layout
from ifcgrid.design.layout.piece_width import measure_widths
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

INCH = 25.4
HALF = read_policy("half-module")


def inches(*points: tuple[float, float]) -> Polygon:
    return Polygon([(x * INCH, y * INCH) for x, y in points])


def cells_of(outline: Polygon, layout: Layout) -> np.ndarray:
    """What each cell holds of the room, in the layout's frame."""
    i, j = (n.ravel() for n in np.meshgrid(np.arange(layout.columns), np.arange(layout.rows)))
    a, c = layout.along, layout.across
    boxes = shapely.box(i * a, j * c, (i + 1) * a, (j + 1) * c)
    pieces = shapely.intersection(layout.frame.shape_to_local(outline), boxes)
    return pieces[shapely.area(pieces) >= 100.0]


def count(outline: Polygon, layout: Layout) -> tuple[int, int]:
    area = shapely.area(cells_of(outline, layout))
    full = area >= layout.along * layout.across - 1.0
    return int(full.sum()), int((~full).sum())


def worst_box(outline: Polygon, layout: Layout) -> float:
    """Least side of the bounding box, in grid axes, of any piece."""
    x0, y0, x1, y1 = shapely.bounds(cells_of(outline, layout)).T
    return float(np.minimum(x1 - x0, y1 - y0).min())


def strips(layout: Layout, axis: str) -> list[float]:
    return [b.least for b in layout.borders if b.axis == axis and b.ring == 0]


def held_at(outline: Polygon, system: str, x: float, y: float, main_phase: int = 0) -> Layout:
    layout = measure_layout(outline, read_system(system), HALF, Frame(x=x, y=y), main_phase)
    assert layout.certificate.method == "given"
    scores = dict(layout.scores)
    assert scores["cut panels"] == count(outline, layout)[1]
    return layout


L2 = inches((0, 0), (250, 0), (250, 126), (146, 126), (146, 200), (0, 200))


def test_l2b_an_l_room_balanced_on_its_leg_and_its_height():
    layout = held_at(L2, "lay-in-2x2-ft", 13 * INCH, 16 * INCH)
    assert count(L2, layout) == (51, 36)
    assert sorted(strips(layout, "u")) == pytest.approx([13 * INCH, 13 * INCH, 21 * INCH])
    assert sorted(strips(layout, "v")) == pytest.approx([14 * INCH, 16 * INCH, 16 * INCH])
    assert worst_box(L2, layout) == pytest.approx(13 * INCH)
    assert layout.meets_minimum


TP1 = Polygon(
    [(0, 0), (6150, 0), (6150, 2500), (4025, 2500), (4025, 4800), (2125, 4800), (2125, 2500), (0, 2500)]
)


@pytest.mark.parametrize(
    ("offset", "panels", "bar", "stem"),
    [(375, (39, 36), 375, 50), (75, (38, 38), 75, 350)],
    ids=["TP1a, tile on the axis", "TP1b, joint on the axis"],
)
def test_a_t_room_balanced_on_its_bar_or_on_its_stem_has_a_thin_strip_at_the_other(offset, panels, bar, stem):
    layout = held_at(TP1, "lay-in-600x600", offset, 300)
    assert count(TP1, layout) == panels
    ends = {b.least for b in layout.borders if b.axis == "u" and b.length == pytest.approx(2500)}
    sides = {b.least for b in layout.borders if b.axis == "u" and b.length == pytest.approx(2300)}
    assert list(ends) == pytest.approx([bar])
    assert list(sides) == pytest.approx([stem])
    assert not layout.meets_minimum
    best = solve_layout(TP1, read_system("lay-in-600x600"), HALF, angles=[0.0])
    assert dict(best.scores)["border minimum"] < dict(layout.scores)["border minimum"]


def narrowest_turned(piece: Polygon) -> float:
    """Least extent of a convex piece when it is turned a little at a time."""
    angle = np.radians(np.arange(0, 180, 0.05))
    reach = np.array(piece.exterior.coords) @ np.array([np.cos(angle), np.sin(angle)])
    return float(np.ptp(reach, axis=0).min())


@pytest.mark.parametrize(
    ("offset", "panels", "worst"),
    # Above the node (1200, 2400) the circle reaches sqrt(3000² - 1200²) - 2400 = 349.545 mm;
    # with a tile on the centre, beside the node (2100, 2100), sqrt(3000² - 2100²) - 2100 = 42.429 mm.
    [(0.0, (60, 28), 349.545), (300.0, (61, 40), 42.429)],
    ids=["O1a, joint on the centre", "O1b, tile on the centre"],
)
def test_a_circle_with_a_joint_or_a_tile_on_its_centre(offset, panels, worst):
    circle = Point(0, 0).buffer(3000, quad_segs=400)
    layout = held_at(circle, "lay-in-600x600", offset, offset)
    assert count(circle, layout) == panels
    assert worst_box(circle, layout) == pytest.approx(worst, abs=0.02)
    cells = cells_of(circle, layout)
    cut = cells[shapely.area(cells) < 360_000 - 1.0]
    # Pieces of a circle are convex: turned about, none is narrower than what is reported.
    assert min(b.least for b in layout.borders) == pytest.approx(min(map(narrowest_turned, cut)), abs=0.05)


def test_k1a_a_column_in_the_middle_of_a_panel_leaves_a_ring_of_three_inches():
    column = inches((111, 87), (129, 87), (129, 105), (111, 105))
    outline = inches((0, 0), (240, 0), (240, 192), (0, 192)).difference(column)
    layout = held_at(outline, "lay-in-2x2-ft", 12 * INCH, 12 * INCH)
    assert count(outline, layout) == (62, 37)
    assert strips(layout, "u") + strips(layout, "v") == pytest.approx([12 * INCH] * 4)
    assert [b.least for b in layout.borders if b.ring == 1] == pytest.approx([3 * INCH] * 4)
    (ring,) = [cell for cell in cells_of(outline, layout) if len(cell.interiors)]
    assert measure_widths([ring])[0] == pytest.approx(3 * INCH)
    assert np.ptp(np.array(ring.exterior.coords), axis=0) == pytest.approx([24 * INCH] * 2)


def test_m8a_the_other_lines_take_four_mains_and_are_as_symmetric():
    outline = box(0, 0, 6100, 4270)
    layout = held_at(outline, "lay-in-600x600", 350, 335, main_phase=0)
    mains = [j * 600 + layout.frame.y for j in range(1, layout.rows) if j % 2 == layout.main_phase]
    assert mains == pytest.approx([335, 1535, 2735, 3935])
    assert mains[0] - 0 == pytest.approx(4270 - mains[-1])
    assert dict(layout.scores)["mains"] == pytest.approx(4 * 6100)
    best = solve_layout(outline, read_system("lay-in-600x600"), HALF)
    assert dict(best.scores)["mains"] == pytest.approx(3 * 6100)
    assert count(outline, layout) == (54, 34)
