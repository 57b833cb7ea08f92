"""Known answers for rooms out of square, turned grids and sites that measure differently.

All are derived from the half-tile rule (NAVEDTRA 14044, US Navy, Builder, p. 7-23: border =
(rest + module) / 2) and from "equal and as large as possible" (p. 5-16), and recomputed here
by shapely, cell by cell.
"""

from fractions import Fraction

import numpy as np
import pytest
import shapely
from handmade_lattices import make_zone
from shapely import Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.layout import measure_layout, solve_layout
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.setting_out import find_start, solve_from
from ifcgrid.design.suspension import hang
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.plan import Settings
from ifcgrid.domain.setting_out import read_control
from ifcgrid.outputs.tapers import find_tapers
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

INCH = 25.4
HALF = read_policy("half-module")
TILES = read_system("lay-in-2x2-ft")
TRAPEZOID = Polygon([(x * INCH, y * INCH) for x, y in ((0, 0), (163, 0), (166, 124), (0, 124))])
HALL = box(0, 0, 240 * INCH, 192 * INCH)


def clip(outline: Polygon, layout: Layout) -> list[Polygon]:
    """The pieces of all cells, in the layout's axes."""
    local = layout.frame.shape_to_local(outline)
    low = np.floor(np.array(local.bounds[:2]) / 609.6).astype(int) - 1
    high = np.ceil(np.array(local.bounds[2:]) / 609.6).astype(int) + 1
    cells = [
        box(i * 609.6, j * 609.6, (i + 1) * 609.6, (j + 1) * 609.6)
        for i in range(low[0], high[0])
        for j in range(low[1], high[1])
    ]
    return [piece for piece in shapely.intersection(local, cells) if piece.area >= 100.0]


def counts(pieces: list[Polygon]) -> tuple[int, int]:
    full = sum(piece.area >= 609.6**2 - 1.0 for piece in pieces)
    return full, len(pieces) - full


def worst(pieces: list[Polygon]) -> float:
    """The least side of the bounding box of any cut piece, in inches."""
    cut = [p.bounds for p in pieces if p.area < 609.6**2 - 1.0]
    return min(min(b[2] - b[0], b[3] - b[1]) for b in cut) / INCH


def ceiling_of(outline: Polygon, layout: Layout) -> Ceiling:
    zone = make_zone(outline)
    members = place_members(zone, TILES, layout)
    return Ceiling(
        zone=zone,
        system=TILES,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=hang(zone, TILES, layout, members, ()).hangers,
    )


@pytest.mark.parametrize("wall", ["longest", "wall A", "wall C", "wall D", "north", "west"])
def test_t1_square_to_its_straight_walls_the_right_border_tapers_from_20_3_4_to_23_3_4(wall):
    start = find_start(make_zone(TRAPEZOID), Settings(control=read_control(wall)))
    layout = solve_from(TRAPEZOID, TILES, HALF, start)
    borders = {b.edge: b for b in layout.borders}
    assert borders[3].least == pytest.approx(22.25 * INCH, abs=0.02)
    assert (borders[1].least, borders[1].greatest) == pytest.approx((20.75 * INCH, 23.75 * INCH), abs=0.02)
    assert (borders[0].least, borders[2].least) == pytest.approx((14 * INCH, 14 * INCH), abs=0.02)
    assert counts(clip(TRAPEZOID, layout)) == (20, 22)
    assert layout.meets_minimum
    assert TRAPEZOID.area / (12 * INCH) ** 2 == pytest.approx(141.653, abs=5e-4)


def test_t1_square_to_the_skew_wall_it_is_the_other_walls_that_taper():
    start = find_start(make_zone(TRAPEZOID), Settings(control=read_control("wall B")))
    layout = solve_from(TRAPEZOID, TILES, HALF, start)
    skew = np.degrees(np.arctan2(124, 3)) - 90.0
    assert layout.frame.angle_deg % 90.0 == pytest.approx(skew % 90.0, abs=1e-6)
    taper = {b.edge: b.greatest - b.least for b in layout.borders}
    assert taper[1] == pytest.approx(0.0, abs=0.02)
    assert min(taper[0], taper[2], taper[3]) > 50.0


