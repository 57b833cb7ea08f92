"""Layouts from a control wall, an angle, a building line or a corridor's axis."""

import numpy as np
import pytest
from handmade_lattices import make_zone
from shapely import Polygon, affinity, box

from ifcgrid.design.corridor import corridor_axis, lies_on_axis
from ifcgrid.design.setting_out import find_lines, find_start, solve_from
from ifcgrid.domain.building import BuildingAxis, Site
from ifcgrid.domain.errors import NoLayoutError, PlanError
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.plan import Settings
from ifcgrid.domain.setting_out import BuildingLine, read_control
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

HALF = read_policy("half-module")
SQUARE = read_system("lay-in-600x600")
AXES = (
    BuildingAxis(tag="A", grid="G", start=(0.0, 250.0), end=(9000.0, 250.0)),
    BuildingAxis(tag="2", grid="G", start=(1234.0, -500.0), end=(1234.0, 9000.0)),
    BuildingAxis(tag="X", grid="G", start=(0.0, 0.0), end=(1000.0, 300.0)),
    BuildingAxis(tag="T", grid="G", start=(0.0, 0.0), end=(0.0, 300.0)),
    BuildingAxis(tag="T", grid="H", start=(0.0, 0.0), end=(300.0, 0.0)),
)
SITE = Site(axes=AXES)


def solve(outline: Polygon, **settings: object) -> Layout:
    given = Settings(**settings)
    return solve_from(outline, SQUARE, HALF, find_start(make_zone(outline), given, SITE))


def away_from_line(layout: Layout, point: tuple[float, float], axis: int) -> float:
    """How far a model point is from the nearest grid line across an axis."""
    module = (layout.along, layout.across)[axis]
    at = float(layout.frame.to_local([point])[0, axis])
    return abs(at - round(at / module) * module)


def test_a_frame_squares_to_the_declared_wall_and_the_far_border_tapers():
    crooked = Polygon([(0, 0), (6100, 0), (6100, 4120), (0, 4000)])
    square = solve(crooked, control=read_control("wall A"))
    turned = solve(crooked, control=read_control("wall C"))
    slope = np.degrees(np.arctan2(120, 6100))
    assert square.frame.angle_deg % 90.0 == pytest.approx(0.0, abs=1e-6)
    assert turned.frame.angle_deg % 90.0 == pytest.approx(slope, abs=1e-6)
    tapers = {b.edge: b.greatest - b.least for b in square.borders}
    assert tapers[0] == pytest.approx(0.0, abs=0.01)
    assert tapers[2] == pytest.approx(120.0, abs=0.1)
    assert min(b.least for b in square.borders) >= 300 - 0.01  # the narrow end too
    assert "squared to wall C (declared" in turned.set_out_from
    assert {b.edge: round(b.greatest - b.least) for b in turned.borders}[2] == 0


def test_an_angle_is_turned_from_the_control_wall_or_from_the_walls():
    room = affinity.rotate(box(0, 0, 6000, 4000), 20.0)
    assert solve(room, turn=30.0).frame.angle_deg % 90.0 == pytest.approx(50.0, abs=1e-6)
    crooked = Polygon([(0, 0), (6100, 0), (6100, 4270), (0, 4150)])
    layout = solve(crooked, control=read_control("wall C"), turn=45.0)
    assert layout.frame.angle_deg % 90.0 == pytest.approx(45.0 + np.degrees(np.arctan2(120, 6100)), abs=1e-6)
    assert layout.set_out_from.endswith("turned 45 degrees from that")


def test_a_grid_line_falls_on_the_building_axis_and_the_rest_stays_balanced():
    layout = solve(box(0, 0, 6100, 4270), line=(BuildingLine(through="2"),))
    axis = 0 if layout.frame.angle_deg == 0 else 1
    assert away_from_line(layout, (1234.0, 0.0), axis) <= 0.01
    south, north = (b for b in layout.borders if abs(b.start[1] - b.end[1]) < 1)
    assert south.least == pytest.approx(north.least)  # across the line nothing is fixed
    assert layout.certificate.method == "exact"
    assert "a grid line on building axis 2" in layout.set_out_from


