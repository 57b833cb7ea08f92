"""Layouts whose answers are known.

Sources: NAVEDTRA 14044 (US Navy, Builder) p. 5-16: opposite borders equal and as large as
possible; NAVEDTRA 14044 p. 7-23: the half-tile rule, border = (rest + module) / 2. Rooms
marked "common practice, no source" are trade examples whose numbers are recomputed here;
all others are derived by hand from the two rules and counted by shapely below.
"""

from fractions import Fraction

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from ifcgrid.design.layout import solve_layout
from ifcgrid.design.layout.coverage import measure_cells
from ifcgrid.design.layout.walls import read_edges
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem, Section
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

INCH = 25.4
HALF = read_policy("half-module")
LARGEST = Policy(
    id="largest-strip",
    title="greatest least strip first",
    source="this test",
    basis="derived",
    terms=(Term.SMALLEST_BORDER, Term.EQUAL_BORDERS, Term.CUT_PANELS, Term.MAINS),
)


def lattice(along: float, across: float, main_every: int = 1) -> GridSystem:
    section = Section(height=38.0, face=24.0, thickness=0.3)
    return GridSystem(
        id="test",
        title="test",
        basis="test",
        along=along,
        across=across,
        main_every=main_every,
        panel_thickness=15.0,
        main=section,
        tee=section,
        angle=section,
        hanger_diameter=4.0,
        hanger_spacing=1200.0,
        hanger_end=450.0,
        main_stock=3600.0,
        angle_stock=3000.0,
    )


def inches(*points: tuple[float, float]) -> Polygon:
    return Polygon([(x * INCH, y * INCH) for x, y in points])


def count(outline: Polygon, layout: Layout) -> tuple[int, int]:
    """Full and cut panels, clipped cell by cell."""
    i, j = np.meshgrid(np.arange(layout.columns), np.arange(layout.rows))
    cells = shapely.box(
        i * layout.along, j * layout.across, (i + 1) * layout.along, (j + 1) * layout.across
    ).ravel()
    area = shapely.area(shapely.intersection(layout.frame.shape_to_local(outline), cells))
    full = area >= layout.along * layout.across - 1.0
    return int(full.sum()), int(((area >= 100.0) & ~full).sum())


def strips(layout: Layout, axis: str) -> list[float]:
    return [b.least for b in layout.borders if b.axis == axis and b.ring == 0]


def lines(layout: Layout, number: str, count: int) -> list[float]:
    module = layout.along if number == "u" else layout.across
    origin = layout.frame.x if number == "u" else layout.frame.y
    return [origin + k * module for k in range(1, count)]


# run, module, full panels, border, axis of the room on a joint or on a tile; inches
RUNS = {
    "P1": ("116", 12, 8, "10", "joint"),  # common practice, no source
    "P2": ("126", 12, 9, "9", "tile"),
    "P3": ("148", 12, 11, "8", "tile"),  # common practice, no source
    "P4": ("186", 24, 6, "21", "joint"),
    "P5": ("327", 24, 12, "39/2", "joint"),
    "P6, N1": ("204", 24, 7, "18", "tile"),  # and not 7 full with 9 in, which adds to 186
    "R163": ("163", 24, 5, "43/2", "tile"),
    "R124": ("124", 24, 4, "14", "joint"),
    "R163x": ("163", 48, 2, "67/2", "joint"),
    "R124x": ("124", 48, 1, "38", "tile"),
    "C3": ("42", 24, 0, "21", "joint"),
    "28 ft 9 in": ("345", 24, 13, "33/2", "tile"),  # common practice, no source
    "68 ft 8 in": ("824", 24, 33, "16", "tile"),  # common practice, no source
    # in mm / 25.4
    "M1": ("20000/127", Fraction(1200) / Fraction("25.4"), 2, "4000/127", "joint"),
}

METRIC_RUNS = {
    "M1": (4000, 1200, 2, 800, "joint"),
    "M2": (5000, 600, 7, 400, "tile"),
    "M3": (5200, 600, 7, 500, "tile"),
    "M4": (3800, 600, 5, 400, "tile"),
    "M5": (6150, 600, 9, 375, "tile"),
    "M6": (7310, 600, 11, 355, "tile"),
    "M7": (1500, 600, 1, 450, "tile"),
    "M9": (6001, 600, 9, 300.5, "tile"),
    "M10": (6010, 600, 9, 305, "tile"),
    "M10, measured again": (5991, 600, 8, 595.5, "joint"),
}


