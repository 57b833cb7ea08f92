"""Cut panels paired: as many pairs as brute force finds, and only such as fit."""

from __future__ import annotations

import random
from functools import cache

import pytest
from shapely import Polygon, box

from ifcgrid.checks.cutting import _can_share, find_panel_faults
from ifcgrid.design.cutting.panels import cut_panel_pairs
from ifcgrid.domain.cutting import Direction, PanelDemand, PanelPlan, Side

SIZE = 600.0


def demand(shape: Polygon, number: int = 0, across: float = SIZE) -> PanelDemand:
    low_u, low_v, high_u, high_v = shape.bounds
    sides = {
        Side.LOW_U: low_u == 0,
        Side.LOW_V: low_v == 0,
        Side.HIGH_U: high_u == SIZE,
        Side.HIGH_V: high_v == across,
    }
    return PanelDemand(
        key=str(number),
        mark="",
        room="",
        rings=(tuple((float(u), float(v)) for u, v in shape.exterior.coords),),
        area=shape.area,
        factory=frozenset(side for side, holds in sides.items() if holds),
    )


def a_piece(rnd: random.Random, with_corners: bool = True) -> Polygon:
    """A border strip at one of four walls, a corner, or an L round a column's corner."""
    a, b = float(rnd.randrange(60, 560)), float(rnd.randrange(60, 560))
    kinds = [
        box(0, 0, a, SIZE),
        box(SIZE - a, 0, SIZE, SIZE),
        box(0, 0, SIZE, a),
        box(0, SIZE - a, SIZE, SIZE),
    ]
    if with_corners:
        kinds += [box(0, 0, a, b), box(SIZE - a, SIZE - b, SIZE, SIZE), box(0, SIZE - b, a, SIZE)]
        kinds.append(box(0, 0, SIZE, SIZE).difference(box(SIZE - a, SIZE - b, SIZE, SIZE)))
    return rnd.choice(kinds)


def most_pairs(demands: list[PanelDemand], plan: PanelPlan) -> int:
    """The most pairs, by trying every matching; whether two fit is the check's word, either one first."""
    turns = {Direction.FREE: (0, 1, 2, 3), Direction.HALF_TURN: (0, 2), Direction.FIXED: (0,)}[plan.direction]

    @cache
    def share(i: int, j: int) -> bool:
        pairs = ((demands[i], demands[j]), (demands[j], demands[i]))
        return any(_can_share(plan, one, other, turn) for one, other in pairs for turn in turns)

    @cache
    def most(left: int) -> int:
        if not left:
            return 0
        i = left.bit_length() - 1
        rest = left & ~(1 << i)
        return max(
            [most(rest), *(1 + most(rest & ~(1 << j)) for j in range(i) if rest >> j & 1 and share(j, i))]
        )

    return most((1 << len(demands)) - 1)


@pytest.mark.parametrize("direction", list(Direction))
@pytest.mark.parametrize("seed", range(12))
def test_no_matching_makes_more_pairs(seed, direction):
    rnd = random.Random(seed)
    demands = [demand(a_piece(rnd, seed % 2 == 0), k) for k in range(9)]
    plan = cut_panel_pairs(
        demands, system="", along=SIZE, across=SIZE, direction=direction, kerf=float(seed % 3)
    )
    assert find_panel_faults(plan) == ()
    pairs = len(demands) - len(plan.sheets)
    assert pairs == most_pairs(demands, plan)
    assert plan.bound == len(plan.sheets)


@pytest.mark.parametrize("seed", range(6))
def test_without_the_extra_the_pairs_hold_and_the_bound_is_below(seed, monkeypatch):
    monkeypatch.setattr("ifcgrid.design.cutting.panels.find_solver", lambda: None)
    rnd = random.Random(seed)
    demands = [demand(a_piece(rnd), k) for k in range(40)]
    plan = cut_panel_pairs(demands, system="", along=SIZE, across=SIZE)
    assert find_panel_faults(plan) == ()
    assert plan.bound <= len(plan.sheets)


def test_strips_along_one_axis_are_paired_without_a_solver(monkeypatch):
    monkeypatch.setattr("ifcgrid.design.cutting.panels.find_solver", lambda: None)
    widths = [100.0, 150.0, 250.0, 340.0, 360.0, 480.0, 510.0, 520.0]
    demands = [demand(box(0, 0, w, SIZE), k) for k, w in enumerate(widths)]
    plan = cut_panel_pairs(demands, system="", along=SIZE, across=SIZE, direction=Direction.HALF_TURN)
    # 480 + 100, 360 + 150, 340 + 250; 510 and 520 would take 100 too.
    assert len(plan.sheets) == 5
    assert plan.bound == 5
    assert find_panel_faults(plan) == ()


def test_a_corner_piece_comes_out_of_the_notch_of_an_l():
    notched = box(0, 0, SIZE, SIZE).difference(box(400, 350, SIZE, SIZE))
    corner = box(400, 400, SIZE, SIZE)  # 200 x 200, its factory edges at high u and high v
    plan = cut_panel_pairs(
        [demand(notched), demand(corner, 1)], system="", along=SIZE, across=SIZE, direction=Direction.FIXED
    )
    assert len(plan.sheets) == 1
    assert find_panel_faults(plan) == ()


def test_a_corner_piece_wider_than_the_notch_needs_its_own_panel():
    notched = box(0, 0, SIZE, SIZE).difference(box(400, 350, SIZE, SIZE))
    corner = box(399, 400, SIZE, SIZE)
    plan = cut_panel_pairs([demand(notched), demand(corner, 1)], system="", along=SIZE, across=SIZE)
    assert len(plan.sheets) == 2


def test_a_pattern_that_all_points_one_way_pairs_only_opposite_borders():
    left = [demand(box(SIZE - 200, 0, SIZE, SIZE), k) for k in range(4)]
    right = [demand(box(0, 0, 300, SIZE), k) for k in range(4, 6)]
    plans = {
        d: cut_panel_pairs([*left, *right], system="", along=SIZE, across=SIZE, direction=d)
        for d in Direction
    }
    assert {d: len(p.sheets) for d, p in plans.items()} == {
        Direction.FREE: 3,
        Direction.HALF_TURN: 3,
        Direction.FIXED: 4,
    }


def test_panels_that_are_not_square_are_not_turned_by_a_quarter():
    strip, other = box(0, 0, 200, 1200), box(0, 0, SIZE, 500)
    plan = cut_panel_pairs(
        [demand(strip, 0, 1200), demand(other, 1, 1200)], system="", along=SIZE, across=1200.0
    )
    assert plan.direction is Direction.HALF_TURN
    assert len(plan.sheets) == 2


def test_waste_is_what_is_bought_and_not_hung():
    plan = cut_panel_pairs([demand(box(0, 0, 450, SIZE))], system="", along=SIZE, across=SIZE, full=10)
    assert (plan.panels, plan.waste_area) == (11, pytest.approx(150 * 600))
