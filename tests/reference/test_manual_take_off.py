"""The take-off of the public manual's room, line by line.

NAVEDTRA 14044, Builder: p. 5-16 gives the room of 13 ft 7 in by 10 ft 4 in, its material size
of 14 x 12 ft, stock of 12 ft, wall angle as perimeter over stock rounded up, and mains and
tees counted on the plan; p. 5-17 that no more than two border tees come from one cross tee.
The counts follow from these rules on paper (derived). Cuts are taken as thin and members
as running wall to wall, as on paper: kerf and end gap 0, first hole 3 in from the end, then
every 6 in (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from handmade_lattices import make_layout, make_zone
from shapely import box

from ifcgrid.design.cutting.plans import plan_bars, plan_panels
from ifcgrid.design.framing import place_members
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.cutting import CutRules
from ifcgrid.domain.quantity import Item
from ifcgrid.outputs.takeoff.measure import measure_ceiling
from ifcgrid.outputs.takeoff.order import find_orders
from ifcgrid.systems import read_system

INCH, FOOT = 25.4, 304.8
ROOM = box(0, 0, 163 * INCH, 124 * INCH)
THIN = CutRules(bar_kerf=0.0)


@dataclass(frozen=True, kw_only=True)
class Case:
    system: str
    node: tuple[float, float]  # a node of the grid on a main, in inches
    angle: float = 0.0
    lineal_feet: float  # of mains
    splices: int
    mains: int  # 12 ft stock
    border_tees: dict[float, int]  # length in inches: number
    tees_4ft: int  # stock
    tees_2ft: int
    full: int
    cut: int


CASES = {
    "T-a: 2 x 4 ft, mains along 13 ft 7 in": Case(
        system="lay-in-2x4-ft",
        node=(21.5, 38),
        lineal_feet=27.17,
        splices=2,
        mains=3,
        border_tees={38: 12},
        tees_4ft=18,
        tees_2ft=0,
        full=5,
        cut=16,
    ),
    "T-b: 2 x 2 ft, mains along 13 ft 7 in": Case(
        system="lay-in-2x2-ft",
        node=(21.5, 38),
        lineal_feet=27.17,
        splices=2,
        mains=3,
        border_tees={38: 12, 21.5: 6},
        tees_4ft=18,
        tees_2ft=21,
        full=20,
        cut=22,
    ),
    "T-c: 2 x 4 ft, mains along 10 ft 4 in": Case(
        system="lay-in-2x4-ft",
        node=(33.5, 14),
        angle=90,
        lineal_feet=31.0,
        splices=0,
        mains=3,
        border_tees={33.5: 10},
        tees_4ft=20,
        tees_2ft=0,
        full=8,
        cut=16,
    ),
    "T-d: 2 x 2 ft, mains along 10 ft 4 in": Case(
        system="lay-in-2x2-ft",
        node=(21.5, 14),
        angle=90,
        lineal_feet=31.0,
        splices=0,
        mains=3,
        border_tees={21.5: 5, 45.5: 5, 14: 6},
        tees_4ft=18,
        tees_2ft=18,
        full=20,
        cut=22,
    ),
}


def ceiling_of(case: Case) -> Ceiling:
    system = read_system(case.system)
    assert system.cutting is not None
    system = replace(system, cutting=replace(system.cutting, end_gap=0.0))
    zone = make_zone(ROOM)
    x, y = (value * INCH for value in case.node)
    layout = make_layout(
        ROOM,
        system.along,
        system.across,
        node=(x, y),
        angle=case.angle,
        main_every=system.main_every,
    )
    members = place_members(zone, system, layout)
    cut = cut_pieces(system, layout, members)
    assert cut is not None
    return Ceiling(
        zone=zone,
        system=system,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=place_hangers(zone, system, layout, members),
        pieces=cut.pieces,
    )


@pytest.fixture(params=CASES, scope="module")
def room(request):
    case = CASES[request.param]
    ceiling = ceiling_of(case)
    return case, ceiling, measure_ceiling(ceiling), plan_bars([ceiling], THIN), plan_panels([ceiling], THIN)


def total(quantities, item):
    return sum(q.value for q in quantities if q.item is item)


def bars(plans, item, feet):
    return sum(
        len(p.bars) for p in plans if p.stock.item == item and p.stock.length == pytest.approx(feet * FOOT)
    )


def test_net_area_and_perimeter(room):
    _, _, quantities, *_ = room
    assert total(quantities, Item.CEILING_AREA) / FOOT**2 * 1e6 == pytest.approx(140.36, abs=0.005)
    assert total(quantities, Item.PERIMETER) / FOOT == pytest.approx(47 + 10 / 12)
    assert (total(quantities, Item.INSIDE_CORNER), total(quantities, Item.OUTSIDE_CORNER)) == (4, 0)


def test_mains_their_length_splices_and_stock(room):
    case, _, quantities, plans, _ = room
    assert total(quantities, Item.MAIN_LENGTH) / FOOT == pytest.approx(case.lineal_feet, abs=0.005)
    assert total(quantities, Item.SPLICE) == case.splices
    assert bars(plans, "main runner", 12) == case.mains


def test_border_tees_by_length(room):
    case, _, quantities, *_ = room
    found = {
        round(q.size[0] / INCH, 2): int(q.value)
        for q in quantities
        if q.item in (Item.CROSS_TEE, Item.SECOND_TEE) and round(q.size[0] / INCH, 2) not in (24.0, 48.0)
    }
    assert found == case.border_tees


def test_tees_to_buy_with_two_border_tees_from_one(room):
    case, _, _, plans, _ = room
    assert bars(plans, "tee", 4) == case.tees_4ft
    assert bars(plans, "tee", 2) == case.tees_2ft
    assert all(plan.gap == 0 for plan in plans)


def test_panels_full_and_cut(room):
    case, _, quantities, _, (panels,) = room
    assert total(quantities, Item.PANEL) == case.full == panels.full
    assert total(quantities, Item.CUT_PANEL) == case.cut == len(panels.demands)


def test_wall_angle_is_four_pieces_by_the_plan_and_by_the_rule_of_the_manual(room):
    _, _, quantities, plans, panels = room
    assert bars(plans, "wall angle", 12) == 4
    (line,) = [o for o in find_orders(quantities, plans, panels, {}, 450.0) if o.item is Item.WALL_ANGLE]
    assert line.rule.endswith("rounded up (NAVEDTRA 14044 p. 5-16): 4")


def test_each_main_of_its_own_takes_four_where_off_cuts_are_not_used():
    case = CASES["T-a: 2 x 4 ft, mains along 13 ft 7 in"]
    ceiling = ceiling_of(case)
    plans = [p for p in plan_bars([ceiling], THIN) if p.stock.item == "main runner"]
    pieces = [part for plan in plans for part in plan.parts]
    # Two pieces a line; without re-use each piece is a main of its own.
    assert len(pieces) == 4