def check_run(length: float, module: float, full: int, border: float, axis: str) -> None:
    # Three exact modules the other way, so that cells in a row are full or cut by the run alone.
    outline = box(0, 0, length, 3 * module)
    layout = solve_layout(outline, lattice(module, module), HALF, angles=[0.0])
    assert layout.certificate.method == "exact"
    assert strips(layout, "u") == pytest.approx([border, border], abs=1e-6)
    assert count(outline, layout) == (3 * full, 6)
    assert layout.columns == full + 2
    assert 2 * border + full * module == pytest.approx(length, abs=1e-6)
    middle = (length / 2 - layout.frame.x) / module
    assert middle % 1.0 == pytest.approx({"joint": 0.0, "tile": 0.5}[axis], abs=1e-6) or (
        axis == "joint" and middle % 1.0 == pytest.approx(1.0, abs=1e-6)
    )
    assert border == pytest.approx((length % module + module) / 2)  # P11: the half-tile rule


@pytest.mark.parametrize("name", RUNS)
def test_runs_in_inches_get_the_half_tile_borders(name):
    length, module, full, border, axis = RUNS[name]
    inch = Fraction("25.4")
    check_run(
        float(Fraction(length) * inch), float(module * inch), full, float(Fraction(border) * inch), axis
    )


@pytest.mark.parametrize("name", METRIC_RUNS)
def test_runs_in_millimetres_get_the_half_tile_borders(name):
    check_run(*METRIC_RUNS[name])


def test_c4_a_run_below_one_module_is_one_piece_without_a_line():
    outline = box(0, 0, 20 * INCH, 72 * INCH)
    layout = solve_layout(outline, lattice(24 * INCH, 24 * INCH), HALF, angles=[0.0])
    assert count(outline, layout) == (0, 3)
    assert strips(layout, "u") == pytest.approx([20 * INCH, 20 * INCH])
    assert layout.columns == 1
    assert layout.meets_minimum


def test_c5_an_exact_run_takes_no_cut_and_equal_borders_of_half_a_module_are_the_runner_up():
    outline = box(0, 0, 240 * INCH, 72 * INCH)
    layout = solve_layout(outline, lattice(24 * INCH, 24 * INCH), HALF, angles=[0.0])
    assert count(outline, layout) == (30, 0)
    forced = [
        c for c in layout.certificate.best if abs(c.origin[0] + 12 * INCH) < 0.1 and abs(c.origin[1]) < 0.1
    ]
    assert forced
    assert forced[0].lost_on == "smallest border"


def test_a_room_smaller_than_half_a_module_is_laid_out_and_says_so():
    layout = solve_layout(box(0, 0, 200, 3000), lattice(600, 600), HALF)
    assert not layout.meets_minimum
    assert "200 mm" in layout.reason


NAVY = box(0, 0, 163 * INCH, 124 * INCH)  # 13'-7" x 10'-4", size from NAVEDTRA 14044 p. 5-16


@pytest.mark.parametrize(
    ("system", "angle", "u", "v", "mains", "panels"),
    [
        ("lay-in-2x4-ft", 0.0, 21.5, 38.0, [38.0, 86.0], (5, 16)),
        ("lay-in-2x2-ft", 0.0, 21.5, 14.0, [38.0, 86.0], (20, 22)),
        ("lay-in-2x4-ft", 90.0, 14.0, 33.5, [33.5, 81.5, 129.5], (8, 16)),
        ("lay-in-2x2-ft", 90.0, 14.0, 21.5, None, (20, 22)),
    ],
    ids=["T-a", "T-b", "T-c", "T-d"],
)
def test_navy_room_in_four_ways(system, angle, u, v, mains, panels):
    layout = solve_layout(NAVY, read_system(system), HALF, angles=[angle])
    assert strips(layout, "u") == pytest.approx([u * INCH] * 2)
    assert strips(layout, "v") == pytest.approx([v * INCH] * 2)
    assert count(NAVY, layout) == panels
    placed = [j * layout.across for j in range(1, layout.rows) if j % layout.main_every == layout.main_phase]
    low = layout.frame.to_local(np.array(NAVY.exterior.coords))[:, 1].min()
    found = [(at - low) / INCH for at in placed]
    if mains is None:  # six lines, every second a main: 21.5 in to one wall, 45.5 in to the other
        assert found == pytest.approx([21.5, 69.5, 117.5]) or found == pytest.approx([45.5, 93.5, 141.5])
    else:
        assert found == pytest.approx(mains)
    length = {0.0: 163, 90.0: 124}[angle] * len(found) * INCH
    assert dict(layout.scores)["mains"] == pytest.approx(length)


