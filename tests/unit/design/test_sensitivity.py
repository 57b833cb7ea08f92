"""How far a wall may stand from where the model has it before the number of panels changes."""

from __future__ import annotations

import pytest
import shapely
from shapely import affinity

from ifcgrid.design.layout import solve_layout
from ifcgrid.design.sensitivity import find_flips
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

SYSTEM, POLICY = read_system("lay-in-600x600"), read_policy("half-module")


def flips_of(outline, angle=0.0):
    def solve(room):
        return solve_layout(room, SYSTEM, POLICY, angles=[angle])

    return {(f.axis, f.change < 0): f for f in find_flips(outline, solve(outline), solve)}


def test_a_rectangle_flips_where_the_arithmetic_says():
    # 6100 = 10 x 600 + 100: borders 350. At 6000 the borders are whole panels, 10 cells; from 6601 on
    # the borders would reach past a panel, so one more. 4270 = 7 x 600 + 70 likewise (derived).
    flips = flips_of(shapely.box(0, 0, 6100, 4270))
    assert {key: flip.change for key, flip in flips.items()} == {
        ("u", True): -100,
        ("u", False): 501,
        ("v", True): -70,
        ("v", False): 531,
    }
    narrower = flips["u", True]
    assert (narrower.before, narrower.after, narrower.border) == (11, 10, pytest.approx(600))


def test_nineteen_millimetres_can_flip_a_count():
    # 6019 mm: 19 mm less are ten whole panels.
    assert flips_of(shapely.box(0, 0, 6019, 4270))["u", True].change == -19


def test_it_holds_for_a_turned_room():
    turned = affinity.rotate(shapely.box(0, 0, 6019, 4270), 30, origin=(0, 0))
    assert flips_of(turned, 30.0)["u", True].change in (-19, -20)


def test_an_end_without_a_square_wall_is_not_moved():
    gable = shapely.Polygon([(0, 0), (6000, 0), (7000, 2000), (6000, 4000), (0, 4000)])
    assert {axis for axis, _ in flips_of(gable)} <= {"v"}
