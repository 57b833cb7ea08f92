"""Rectangles have formulas: counts of geometry must equal them, and ratios per area come near theirs.

Mains M of which run along X, tee lines nx across it, sub-lines S between the mains (derived):
tees between mains (M - 1) nx and 2 nx at the borders, tees between tees S (nx - 1) and 2 S,
panels (nx + 1)(M + S + 1), wall angle the perimeter.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from handmade_lattices import make_layout, make_zone
from shapely import box

from ifcgrid.design.framing import place_members
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.quantity import Item
from ifcgrid.domain.system import GridSystem
from ifcgrid.outputs.takeoff.measure import measure_ceiling
from ifcgrid.systems import read_system

SYSTEMS = [
    read_system(name) for name in ("lay-in-600x600", "lay-in-600x1200", "lay-in-2x2-ft", "lay-in-2x4-ft")
]


def rectangle(system: GridSystem, length: float, width: float, node: tuple[float, float]) -> Ceiling:
    room = box(0, 0, length, width)
    zone = make_zone(room)
    layout = make_layout(room, system.along, system.across, node=node, main_every=system.main_every)
    members = place_members(zone, system, layout)
    return Ceiling(
        zone=zone,
        system=system,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=place_hangers(zone, system, layout, members),
    )


def inside(first: float, step: float, reach: float) -> list[float]:
    """The places first + k * step strictly between the walls."""
    low = math.ceil((0.02 - first) / step)
    return [first + k * step for k in range(low, math.ceil((reach - 0.02 - first) / step))]


def counts(ceiling: Ceiling) -> dict[Item, dict[tuple[float, ...], int]]:
    found: dict[Item, dict[tuple[float, ...], int]] = {}
    for q in measure_ceiling(ceiling):
        sizes = found.setdefault(q.item, {})
        sizes[q.size] = sizes.get(q.size, 0) + q.value
    return found


def number(found: dict[Item, dict[tuple[float, ...], int]], item: Item) -> float:
    return sum(found.get(item, {}).values())


def test_counts_of_a_thousand_random_rooms_are_those_of_the_formulas():
    rnd = random.Random(5016)
    tried = 0
    while tried < 1000:
        system = SYSTEMS[tried % len(SYSTEMS)]
        length, width = round(rnd.uniform(1300, 12000), 1), round(rnd.uniform(1300, 9000), 1)
        node = (round(rnd.uniform(0, system.along), 1), round(rnd.uniform(0, system.main_spacing), 1))
        lines, mains = inside(node[0], system.along, length), inside(node[1], system.main_spacing, width)
        rows = inside(node[1], system.across, width)
        if not lines or not mains:
            continue
        ends = (lines[0], length - lines[-1], rows[0], width - rows[-1])
        if min(ends) < 10.0:
            continue  # a corner of less than a square centimetre is no piece
        tried += 1
        nx, m, s = len(lines), len(mains), len(rows) - len(mains)
        found = counts(rectangle(system, length, width, node))
        assert number(found, Item.MAIN_RUNNER) == m
        assert number(found, Item.CROSS_TEE) == (m - 1) * nx + 2 * nx
        assert number(found, Item.SECOND_TEE) == s * (nx - 1) + 2 * s
        assert number(found, Item.PANEL) + number(found, Item.CUT_PANEL) == (nx + 1) * (m + s + 1)
        assert number(found, Item.PANEL) == max(nx - 1, 0) * max(len(rows) - 1, 0)
        assert number(found, Item.MAIN_LENGTH) == pytest.approx(m * length)
        assert number(found, Item.ANGLE_LENGTH) == pytest.approx(2 * (length + width))
        assert number(found, Item.CONNECTION) == 2 * (m - 1) * nx + 2 * nx + 2 * s * (nx - 1) + 2 * s
        borders = found[Item.CROSS_TEE]
        for reach in {round(mains[0], 1), round(width - mains[-1], 1)} - {round(system.main_spacing, 1)}:
            sides = (round(mains[0], 1) == reach) + (round(width - mains[-1], 1) == reach)
            assert borders[(reach,)] == sides * nx


RATIOS = {
    # per square metre and per square foot, for large rooms only (derived)
    "lay-in-600x600": (1.0, 0.833, 1.389, 1.389, 2.778),
    "lay-in-2x4-ft": (0.3048**2, 0.25 * 0.3048, 0.125, 0.0, 0.125),
    "lay-in-2x2-ft": (0.3048**2, 0.25 * 0.3048, 0.125, 0.125, 0.25),
}


@pytest.mark.parametrize("name", RATIOS)
def test_ratios_per_area_are_approached_as_rooms_grow(name):
    system = read_system(name)
    unit, mains, long_tees, short_tees, panels = RATIOS[name]
    off: list[float] = []
    for side in (6_100.0, 24_100.0, 192_100.0):
        found = counts(rectangle(system, side, side, (350.0, 335.0)))
        area = number(found, Item.CEILING_AREA) / unit
        ratios = {
            number(found, Item.MAIN_LENGTH) / 1000 / area: mains,
            number(found, Item.CROSS_TEE) / area: long_tees,
            number(found, Item.SECOND_TEE) / area: short_tees,
            (number(found, Item.PANEL) + number(found, Item.CUT_PANEL)) / area: panels,
        }
        off.append(max(abs(got / want - 1) for got, want in ratios.items() if want))
    assert off[0] > off[1] > off[2]
    assert off[2] < 0.015


def test_a_metric_room_line_by_line():
    # 6100 x 4270 mm, 600 x 600, mains along 6100 at 1200 (derived): borders 350 and 335,
    # mains at 935, 2135, 3335.
    ceiling = rectangle(read_system("lay-in-600x600"), 6100.0, 4270.0, (350.0, 935.0))
    found = counts(ceiling)
    assert number(found, Item.PANEL) == 54
    assert number(found, Item.CUT_PANEL) == 34
    assert found[Item.CUT_PANEL][(350.0, 335.0)] == 4
    assert number(found, Item.MAIN_LENGTH) == pytest.approx(18_300)
    assert found[Item.CROSS_TEE] == {(1200.0,): 20, (935.0,): 20}
    assert found[Item.SECOND_TEE] == {(600.0,): 36, (350.0,): 8}
    assert number(found, Item.CEILING_AREA) == pytest.approx(26.047)
    assert number(found, Item.ANGLE_LENGTH) == pytest.approx(20_740)


def test_orientation_changes_the_bill():
    # 12 x 10 ft in 2 x 4 ft (derived): 15 panels and 12 tees one way, 18 and 15 the other.
    system, foot = read_system("lay-in-2x4-ft"), 304.8
    turned = counts(rectangle(system, 10 * foot, 12 * foot, (0.0, 4 * foot)))
    straight = counts(rectangle(system, 12 * foot, 10 * foot, (0.0, 3 * foot)))
    assert (number(turned, Item.PANEL), number(turned, Item.CUT_PANEL)) == (15, 0)
    assert (number(straight, Item.PANEL), number(straight, Item.CUT_PANEL)) == (6, 12)
    assert (number(turned, Item.CROSS_TEE), number(straight, Item.CROSS_TEE)) == (12, 15)


def test_pieces_that_are_not_known_give_no_splices():
    ceiling = rectangle(SYSTEMS[0], 9000.0, 4000.0, (300.0, 400.0))
    assert number(counts(ceiling), Item.SPLICE) == 0
    assert number(counts(replace(ceiling, openings=())), Item.LAY_IN_OPENING) == 0