def test_navy_room_runs_its_mains_the_long_way_with_the_least_length():
    layout = solve_layout(NAVY, read_system("lay-in-2x2-ft"), HALF)
    assert layout.frame.angle_deg == 0.0
    assert dict(layout.scores)["mains"] == pytest.approx(2 * 163 * INCH)


def test_p10_a_room_of_whole_panels_is_not_cut():
    outline = box(0, 0, 144 * INCH, 120 * INCH)
    layout = solve_layout(outline, read_system("lay-in-2x2-ft"), HALF)
    assert count(outline, layout) == (30, 0)


def test_p10a_long_panels_turn_the_way_that_needs_no_cut():
    outline = box(0, 0, 144 * INCH, 120 * INCH)
    layout = solve_layout(outline, read_system("lay-in-2x4-ft"), HALF)
    assert count(outline, layout) == (15, 0)
    assert layout.frame.angle_deg == 90.0  # mains along the 10 ft, at 48 and 96 in
    assert [j for j in range(1, layout.rows)] == [1, 2]


def test_p10b_n2_the_other_way_needs_eighteen_panels_and_mains_at_36_and_84():
    outline = box(0, 0, 144 * INCH, 120 * INCH)
    layout = solve_layout(outline, read_system("lay-in-2x4-ft"), HALF, angles=[0.0])
    assert count(outline, layout) == (6, 12)
    assert lines(layout, "v", layout.rows) == pytest.approx([36 * INCH, 84 * INCH])


def test_m8_n5_metric_room_has_borders_350_and_335_and_three_mains():
    outline = box(0, 0, 6100, 4270)
    layout = solve_layout(outline, read_system("lay-in-600x600"), HALF)
    assert strips(layout, "u") == pytest.approx([350, 350])
    assert strips(layout, "v") == pytest.approx([335, 335])
    assert (layout.columns, layout.rows) == (11, 8)
    assert count(outline, layout) == (54, 34)
    mains = [y for j, y in enumerate(lines(layout, "v", layout.rows), 1) if j % 2 == layout.main_phase]
    assert mains == pytest.approx([935, 2135, 3335])
    narrow = [c for c in layout.certificate.best if c.lost_on == "border minimum"]
    assert narrow  # borders of 50 and 35 mm are told about, and lose on the minimum


L1 = inches((0, 0), (240, 0), (240, 120), (144, 120), (144, 192), (0, 192))
L2 = inches((0, 0), (250, 0), (250, 126), (146, 126), (146, 200), (0, 200))


def test_l1_an_l_room_of_whole_panels_is_not_cut():
    layout = solve_layout(L1, read_system("lay-in-2x2-ft"), HALF)
    assert count(L1, layout) == (68, 0)


def test_l2_no_strip_of_an_l_room_falls_below_half_a_module():
    layout = solve_layout(L2, read_system("lay-in-2x2-ft"), HALF)
    widths = strips(layout, "u") + strips(layout, "v")
    assert len(widths) == 6
    assert min(widths) >= 12 * INCH - 1e-6  # N6: balanced on the bounding box the notch has 9 in
    assert count(L2, layout) == (51, 36)


def test_l2a_balanced_on_its_bounding_box_an_l_room_has_nine_inches_at_the_notch():
    edges = read_edges(L2)
    coverage = measure_cells(
        edges.start, edges.end, (24 * INCH, 24 * INCH), np.array([[17 * INCH, 16 * INCH]])
    )
    assert (int(coverage.full[0]), int(coverage.cut[0])) == (51, 36)
    assert (146 - 17) % 24 == 9


