"""The check of cutting plans sees every planted fault, and finds none in a plan that holds."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from cutting_jobs import parts_of

from ifcgrid.checks.cutting import find_bar_faults, find_panel_faults
from ifcgrid.domain.cutting import BarPlan, Direction, PanelDemand, PanelPlan, Placed, Side, Stock

STOCK = Stock(item="main runner", section="", length=3600.0, kerf=3.0, first_hole=75.0, pitch=150.0)


def a_plan(*bars, lengths=(1000.0, 1200.0, 900.0), ends=(1, -1, 0), holes=(75.0, 75.0, 75.0), bound=1):
    # The second part ends at the bar's end, 3600; its first hole is then the one at 2475, 75 mm in.
    return BarPlan(
        stock=STOCK,
        scope="",
        parts=tuple(parts_of(lengths, ends, holes)),
        bars=bars,
        bound=bound,
        bound_basis="",
        method="",
    )


GOOD = (Placed(part=0, at=0.0), Placed(part=2, at=1050.0), Placed(part=1, at=2400.0))


def test_a_plan_that_holds_has_no_faults():
    assert find_bar_faults(a_plan(GOOD)) == ()


@pytest.mark.parametrize(
    ("bar", "words"),
    [
        (GOOD[:2], "part 1 is cut 0 times"),
        ((*GOOD, Placed(part=2, at=1050.0)), "part 2 is cut 2 times"),
        ((GOOD[0], Placed(part=2, at=1001.0), GOOD[2]), "the cut before it ends later"),
        ((GOOD[0], Placed(part=2, at=1060.0), GOOD[2]), "out of step"),
        ((Placed(part=0, at=150.0), *GOOD[1:]), "needs the bar's start"),
        ((*GOOD[:2], Placed(part=1, at=2250.0)), "needs the bar's end"),
        ((Placed(part=1, at=2400.0), Placed(part=0, at=0.0), Placed(part=2, at=2850.0)), "ends later"),
        ((*GOOD[:2], Placed(part=1, at=2550.0)), "its parts end at 3750.00"),
        ((*GOOD, Placed(part=9, at=0.0)), "nobody asked for"),
    ],
)
def test_a_planted_fault_is_named(bar, words):
    plan = a_plan(bar, bound=0)
    assert any(words in fault for fault in find_bar_faults(plan))


def test_a_turned_part_has_its_ends_and_holes_the_other_way_round():
    turned = a_plan((Placed(part=0, at=2600.0, is_turned=True),), lengths=(1000.0,), ends=(1,), holes=(75.0,))
    assert find_bar_faults(turned) == ()
    straight = replace(turned, bars=((Placed(part=0, at=2600.0),),))
    assert len(find_bar_faults(straight)) == 2  # its end is not the bar's start, its holes are off


def test_a_bound_that_a_plan_undercuts_is_a_fault():
    assert any("undercut" in fault for fault in find_bar_faults(a_plan(GOOD, bound=2)))


def test_more_ends_than_were_allowed_are_a_fault():
    plan = a_plan(GOOD)
    plan = replace(plan, stock=replace(STOCK, end_parts=1))
    assert any("more than 1" in fault for fault in find_bar_faults(plan))


def piece(u, v, width, depth, *factory, shape=None):
    ring = shape or ((u, v), (u + width, v), (u + width, v + depth), (u, v + depth), (u, v))
    return PanelDemand(
        key=f"{u}/{v}", mark="", room="", rings=(ring,), area=width * depth, factory=frozenset(factory)
    )


def sheets(*demands, turn=0, direction=Direction.FREE, kerf=0.0):
    return PanelPlan(
        system="",
        scope="",
        along=600.0,
        across=600.0,
        kerf=kerf,
        direction=direction,
        full=0,
        demands=demands,
        sheets=(tuple(range(len(demands))),),
        turns=(turn,),
        bound=1,
        method="",
    )


LEFT = piece(350, 0, 250, 600, Side.HIGH_U, Side.LOW_V, Side.HIGH_V)
RIGHT = piece(0, 0, 300, 600, Side.LOW_U, Side.LOW_V, Side.HIGH_V)


def test_opposite_borders_come_from_one_panel_without_a_turn():
    assert find_panel_faults(sheets(LEFT, RIGHT, direction=Direction.FIXED)) == ()


def test_two_left_borders_need_half_a_turn():
    assert find_panel_faults(sheets(LEFT, LEFT, turn=2)) == ()
    assert any("do not fit" in f for f in find_panel_faults(sheets(LEFT, LEFT)))
    assert any(
        "lets no piece" in f for f in find_panel_faults(sheets(LEFT, LEFT, turn=2, direction=Direction.FIXED))
    )


def test_pieces_wider_together_than_the_panel_do_not_fit():
    wide = piece(0, 0, 351, 600, Side.LOW_U, Side.LOW_V, Side.HIGH_V)
    assert any("do not fit" in f for f in find_panel_faults(sheets(LEFT, wide)))


def test_a_cut_between_two_pieces_takes_its_kerf():
    snug = piece(0, 0, 350, 600, Side.LOW_U, Side.LOW_V, Side.HIGH_V)
    assert find_panel_faults(sheets(LEFT, snug)) == ()
    assert find_panel_faults(sheets(LEFT, snug, kerf=2.0)) != ()


def test_nan_holes_are_not_looked_at():
    plan = a_plan((Placed(part=0, at=11.0),), lengths=(900.0,), ends=(0,), holes=(math.nan,))
    assert find_bar_faults(plan) == ()
