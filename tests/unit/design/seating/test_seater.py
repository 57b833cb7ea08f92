"""Which devices are on their seats in a ceiling, and where the others would go.

The room is 6000 x 4800 with the lattice of 600 on its walls, so every cell is whole and
cell (i, j) has its middle at 600 i + 300, 600 j + 300.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
import shapely
from shapely import affinity

from ifcgrid.design.layout import measure_layout, solve_layout
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.design.seating import Held, ask_devices, find_cost, find_held, seat_devices
from ifcgrid.domain.device_rule import DeviceRule
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.policy import Term
from ifcgrid.domain.room import Room, Zone
from ifcgrid.domain.seat import Hold, Seat, Seating
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

SYSTEM, POLICY = read_system("lay-in-600x600"), read_policy("half-module")
ROOM = shapely.box(0, 0, 6000, 4800)
LEVEL = 2700.0


def zone(outline=ROOM) -> Zone:
    room = Room(
        key="room", name="Office", number="101", storey="Level 1", storey_key="s",
        section=outline, outline=outline, floor=0.0, top=3000.0, height=None,
    )  # fmt: skip
    return Zone(key="room", rooms=(room,), outline=outline, level=LEVEL)


def device(key: str, x: float, y: float, width=595.0, depth=595.0, kind=Kind.LIGHT, turn=0.0) -> Obstacle:
    box = affinity.rotate(shapely.box(x - width / 2, y - depth / 2, x + width / 2, y + depth / 2), turn)
    return Obstacle(key=key, kind=kind, name=key, outline=box, bottom=LEVEL, top=LEVEL + 80)


def head(key: str, x: float, y: float) -> Obstacle:
    spot = shapely.Point(x, y).buffer(35)
    return Obstacle(key=key, kind=Kind.SPRINKLER, name=key, outline=spot, bottom=LEVEL - 45, top=LEVEL + 150)


def rule(hold: str, *, kind="*", within=None, seat=None) -> DeviceRule:
    changes = {"hold": Hold(hold), "within": within, "seat": seat and Seat(seat)}
    return DeviceRule(line=1, picks={"kind": kind}, changes={k: v for k, v in changes.items() if v})


def seat(devices, rules=(), policy=POLICY, outline=ROOM, system=SYSTEM) -> Seating:
    where = zone(outline)
    layout = measure_layout(outline, system, policy, Frame(x=0.0, y=0.0), 0)
    return seat_devices(where, layout, ask_devices(where, system, policy, devices, rules))


def test_a_light_on_its_cell_is_seated_and_one_beside_it_moves_by_the_way_back():
    seating = seat([device("a", 900, 900), device("b", 2140, 1485)])
    assert seating.seated == ("a",)
    (move,) = seating.moves
    assert (move.key, move.hold, move.seat, move.room) == ("b", Hold.FIXED, Seat.CELL, 0)
    assert move.vector == pytest.approx((-40, 15))
    assert move.end == pytest.approx((2100, 1500))


@pytest.mark.parametrize(("shift", "is_on"), [(2.9, True), (3.0, True), (3.1, False)])
def test_three_millimetres_off_the_module_are_still_on_it(shift, is_on):
    assert (seat([device("a", 900 + shift, 900)]).seated == ("a",)) is is_on


def test_of_three_lights_in_one_cell_no_two_get_one_and_their_moves_are_shortest_in_sum():
    at = [(880.0, 870.0), (940.0, 905.0), (905.0, 985.0)]
    seating = seat([device(f"{k}", x, y) for k, (x, y) in enumerate(at)], [rule("movable")])
    assert seating.is_exact
    ends = [move.end for move in seating.moves]
    assert len({tuple(np.round(end)) for end in ends}) == 3
    total = sum(float(np.hypot(*move.vector)) for move in seating.moves)
    middles = [(600 * i + 300, 600 * j + 300) for i in range(4) for j in range(4)]
    best = min(
        sum(float(np.hypot(x - u, y - v)) for (x, y), (u, v) in zip(at, cells, strict=True))
        for cells in permutations(middles, 3)
    )
    assert total == pytest.approx(best, abs=0.01)


def test_nobody_moves_into_a_cell_where_something_stays():
    free = device("free", 900, 900)
    seating = seat([free, head("h", 1000, 930)], [rule("free", kind="light"), rule("movable", kind="spr*")])
    (move,) = seating.moves
    assert move.key == "h"
    assert not free.outline.contains(shapely.Point(move.end))


def test_a_movable_light_goes_no_farther_than_it_may_and_says_why():
    devices = [device("a", 900, 900), device("b", 910, 900)]
    near = seat(devices, [rule("movable", within=250.0)])
    assert near.seated == ("a",)
    assert near.moves[0].end is None
    assert near.moves[0].reason == "every whole cell within its reach is taken"
    (far,) = seat(devices, [rule("movable", within=590.0)]).moves
    assert far.vector == pytest.approx((590, 0))
    lone = seat([device("a", 1190, 900)], [rule("movable", within=200.0)]).moves[0]
    assert lone.reason == "the nearest whole cell is 290 mm away, it may move 200 mm at most"


def test_an_inch_light_is_refused_in_a_metre_grid_wherever_it_stands():
    seating = seat([device("a", 900, 900, 609.6, 609.6)])
    assert seating.seated == ()
    assert seating.moves[0].end is None
    assert "609.6 x 609.6 mm do not go into 600.0 x 600.0 mm, 9.6 mm too large" in seating.moves[0].reason
    # The other way round it rests on the tees and is let in: 595 mm in 609.6 mm.
    inch = read_system("lay-in-2x2-ft")
    outline = shapely.box(0, 0, 6096, 4876.8)
    on = seat([device("a", 914.4, 914.4)], outline=outline, system=inch)
    assert on.seated == ("a",)


def test_a_light_of_two_cells_takes_two_and_no_main_crosses_it():
    # Mains lie on even lines, so two rows from an odd line on would be crossed.
    long = device("a", 900, 1200, 595, 1195)
    seating = seat([long, device("b", 330, 300)])
    move = {m.key: m for m in seating.moves}
    assert "a" in move
    assert move["a"].end is not None
    low = (move["a"].end[1] - 600) / 600
    assert round(low) % 2 == 0
    assert abs(move["a"].vector[1]) == pytest.approx(600)


def test_a_light_laid_across_the_cells_is_told_to_turn():
    system = read_system("lay-in-600x1200")
    outline = shapely.box(0, 0, 6000, 4800)
    (move,) = seat([device("a", 900, 600, 1195, 595)], outline=outline, system=system).moves
    assert abs(move.turn_deg) == 90
    assert move.vector == pytest.approx((0, 0))
    (skew,) = seat([device("a", 910, 900, turn=5.0)]).moves
    assert skew.turn_deg == pytest.approx(-5.0)
    assert skew.vector == pytest.approx((-10, 0), abs=1e-6)


def test_small_devices_want_a_point_only_where_one_was_agreed():
    heads = [head("a", 450, 320), head("b", 300, 300), head("c", 390, 300)]
    assert seat(heads) == Seating()
    quarter = seat(heads, [rule("fixed", seat="centre-or-quarter")])
    assert quarter.seated == ("b",)  # a is 20 mm off, c 60 mm
    by_key = {move.key: move.end for move in seat(heads[:1], [rule("movable")]).moves}
    assert by_key["a"] == pytest.approx((450, 300))
    (centre,) = seat(heads[:1], [rule("fixed", seat="centre")]).moves
    assert centre.end == pytest.approx((300, 300))


def test_in_a_cut_panel_the_seat_is_the_middle_of_what_is_left():
    outline = shapely.box(-200, 0, 6000, 4800)
    layout = measure_layout(outline, SYSTEM, POLICY, Frame(x=0.0, y=0.0), 0)
    where = zone(outline)
    asked = ask_devices(where, SYSTEM, POLICY, [head("a", -150, 300)], [rule("movable", seat="centre")])
    (move,) = seat_devices(where, layout, asked).moves
    assert move.end == pytest.approx((-100, 300))


def test_a_sidewall_head_and_what_meets_a_wall_want_nothing():
    side = Obstacle(
        key="a", kind=Kind.SPRINKLER, name="Sidewall head", outline=shapely.Point(400, 430).buffer(35),
        bottom=LEVEL - 45, top=LEVEL + 100,
    )  # fmt: skip
    at_wall = device("b", 60, 1000, 120, 250)
    assert seat([side, at_wall], [rule("movable")]) == Seating()


@pytest.mark.parametrize("angle", [0.0, 30.0])
def test_vectors_are_in_the_axes_of_the_model_far_from_its_origin(angle):
    def place(shape):
        return affinity.translate(affinity.rotate(shape, angle, origin=(0, 0)), 4e6, -7e6)

    light = device("a", 940, 915)
    light = Obstacle(
        key="a", kind=Kind.LIGHT, name="a", outline=place(light.outline), bottom=LEVEL, top=LEVEL + 80
    )
    where = zone(place(ROOM))
    layout = measure_layout(where.outline, SYSTEM, POLICY, Frame(x=4e6, y=-7e6, angle_deg=angle), 0)
    (move,) = seat_devices(where, layout, ask_devices(where, SYSTEM, POLICY, [light], ())).moves
    turn = np.radians(angle)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    assert move.vector == pytest.approx(tuple(rotation @ [-40.0, -15.0]), abs=1e-5)


def test_fixed_lights_pull_the_grid_and_the_cost_is_told_term_by_term():
    # Alone the borders would be 350 along. A light whose cell begins at x = 310 + 3 * 600 wants
    # lines at 310 (and 390 is left at the far end); 3 mm off it still counts as on module.
    outline = shapely.box(0, 0, 6100, 4800)
    where = zone(outline)
    lights = [device("a", 310 + 600 * 3 + 300, 900)]
    asked = ask_devices(where, SYSTEM, POLICY, lights, ())
    held = find_held(asked)

    def solve(held: Held):
        return solve_layout(outline, SYSTEM, POLICY, fixtures=held.cells, points=held.points)

    layout = solve(held)
    assert seat_devices(where, layout, asked).seated == ("a",)
    cost = {
        shift.term: shift for shift in find_cost(outline, SYSTEM, POLICY, held, layout, lambda: solve(Held()))
    }
    assert cost[Term.FIXTURES].heeded == 0
    assert cost[Term.FIXTURES].unheeded == 1
    equal = cost[Term.EQUAL_BORDERS]
    assert equal.unheeded == 0
    assert equal.heeded == pytest.approx(390 - 310 - 2 * 3)
    movable = ask_devices(where, SYSTEM, POLICY, lights, [rule("movable")])
    assert not find_held(movable)
    assert find_cost(outline, SYSTEM, POLICY, find_held(movable), layout, lambda: pytest.fail("solved")) == ()


@pytest.mark.parametrize(
    ("place", "has_quarters", "offset"),
    [
        (310 + 300.0, False, 310 + 15),  # the middle of a cell, reached from 350 as far as counts
        (310 + 150.0, False, 350),  # a quarter point that was not agreed on: the borders stay equal
        (310 + 150.0, True, 310 + 15),
        (310 + 450.0, True, 310 + 15),
    ],
)
def test_fixed_heads_pull_the_grid_to_their_agreed_points(place, has_quarters, offset):
    outline = shapely.box(0, 0, 6100, 4800)
    points = [HeldPoint(x=place + 1800, y=900.0, has_quarters=has_quarters)]
    layout = solve_layout(outline, SYSTEM, POLICY, points=points, angles=[0.0])
    assert layout.frame.x % 600 == pytest.approx(offset, abs=0.02)


def test_the_least_border_goes_before_the_heads():
    outline = shapely.box(0, 0, 6100, 4800)
    layout = solve_layout(outline, SYSTEM, POLICY, points=[HeldPoint(x=100 + 1800 + 300.0, y=900.0)])
    assert layout.meets_minimum
    assert dict(layout.scores)[Term.FIXTURES] == 1
