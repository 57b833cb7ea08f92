"""Rows shifted against each other: where they lie, what they cut, what carries them."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_lattices import make_zone
from shapely import Polygon, affinity, box

from ifcgrid.design.devices import fit_devices
from ifcgrid.design.framing import place_members
from ifcgrid.design.layout import measure_layout, solve_layout
from ifcgrid.design.panels import cut_panels
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout, find_row_offsets
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.system import GridSystem, system_from_table
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

HALF = read_policy("half-module")
HALVES = read_system("lay-in-300x1200-staggered")
THIRDS = replace(HALVES, row_shift=1 / 3)
QUARTERS = replace(HALVES, row_shift=0.25)
L_SHAPE = box(0, 0, 6100, 4270).difference(box(4000, 2500, 6100, 4270))
KITE = Polygon([(0, 0), (5000, 200), (4800, 3900), (2000, 4500), (-300, 3000)])
COLUMN = box(0, 0, 4270, 6100).difference(box(1000, 2000, 1400, 2400))
ROOMS = [box(0, 0, 6100, 4270), L_SHAPE, affinity.rotate(L_SHAPE, 31.0, origin=(0, 0)), KITE, COLUMN]


def count(outline: Polygon, layout: Layout) -> tuple[int, int]:
    """Full and cut panels, clipped cell by cell."""
    local = layout.frame.shape_to_local(outline)
    cells = []
    for j in range(-1, layout.rows + 1):
        shift = (j * layout.row_shift % 1.0) * layout.along
        for i in range(-2, layout.columns + 1):
            u = i * layout.along + shift
            cells.append(box(u, j * layout.across, u + layout.along, (j + 1) * layout.across))
    area = shapely.area(shapely.intersection(local, cells))
    full = area >= layout.along * layout.across - 1.0
    return int(full.sum()), int(((area >= 100.0) & ~full).sum())


@pytest.mark.parametrize("system", [HALVES, THIRDS, QUARTERS], ids=["halves", "thirds", "quarters"])
@pytest.mark.parametrize("outline", ROOMS)
def test_panels_fill_the_room_and_every_edge_inside_lies_on_a_member(outline, system):
    layout, zone = solve_layout(outline, system, HALF), make_zone(outline)
    panels, members = cut_panels(zone, layout), place_members(zone, system, layout)
    assert panels.area.sum() == pytest.approx(outline.area, abs=200.0)
    lines = shapely.union_all(
        [shapely.LineString(ends) for ends in zip(members.start, members.end, strict=True)]
    )
    shapes = [panels.outlines.get(k, box(*panels.bounds[k])) for k in range(len(panels))]
    edges = shapely.union_all([shape.exterior for shape in shapes])
    assert shapely.difference(edges, shapely.buffer(lines, 0.05)).length == pytest.approx(0.0, abs=1.0)
    assert len(set(panels.keys())) == len(panels)
    assert len(set(members.keys())) == len(members)
    assert not (members.role == Role.SECOND_TEE).any()


@pytest.mark.parametrize("system", [HALVES, THIRDS], ids=["halves", "thirds"])
@pytest.mark.parametrize("outline", ROOMS)
def test_counts_and_scores_agree_with_clipping_cell_by_cell(outline, system):
    layout = solve_layout(outline, system, HALF)
    panels = cut_panels(make_zone(outline), layout)
    full, cut = count(outline, layout)
    cells = {*zip(panels.column.tolist(), panels.row.tolist(), strict=True)}
    assert (int(panels.is_full.sum()), len(cells) - int(panels.is_full.sum())) == (full, cut)
    assert dict(layout.scores)["cut panels"] == cut


@pytest.mark.parametrize("outline", ROOMS)
def test_tees_of_each_row_stand_where_its_shift_says(outline):
    layout, zone = solve_layout(outline, THIRDS, HALF), make_zone(outline)
    members = place_members(zone, THIRDS, layout)
    tees = members.role == Role.CROSS_TEE
    u, v = ((members.start + members.end) / 2)[tees].T
    row = np.floor(v / layout.across).astype(int)
    expected = members.line[tees] * 1200.0 + row % 3 * 400.0
    assert u == pytest.approx(expected, abs=0.02)
    assert members.length[tees].max() <= layout.across + 0.01


def test_a_room_of_whole_half_planks_starts_rows_with_whole_and_half_planks():
    layout = solve_layout(box(0, 0, 6000, 4200), HALVES, HALF)
    assert layout.meets_minimum
    assert {(round(b.least), round(b.greatest)) for b in layout.borders if b.axis == "u"} == {(600, 1200)}
    assert count(box(0, 0, 6000, 4200), layout) == (63, 14)


@pytest.mark.parametrize("width", [6100, 5777, 5450, 6400, 7010])
def test_no_other_start_of_the_rows_is_better_for_their_ends(width):
    """In a rectangle: the narrowest end piece of all rows, tried at every 2 mm."""
    outline = box(0, 0, width, 4200)
    layout = solve_layout(outline, HALVES, HALF, angles=[0.0])
    own = min(b.least for b in layout.borders if b.axis == "u")
    best = 0.0
    for offset in np.arange(0, 1200, 2.0):
        ends = []
        for shift in (0.0, 600.0):
            left, right = (offset + shift) % 1200, (width - offset - shift) % 1200
            ends += [left or 1200.0, right or 1200.0]
        best = max(best, min(ends))
    assert own >= min(best, 600.0) - 0.01


@pytest.mark.parametrize("outline", ROOMS)
@pytest.mark.parametrize("system", [HALVES, THIRDS], ids=["halves", "thirds"])
def test_a_layout_is_measured_again_as_it_was_solved(outline, system):
    solved = solve_layout(outline, system, HALF)
    again = measure_layout(outline, system, HALF, solved.frame, solved.main_phase)
    assert (again.frame.x, again.frame.y) == pytest.approx((solved.frame.x, solved.frame.y), abs=1e-6)
    for one, two in zip(again.borders, solved.borders, strict=True):
        assert (one.least, one.greatest) == pytest.approx((two.least, two.greatest), abs=1e-4)
    assert dict(again.scores) == pytest.approx(dict(solved.scores))


@pytest.mark.parametrize("rows", [-3, 1, 2])
@pytest.mark.parametrize("is_turned", [False, True])
def test_any_node_of_row_0_gives_the_same_lattice(rows, is_turned):
    outline = ROOMS[1]
    solved = solve_layout(outline, THIRDS, HALF, angles=[0.0])
    # A tee of row `rows` on the line below it, called row 0.
    u = solved.row_offset(rows - 1 if is_turned else rows) + 2 * 1200.0
    x, y = solved.frame.to_world([[u, rows * 300.0]])[0].tolist()
    frame = Frame(x=x, y=y, angle_deg=180.0 if is_turned else 0.0)
    again = measure_layout(outline, THIRDS, HALF, frame, 0)
    assert count(outline, again) == count(outline, solved)
    assert [(b.least, b.greatest) for b in again.borders] == [
        pytest.approx((b.least, b.greatest)) for b in solved.borders
    ]


def test_a_building_line_holds_a_tee_line_of_the_first_row():
    line = HeldLine(name="B", point=(1111.0, 0.0), angle_deg=90.0)
    layout = solve_layout(ROOMS[0], HALVES, HALF, angles=[0.0], lines=[line])
    away = (1111.0 - layout.frame.x) % 1200.0
    assert min(away, 1200.0 - away) == pytest.approx(0.0, abs=0.01)


def table(**changes: object) -> dict[str, object]:
    section = {"height": 38, "face": 24, "thickness": 0.3}
    lengths = ("along", "across", "panel_thickness", "hanger_diameter", "hanger_spacing", "hanger_end")
    return {
        **dict.fromkeys((*lengths, "main_stock", "angle_stock"), 300),
        **{"id": "own", "title": "own", "basis": "test", "main_every": 1},
        **dict.fromkeys(("main", "tee", "angle"), section),
        **changes,
    }


@pytest.mark.parametrize(("value", "shift"), [(0.5, 0.5), ("1/3", 1 / 3), ("0.25", 0.25), (0, 0.0)])
def test_the_shift_of_a_system_is_a_share_of_a_panel(value, shift):
    system: GridSystem = system_from_table(table(row_shift=value))
    assert system.row_shift == shift
    assert len(find_row_offsets(shift, 1200.0)) == {0.5: 2, 1 / 3: 3, 0.25: 4, 0.0: 1}[shift]


@pytest.mark.parametrize("value", [1, -0.5, "half", 0.123456, True, "1/0", None])
def test_any_other_shift_is_refused(value):
    with pytest.raises(SystemDataError, match="row_shift is"):
        system_from_table(table(row_shift=value))


def test_shifted_rows_need_a_main_on_every_line():
    with pytest.raises(SystemDataError, match="main_every must be 1"):
        system_from_table(table(row_shift=0.5, main_every=2))


@pytest.mark.parametrize("row", [4, 5, 6])
def test_a_light_in_place_of_a_plank_fills_the_cell_of_its_own_row(row):
    outline = box(0, 0, 6000, 4200)
    layout, zone = solve_layout(outline, THIRDS, HALF, angles=[0.0]), make_zone(outline)
    u = 1200.0 + layout.row_offset(row)
    low = layout.frame.to_world([[u + 5, row * 300.0 + 5]])[0]
    light = Obstacle(
        key="L",
        name="L",
        kind=Kind.LIGHT,
        source="",
        outline=box(*low, *(low + np.array([1190.0, 290.0]))),
        bottom=zone.level,
        top=zone.level + 80.0,
    )
    (opening,) = fit_devices(zone, layout, [light], zone.level)
    assert opening.cells == (1, row, 1, 1)
    without, panels = cut_panels(zone, layout, [opening]), cut_panels(zone, layout)
    assert set(panels.keys()) - set(without.keys()) == {f"panel/1/{row}"}
