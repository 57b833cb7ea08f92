"""Each policy that comes along does to a room what its words say."""

from __future__ import annotations

import pytest
import shapely

from ifcgrid.design.layout import solve_layout
from ifcgrid.domain.policy import Term
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")
ROOMS = [
    shapely.box(0, 0, 6100, 4270),
    shapely.box(0, 0, 7450, 3380),
    shapely.Polygon([(0, 0), (6150, 0), (6150, 2500), (4025, 2500), (4025, 4800), (0, 4800)]),
]


def solve(room, policy_id):
    return solve_layout(room, SYSTEM, read_policy(policy_id))


def scores(layout):
    return dict(layout.scores)


@pytest.mark.parametrize("room", ROOMS)
def test_fewest_cuts_cuts_no_more_than_any_other_that_keeps_150_mm(room):
    own = solve(room, "fewest-cuts")
    assert own.meets_minimum
    assert min(b.least for b in own.borders) >= 150 - 0.01
    for other in ("half-module", "six-inch", "balanced-half"):
        layout = solve(room, other)
        if min(b.least for b in layout.borders) >= 150:
            assert scores(own)[Term.CUT_PANELS] <= scores(layout)[Term.CUT_PANELS]


def test_six_inches_allow_what_half_a_module_does_not():
    # 6000 mm and 2 x 150 mm: with half a module the border would be 450 mm.
    room = shapely.box(0, 0, 6310, 6310)
    assert {round(b.least) for b in solve(room, "six-inch").borders} == {455}
    assert solve(room, "fewest-cuts").meets_minimum
    assert (
        scores(solve(room, "fewest-cuts"))[Term.CUT_PANELS]
        < scores(solve(room, "half-module"))[Term.CUT_PANELS]
    )


@pytest.mark.parametrize("room", ROOMS[:2])
def test_in_a_rectangle_balance_first_and_half_first_agree(room):
    first, second = solve(room, "balanced-half"), solve(room, "half-module")
    assert first.meets_minimum
    assert sorted(round(b.least, 2) for b in first.borders) == sorted(
        round(b.least, 2) for b in second.borders
    )


def test_in_an_l_balance_goes_before_the_least_border_only_where_asked():
    # Navy p. 5-16: equal borders, no number; so its layout is never less equal than the one with a minimum.
    equal, half = solve(ROOMS[2], "equal-and-largest"), solve(ROOMS[2], "half-module")
    assert scores(equal)[Term.EQUAL_BORDERS] <= scores(half)[Term.EQUAL_BORDERS]
    assert scores(half)[Term.BORDER_MINIMUM] == 0