def test_t1_every_length_along_the_tapering_wall_is_listed():
    layout = solve_layout(TRAPEZOID, TILES, HALF, angles=[0.0])
    (taper,) = find_tapers(ceiling_of(TRAPEZOID, layout))
    assert taper.border.edge == 1
    # Width of the border at height y: 20 3/4 in and 3 in more over 124 in.
    lines = [Fraction(14 + 24 * k) for k in range(5)]
    width = [Fraction(83, 4) + 3 * y / 124 for y in [Fraction(0), *lines, Fraction(124)]]
    sides = [taper.panels[0].first, *(panel.second for panel in taper.panels)]
    assert sides == pytest.approx([float(w * Fraction("25.4")) for w in width], abs=0.02)
    assert [p.second for p in taper.panels[:-1]] == [p.first for p in taper.panels[1:]]
    tees = [tee.length for tee in taper.tees if tee.role == "second tee"]
    mains = [tee.length for tee in taper.tees if tee.role == "main runner"]
    assert sorted(tees + [m - (22.25 + 5 * 24) * INCH for m in mains]) == pytest.approx(
        [float(w * Fraction("25.4")) for w in width[1:-1]], abs=0.02
    )
    assert len(mains) == 2


@pytest.mark.parametrize(("shift", "answer"), [(0.0, (58, 52)), (0.5, (59, 48))], ids=["G1a", "G1b"])
def test_g1_at_45_degrees_a_joint_or_a_tile_on_the_centre(shift, answer):
    centre = Frame(x=120 * INCH, y=96 * INCH, angle_deg=45.0)
    x, y = centre.to_world([[shift * 609.6, shift * 609.6]])[0].tolist()
    layout = measure_layout(HALL, TILES, HALF, Frame(x=x, y=y, angle_deg=45.0), 0)
    pieces = clip(HALL, layout)
    assert counts(pieces) == answer
    assert worst(pieces) == pytest.approx(1.71, abs=5e-3)
    panels = cut_panels(make_zone(HALL), layout)
    assert (int(panels.is_full.sum()), len(panels) - int(panels.is_full.sum())) == answer


def test_g1_turned_45_degrees_opposite_walls_are_cut_alike_and_as_few_panels_as_in_g1a_or_g1b():
    layout = solve_from(HALL, TILES, HALF, find_start(make_zone(HALL), Settings(turn=45.0)))
    assert layout.frame.angle_deg % 90.0 == pytest.approx(45.0)
    centre = layout.frame.to_local([[120 * INCH, 96 * INCH]])[0] / 609.6 % 0.5
    assert np.minimum(centre, 0.5 - centre) == pytest.approx([0.0, 0.0], abs=1e-6)
    pieces = clip(HALL, layout)
    middle = layout.frame.to_local([[120 * INCH, 96 * INCH]])[0]
    places = np.array([p.centroid.coords[0] for p in pieces]) - middle
    tree = shapely.STRtree(shapely.points(places))
    _, away = tree.query_nearest(shapely.points(-places), return_distance=True)
    assert away.max() < 1e-3  # each piece has its like on the other side of the middle
    assert dict(layout.scores)["cut panels"] == counts(pieces)[1]


@pytest.mark.parametrize(
    ("length", "border", "axis"), [(6010, 305.0, "panel"), (5991, 595.5, "joint")], ids=["drawn", "measured"]
)
def test_m10_a_room_measured_19_mm_shorter_changes_the_count_and_moves_the_axis(length, border, axis):
    layout = solve_layout(box(0, 0, length, 4200), read_system("lay-in-600x600"), HALF, angles=[0.0])
    assert [b.least for b in layout.borders if b.axis == "u"] == pytest.approx([border, border])
    middle = (length / 2 - layout.frame.x) / 600.0
    assert abs(middle - round(middle)) == pytest.approx({"panel": 0.5, "joint": 0.0}[axis], abs=1e-9)
    full = {6010: 9, 5991: 8}[length]
    assert length == pytest.approx(2 * border + 600 * full)


def test_planks_of_300_by_1200_in_half_bond_fill_a_room_of_whole_half_planks():
    """Derived: 6000 mm is five planks; every second row starts and ends with half a plank."""
    system = read_system("lay-in-300x1200-staggered")
    layout = solve_layout(box(0, 0, 6000, 4200), system, HALF, angles=[0.0])
    rows = cut_panels(make_zone(box(0, 0, 6000, 4200)), layout)
    per_row = [int((rows.row == row).sum()) for row in range(14)]
    assert sorted(per_row) == [5] * 7 + [6] * 7
    halves = rows.area[~rows.is_full]
    assert halves == pytest.approx([600.0 * 300.0] * 14)