def test_l2c_the_greatest_least_strips_of_the_l_room_are_13_and_15_inches():
    layout = solve_layout(L2, read_system("lay-in-2x2-ft"), LARGEST, angles=[0.0])
    assert min(strips(layout, "u")) == pytest.approx(13 * INCH)
    assert sorted(strips(layout, "v")) == pytest.approx([15 * INCH, 15 * INCH, 17 * INCH])
    assert count(L2, layout) == (51, 36)
    assert layout.frame.x + layout.along == pytest.approx(13 * INCH)


TP1 = Polygon(
    [(0, 0), (6150, 0), (6150, 2500), (4025, 2500), (4025, 4800), (2125, 4800), (2125, 2500), (0, 2500)]
)


def test_tp1_a_t_room_that_cannot_meet_half_a_module_gets_the_best_there_is_and_says_so():
    layout = solve_layout(TP1, read_system("lay-in-600x600"), HALF, angles=[0.0])
    assert min(strips(layout, "u")) == pytest.approx(212.5)  # TP1c
    assert (layout.frame.x + layout.along) % 600 == pytest.approx(212.5) or (
        layout.frame.x + layout.along
    ) % 600 == pytest.approx(537.5)
    assert sorted(set(np.round(strips(layout, "v"), 6))) == pytest.approx([300, 400])
    assert (layout.frame.y + layout.across) % 600 == pytest.approx(300)
    assert count(TP1, layout) == (35, 36)
    assert not layout.meets_minimum
    assert "213 mm" in layout.reason or "212" in layout.reason


def test_t1_a_tapering_wall_is_balanced_at_mid_depth():
    outline = inches((0, 0), (163, 0), (166, 124), (0, 124))
    layout = solve_layout(outline, read_system("lay-in-2x2-ft"), HALF, angles=[0.0])
    left = next(b for b in layout.borders if b.edge == 3)
    right = next(b for b in layout.borders if b.edge == 1)
    assert left.least == pytest.approx(22.25 * INCH, abs=0.02)
    assert (right.least, right.greatest) == pytest.approx((20.75 * INCH, 23.75 * INCH), abs=0.02)
    assert strips(layout, "v") == pytest.approx([14 * INCH, 14 * INCH], abs=0.02)
    assert count(outline, layout) == (20, 22)
    assert layout.certificate.method == "searched"


def test_o1_a_circle_has_a_joint_on_its_centre():
    circle = Point(7000, -2000).buffer(3000, quad_segs=90)
    layout = solve_layout(circle, read_system("lay-in-600x600"), HALF)
    assert count(circle, layout) == (60, 28)
    centre = layout.frame.to_local([[7000, -2000]])[0] / 600
    assert centre == pytest.approx(np.round(centre), abs=0.01)
    assert min(b.least for b in layout.borders) > 300  # test_given_layouts measures them
    assert layout.meets_minimum


def test_k1_a_centred_column_stands_on_the_joint_of_an_exact_room():
    outline = inches((0, 0), (240, 0), (240, 192), (0, 192)).difference(
        inches((111, 87), (129, 87), (129, 105), (111, 105))
    )
    layout = solve_layout(outline, read_system("lay-in-2x2-ft"), HALF)
    assert count(outline, layout) == (76, 4)
    assert [b.least for b in layout.borders if b.ring == 1] == pytest.approx([15 * INCH] * 4)


def test_n7_a_device_of_24_inches_does_not_count_as_on_module_in_a_grid_of_600():
    device = box(1000, 1000, 1609.6, 1609.6)
    layout = solve_layout(box(0, 0, 6000, 4800), read_system("lay-in-600x600"), HALF, fixtures=[device])
    assert dict(layout.scores)["fixtures on module"] == 2.0


def test_fixed_lay_in_devices_carry_the_grid_where_the_minimum_allows():
    device = box(1562, 1560, 2162, 2160)  # leaves 362 and 338 mm along, 360 and 310 mm across
    layout = solve_layout(box(0, 0, 6100, 4270), read_system("lay-in-600x600"), HALF, fixtures=[device])
    assert dict(layout.scores)["fixtures on module"] == 0.0
    u, v = np.min(layout.frame.to_local(np.array(device.exterior.coords)), axis=0)
    assert abs((u + 300) % 600 - 300) <= 5.0 + 1e-6
    assert abs((v + 300) % 600 - 300) <= 5.0 + 1e-6
    assert min(strips(layout, "u") + strips(layout, "v")) >= 300
