"""One grid through several rooms."""

import numpy as np
import pytest
from shapely import Polygon, affinity, box

from ifcgrid.design.layout import solve_layout
from ifcgrid.design.layout.joint import JointRoom, solve_jointly
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

HALF = read_policy("half-module")
LARGEST = read_policy("equal-and-largest")
SQUARE = read_system("lay-in-600x600")
OBLONG = read_system("lay-in-600x1200")
OFFICES = [box(0, 0, 4100, 5000), box(4200, 0, 9000, 5000), box(9100, 200, 12345, 5000)]


def rooms(*outlines: Polygon) -> list[JointRoom]:
    return [JointRoom(key=f"R{k}", outline=outline) for k, outline in enumerate(outlines)]


def phases(layouts, module=(600.0, 600.0)):
    """The phase of every layout's lattice, seen in the axes of the first one."""
    first = layouts[0].frame
    away = np.array([first.to_local([[one.frame.x, one.frame.y]])[0] for one in layouts])
    return away / module - np.round(away / module)


@pytest.mark.parametrize("turn", [0.0, 23.0])
@pytest.mark.parametrize("system", [SQUARE, OBLONG], ids=lambda s: s.id)
def test_all_rooms_have_the_same_angle_and_phase(system, turn):
    turned = [affinity.rotate(outline, turn, origin=(0, 0)) for outline in OFFICES]
    layouts = solve_jointly(rooms(*turned), system, HALF)
    assert len({round(one.frame.angle_deg, 9) for one in layouts}) == 1
    assert np.abs(phases(layouts, (system.along, system.across))).max() < 1e-6


def test_mains_lie_on_the_same_lines_everywhere():
    layouts = solve_jointly(rooms(*OFFICES), SQUARE, HALF)
    first = layouts[0].frame
    for one in layouts:
        v = first.to_local([one.frame.to_world([[0.0, one.main_phase * 600.0]])[0]])[0, 1]
        assert round(v / 600) % 2 == layouts[0].main_phase % 2


def test_one_room_alone_is_laid_as_ever():
    (joint,) = solve_jointly(rooms(OFFICES[2]), SQUARE, HALF)
    alone = solve_layout(OFFICES[2], SQUARE, HALF)
    assert dict(joint.scores) == pytest.approx(dict(alone.scores))


def test_equal_rooms_a_module_apart_are_each_as_good_as_alone():
    layouts = solve_jointly(rooms(box(0, 0, 4300, 5000), box(4800, 0, 9100, 5000)), SQUARE, HALF)
    alone = solve_layout(box(0, 0, 4300, 5000), SQUARE, HALF)
    for one in layouts:
        assert dict(one.scores) == pytest.approx(dict(alone.scores))


def test_no_other_phase_has_a_wider_narrowest_border():
    """The referee counts the strips of all rooms at every 5 mm of both offsets."""
    layouts = solve_jointly(rooms(*OFFICES), SQUARE, HALF)
    assert layouts[0].certificate.method == "exact"
    own = [min(b.least for one in layouts for b in one.borders if b.axis == axis) for axis in ("u", "v")]
    if layouts[0].frame.angle_deg:
        own.reverse()
    for axis in (0, 1):
        walls = [
            (bounds[axis + 2 * side], 1 - 2 * side)
            for o in OFFICES
            for bounds in [o.bounds]
            for side in (0, 1)
        ]
        offsets = np.arange(0, 600, 5.0)
        width = np.array([np.mod(sign * (offsets - at) - 1e-6, 600) for at, sign in walls]).min(axis=0)
        assert width.max() <= own[axis] + 1e-3 + 5


def test_rooms_with_coincident_walls_and_rooms_over_each_other_do_not_disturb():
    touching = solve_jointly(rooms(box(0, 0, 4000, 3000), box(4000, 0, 8000, 3000)), SQUARE, HALF)
    apart = solve_jointly(rooms(box(0, 0, 4000, 3000), box(64_000, 0, 68_000, 3000)), SQUARE, HALF)
    over = solve_jointly(rooms(box(0, 0, 4000, 3000), box(0, 0, 4000, 3000)), SQUARE, HALF)
    for one, two in zip(touching, apart, strict=True):
        assert dict(one.scores) == pytest.approx(dict(two.scores))
    assert dict(over[0].scores) == dict(over[1].scores)


def test_cells_that_two_rooms_share_are_counted_for_both():
    layouts = solve_jointly(rooms(*OFFICES), SQUARE, HALF)
    together = dict(layouts[0].certificate.best[0].scores)["cut panels"]
    assert together == sum(dict(one.scores)["cut panels"] for one in layouts)


def test_a_building_line_and_fixed_devices_hold_the_grid_in_all_rooms():
    line = HeldLine(name="B", point=(1000.0, 0.0), angle_deg=90.0)
    for one in solve_jointly(rooms(*OFFICES), SQUARE, HALF, lines=[line]):
        place = one.frame.to_local([line.point])[0, 0 if one.frame.angle_deg == 0 else 1]
        assert place / 600 == pytest.approx(round(place / 600), abs=1e-6)
    held = JointRoom(key="H", outline=OFFICES[1], points=(HeldPoint(x=6000.0, y=2500.0),))
    for one in solve_jointly([*rooms(OFFICES[0]), held], SQUARE, LARGEST):
        away = one.frame.to_local([[6000.0, 2500.0]])[0] / 600 % 1
        assert away == pytest.approx([0.5, 0.5], abs=0.05)


def test_oblique_rooms_are_searched_and_shifted_rows_are_refused():
    kite = Polygon([(13_000, 0), (18_000, 700), (17_500, 4000), (13_000, 4000)])
    layouts = solve_jointly(rooms(OFFICES[0], kite), SQUARE, HALF, name="east")
    assert layouts[1].certificate.method == "searched"
    assert layouts[1].certificate.statement.startswith("One grid through 2 rooms of zone east")
    with pytest.raises(NoLayoutError, match="shifted rows; these share no grid between rooms yet"):
        solve_jointly(rooms(*OFFICES), read_system("lay-in-300x1200-staggered"), HALF)
    with pytest.raises(NoLayoutError, match="R0"):
        solve_jointly(rooms(Polygon()), SQUARE, HALF)
