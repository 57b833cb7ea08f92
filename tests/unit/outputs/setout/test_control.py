"""Control lines, walls and running dimensions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from handmade_ceilings import HALL, HALL_TURNED, L2, ROUND_ENDED, T1, TP1, build_ceiling, rectangle
from shapely import Point, Polygon, affinity, box

from ifcgrid.domain.errors import UnitError
from ifcgrid.outputs.paper.dimension import format_length, run_dimensions
from ifcgrid.outputs.setout.control import find_control_lines, plan_setout
from ifcgrid.outputs.setout.wall import name_walls


def test_trade_check_of_a_room_28_ft_9_by_68_ft_8_in_24_in_panels() -> None:
    # Common practice, no source: borders 16 1/2 and 16 in; the string beside the first main
    # stands 16 1/2 + 24 + half of a 15/16 in face (taken as 1/2 in) = 41 in from the wall,
    # the crossing one 16 + 12 = 28 in, through the centre of the first full panel.
    ceiling = build_ceiling(HALL_TURNED, (16 * 25.4, 16.5 * 25.4), system="lay-in-2x2-ft")
    first, second = find_control_lines(ceiling)
    assert format_length(first.distance, "ft-in") == "3'-5\""
    assert format_length(second.distance, "ft-in") == "2'-4\""
    assert first.distance == pytest.approx((16.5 + 24 + 15 / 32) * 25.4)
    assert second.distance == pytest.approx((16 + 12) * 25.4)
    assert first.ties[0].start == pytest.approx(first.distance)


def test_each_string_is_tied_to_two_facing_walls_that_add_up_to_the_room() -> None:
    ceiling = build_ceiling(rectangle(6100, 4270), (350, 335))
    first, second = find_control_lines(ceiling)
    assert sum(t.start for t in first.ties) == pytest.approx(4270)
    assert sum(t.start for t in second.ties) == pytest.approx(6100)
    assert len({t.wall for t in (*first.ties, *second.ties)}) == 4


def test_string_1_stands_half_a_face_beyond_the_first_main_of_the_metric_room() -> None:
    # 6100 x 4270 mm at 600: borders 350 and 335 (derived); mains on the even lines.
    first, second = find_control_lines(build_ceiling(rectangle(6100, 4270), (350, 335)))
    assert (first.member, first.index) == (1200, 2)
    assert first.distance == pytest.approx(335 + 600 + 12)
    assert second.distance == pytest.approx(350 + 300)


def test_strings_lie_in_the_room_and_carry_over_when_it_is_turned() -> None:
    level = plan_setout(build_ceiling(L2, (13 * 25.4, 15 * 25.4), system="lay-in-2x2-ft"))
    turned = plan_setout(
        build_ceiling(L2, (13 * 25.4, 15 * 25.4), system="lay-in-2x2-ft", angle_deg=17, at=(5e4, -3e4))
    )
    for a, b in zip(level.lines, turned.lines, strict=True):
        assert a.distance == pytest.approx(b.distance, abs=1e-6)
        assert a.start == pytest.approx(b.start, abs=1e-6)
    ceiling = build_ceiling(L2, (13 * 25.4, 15 * 25.4), system="lay-in-2x2-ft")
    local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
    for line in level.lines:
        ends = np.array([line.start, line.end])
        middle = Point(*ends.mean(axis=0))
        assert local.contains(middle)


def test_datum_is_the_longest_wall_at_an_end_even_when_it_is_the_far_one() -> None:
    upside_down = affinity.rotate(TP1, 180, origin=(0, 0))
    plan = plan_setout(build_ceiling(upside_down, (375, 400)))
    wall = next(w for w in plan.walls if w.letter == plan.datum_v.wall)
    assert wall.length == pytest.approx(6150)
    assert plan.datum_v.inward == -1
    assert plan.lines[0].at < plan.datum_v.at


def test_a_tapered_wall_is_tied_at_both_ends_and_is_not_the_datum() -> None:
    # Trapezoid 163/166 x 124 in balanced at mid-depth: right border 20 3/4 to 23 3/4 (derived).
    plan = plan_setout(build_ceiling(T1, (22.25 * 25.4, 14 * 25.4), system="lay-in-2x2-ft"))
    taper = next(w for w in plan.walls if w.is_tapered)
    assert [taper.least, taper.greatest] == pytest.approx([20.75 * 25.4, 23.75 * 25.4])
    assert plan.datum_u.wall != taper.letter
    tie = plan.lines[1].ties[1]
    assert tie.wall == taper.letter
    assert abs(tie.end - tie.start) == pytest.approx(3 * 25.4)


def test_a_round_end_is_one_wall_with_one_letter() -> None:
    walls = name_walls(build_ceiling(ROUND_ENDED, (300, 600)))
    assert [w.letter for w in walls] == ["A", "B", "C", "D"]
    curve = next(w for w in walls if w.is_curve)
    assert len(curve.edges) == 16
    assert curve.length == pytest.approx(16 * 2 * 1800 * math.sin(math.pi / 32))
    assert sum(len(w.edges) for w in walls) == len(ROUND_ENDED.exterior.coords) - 1


def test_a_circle_is_one_wall_and_is_measured_from_its_outermost_points() -> None:
    circle = Point(0, 0).buffer(3000, quad_segs=16)
    plan = plan_setout(build_ceiling(circle, (600, 600)))
    assert len(plan.walls) == 1
    assert plan.walls[0].is_curve
    assert (plan.datum_u.wall, plan.datum_v.wall) == ("", "")
    assert plan.datum_u.place == "the outermost point of wall A"
    assert sum(t.start for t in plan.lines[0].ties) == pytest.approx(6000, abs=0.01)


def test_a_room_without_a_wall_across_the_mains_is_measured_from_a_named_corner() -> None:
    triangle = Polygon([(0, 0), (9000, 0), (4500, 6000)])
    plan = plan_setout(build_ceiling(triangle, (300, 400)))
    assert plan.datum_v.place == "wall A"
    assert plan.datum_u.place == "the corner of walls A and C"
    assert plan.lines[1].ties[1].place == "the corner of walls A and B"


def test_a_bay_window_of_three_blunt_corners_stays_three_walls() -> None:
    bay = Polygon([(0, 0), (6000, 0), (6000, 4000), (4000, 4800), (2000, 4800), (0, 4000)])
    walls = name_walls(build_ceiling(bay, (300, 500)))
    assert len(walls) == 6
    assert not any(w.is_curve for w in walls)


def test_walls_of_a_column_are_lettered_after_those_of_the_room() -> None:
    ceiling = build_ceiling(rectangle(6000, 4800) - box(2800, 2200, 3250, 2650), (600, 600))
    walls = name_walls(ceiling)
    assert [w.ring for w in walls] == [0] * 4 + [1] * 4
    local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
    for wall in walls:
        assert local.contains(Point(*(wall.middle() + 10 * np.array(wall.inward))))


def test_a_room_smaller_than_a_panel_has_no_strings_and_no_square_check() -> None:
    plan = plan_setout(build_ceiling(rectangle(500, 420), (500, 420)))
    assert plan.lines == ()
    assert (plan.first_tee, plan.field, plan.triangle) == (None, None, None)


def test_field_is_the_largest_rectangle_of_full_panels() -> None:
    plan = plan_setout(build_ceiling(rectangle(6100, 4270), (350, 335)))
    assert plan.field is not None
    assert (plan.field.columns, plan.field.rows) == (9, 6)  # 54 full panels (derived)
    assert plan.field.diagonal == pytest.approx(math.hypot(5400, 3600))


def test_field_of_an_l_room_is_found_by_looking_at_every_rectangle() -> None:
    ceiling = build_ceiling(L2, (13 * 25.4, 15 * 25.4), system="lay-in-2x2-ft")
    panels = ceiling.panels
    full = {(int(c), int(r)) for c, r, f in zip(panels.column, panels.row, panels.is_full, strict=True) if f}
    best = max(
        (i1 - i0 + 1) * (j1 - j0 + 1)
        for i0, j0 in full
        for i1, j1 in full
        if i1 >= i0 and j1 >= j0 and all((i, j) in full for i in range(i0, i1 + 1) for j in range(j0, j1 + 1))
    )
    field = plan_setout(ceiling).field
    assert field is not None
    assert field.columns * field.rows == best
    cells = {(field.column + i, field.row + j) for i in range(field.columns) for j in range(field.rows)}
    assert cells <= full


def test_triangle_is_right_and_fits_on_the_strings() -> None:
    plan = plan_setout(build_ceiling(rectangle(6100, 4270), (350, 335)))
    assert plan.triangle is not None
    on_first, on_second, across = plan.triangle
    assert math.hypot(on_first, on_second) == pytest.approx(across)
    first, second = plan.lines
    assert on_first <= max(second.at - first.start[0], first.end[0] - second.at)
    assert on_second <= max(first.at - second.start[1], second.end[1] - first.at)


def test_running_dimensions_are_rounded_once_each_and_show_what_is_left() -> None:
    # Run of 163 3/16 in with 24 in panels, printed to 1/16 in (derived): border exact
    # 21 19/32; lines 21 5/8 ... 141 5/8; last border 21 9/16, residual -1/32.
    border = 21 + 19 / 32
    lines = [(border + 24 * k) * 25.4 for k in range(6)]
    run = run_dimensions(lines, (163 + 3 / 16) * 25.4, "ft-in")
    assert [p / 25.4 for p in run.printed] == pytest.approx([21.625 + 24 * k for k in range(6)])
    assert run.last / 25.4 == pytest.approx(21 + 9 / 16)
    assert run.residual / 25.4 == pytest.approx(-1 / 32)


def test_fifteen_modules_of_600_mm_in_sixteenths_do_not_add_up_errors() -> None:
    # Derived: running 354 5/16 (error -0.018 in); chained 15 x 23 5/8 would be 354 3/8.
    run = run_dimensions([600.0 * k for k in range(1, 16)], 9000.0, "ft-in")
    assert run.printed[-1] / 25.4 == pytest.approx(354 + 5 / 16)


def test_unknown_units_are_refused_with_the_choices() -> None:
    with pytest.raises(UnitError, match="mm, ft-in"):
        format_length(1.0, "cubit")


def test_the_room_as_given_has_mains_along_its_long_side_or_across_it() -> None:
    # The same room stood on end: mains along the 28 ft 9 in side.
    first, second = find_control_lines(build_ceiling(HALL, (16.5 * 25.4, 16 * 25.4), system="lay-in-2x2-ft"))
    assert first.distance == pytest.approx((16 + 24 + 15 / 32) * 25.4)
    assert second.distance == pytest.approx((16.5 + 12) * 25.4)