def test_the_middle_of_a_panel_can_be_asked_for_and_both_directions_fixed():
    lines = (BuildingLine(through="2", is_joint=False), BuildingLine(through=250.0, axis="y"))
    layout = solve(box(0, 0, 6100, 4270), line=lines)
    axis = 0 if layout.frame.angle_deg == 0 else 1
    assert away_from_line(layout, (1234.0, 0.0), axis) == pytest.approx(300.0, abs=0.01)
    assert away_from_line(layout, (0.0, 250.0), 1 - axis) <= 0.01


def test_an_oblique_axis_turns_the_grid_unless_that_is_fixed():
    room = box(0, 0, 6100, 4270)
    angle = np.degrees(np.arctan2(300, 1000))
    line = (BuildingLine(through="X"),)
    assert solve(room, line=line).frame.angle_deg % 90.0 == pytest.approx(angle, abs=1e-6)
    with pytest.raises(NoLayoutError, match=r"building axis X runs at 16.699.* degrees, the grid at 0"):
        solve(room, line=line, angle=0.0)


def test_lines_that_contradict_each_other_are_refused():
    lines = (BuildingLine(through=0.0, axis="x"), BuildingLine(through=100.0, axis="x"))
    with pytest.raises(NoLayoutError, match="cannot both be kept: they are no whole number of 600 mm apart"):
        solve(box(0, 0, 6100, 4270), line=lines)


def test_an_unknown_or_doubtful_tag_is_refused_with_the_tags_there_are():
    with pytest.raises(
        PlanError, match=r"no straight building axis 'Q' in the model; its axes are A, 2, X, T"
    ):
        find_lines((BuildingLine(through="Q"),), AXES)
    with pytest.raises(PlanError, match="2 building axes 'T'"):
        find_lines((BuildingLine(through="T"),), AXES)
    (line,) = find_lines((BuildingLine(through="T", axis="x"),), AXES)
    assert line.angle_deg == 90.0


@pytest.mark.parametrize("turn", [0.0, 17.0])
@pytest.mark.parametrize(("length", "width"), [(12000, 2150), (20000, 2990), (9000, 1790), (8000, 2000)])
def test_both_lanes_of_a_plain_corridor_are_equal_and_it_says_so(length, width, turn):
    corridor = affinity.rotate(box(0, 0, length, width), turn, origin=(0, 0))
    layout = solve(corridor)
    long_walls = [b for b in layout.borders if b.length == pytest.approx(length)]
    assert long_walls[0].least == pytest.approx(long_walls[1].least, abs=0.01)
    assert "balanced about the corridor's axis" in layout.set_out_from


def test_a_niche_does_not_push_a_corridor_off_its_axis():
    niche = box(0, 0, 12000, 2150).union(box(5000, 2150, 7000, 2450))
    layout = solve(niche)
    axis = corridor_axis(niche)
    assert axis is not None
    assert axis.point[1] == pytest.approx(1075.0)
    assert lies_on_axis(layout, axis) in ("joint", "panel")
    assert "both lanes of the corridor equal" in layout.certificate.statement
    # Without the rule the niche's border decides.
    assert not lies_on_axis(solve(niche, line=(BuildingLine(through=100.0, axis="y"),)), axis)


@pytest.mark.parametrize(
    "room",
    [
        box(0, 0, 7900, 2000),  # shorter than four times its width
        box(0, 0, 9000, 2000).union(box(0, 0, 2000, 9000)),  # two corridors
        Polygon([(0, 0), (9000, 0), (9000, 2200), (0, 1800)]),  # no two parallel long walls
    ],
)
def test_other_rooms_are_no_corridors(room):
    assert corridor_axis(room) is None
