"""Brace sets: counts of published rules, least counts by exhaustive search, ways past services."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import ceil

import numpy as np
import pytest
import shapely
from handmade_lattices import LEVEL, make_layout, make_zone
from shapely import Polygon, box
from shapely.affinity import rotate

from ifcgrid.design.brace_grid import choose_crossings, equal_lines
from ifcgrid.design.bracing import find_crossings, place_braces
from ifcgrid.design.framing import place_members
from ifcgrid.domain.bracing import find_bracing_rules
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.hanging import Braces
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.systems import read_system

FOOT = 304.8
SYSTEM = read_system("lay-in-2x2-ft")
TOP = LEVEL + SYSTEM.main.height
L_ROOM = Polygon([(0, 0), (20000, 0), (20000, 9000), (11000, 9000), (11000, 15000), (0, 15000)])


def _thing(kind: Kind, outline: Polygon, bottom: float, top: float, key: str = "") -> Obstacle:
    return Obstacle(key=key or str(kind), kind=kind, name="", outline=outline, bottom=bottom, top=top)


def _slab(room: Polygon, height: float = 1000.0) -> Obstacle:
    return _thing(Kind.SLAB, room.buffer(4000), LEVEL + height, LEVEL + height + 200)


def _brace(
    room: Polygon, *obstacles: Obstacle, angle: float = 0.0, node=(0.0, 0.0), **changes
) -> tuple[Braces | None, np.ndarray]:
    """The braces of a room, and all crossings where there could be one."""
    zone = make_zone(room)
    layout = make_layout(room, SYSTEM.along, SYSTEM.across, node=node, angle=angle, main_every=2)
    members = place_members(zone, SYSTEM, layout)
    rules = find_bracing_rules("D", **changes)
    assert rules is not None
    braces = place_braces(zone, SYSTEM, layout, members, rules, obstacles)
    return braces, find_crossings(members, layout, rules.node_reach)[2]


# City of Daly City b18 and NWCB 401: sets at most 12 ft apart each way, the first at most 6 ft from
# a wall; a plan sheet restating California DSA rules: 4 ft. Counts follow: ceil(L / 12) a direction
# with 6 ft, 1 + ceil((L - 8) / 12) with 4 ft. Sets stand at crossings, so the counts are lower bounds.
@pytest.mark.parametrize(
    ("size", "first", "counts"),
    [((40, 30), 6, (4, 3)), ((40, 30), 4, (4, 3)), ((36, 36), 6, (3, 3)), ((36, 36), 4, (4, 4))],
)
def test_counts_of_the_spacing_rule_are_lower_bounds(size, first, counts):
    formula = [ceil(n / 12) if first == 6 else 1 + ceil((n - 8) / 12) for n in size]
    assert tuple(formula) == counts
    room = box(0, 0, size[0] * FOOT, size[1] * FOOT)
    braces, _ = _brace(room, _slab(room), first_brace=first * FOOT)
    assert braces is not None
    assert len(braces) >= counts[0] * counts[1]
    if (size, first) == ((36, 36), 6):
        # Mains at 4, 8, 12 ... ft do not reach 6, 18 and 30 ft: a row more. On a lattice that does: 9.
        assert len(braces) == 12
        friendly, _ = _brace(room, _slab(room), node=(0, 2 * FOOT), first_brace=6 * FOOT)
        assert friendly is not None
        assert len(friendly) == 9
        assert sorted(set(np.round(friendly.point[:, 0] / FOOT, 6))) == [6, 18, 30]
    else:
        assert len(braces) == counts[0] * counts[1]


# ASTM E580-09a 1.5 (up to 1,000 ft² exempt) and ASCE 7-05 13.5.6.2.2 c (more needs restraint).
@pytest.mark.parametrize(
    ("size", "is_braced"),
    [((12, 13), False), ((31, 32), False), ((25, 40), False), ((32, 32), True), ((50, 50), True)],
)
def test_only_ceilings_of_more_than_1000_square_feet_get_sets(size, is_braced):
    room = box(0, 0, size[0] * FOOT, size[1] * FOOT)
    braces, _ = _brace(room, _slab(room))
    assert (braces is not None) is is_braced
    always, _ = _brace(room, _slab(room), brace_area=0.0)
    assert always is not None
    assert len(always) >= 1


def test_categories_ask_for_what_they_ask_for():
    assert find_bracing_rules("A") is find_bracing_rules("b") is None
    low, high = find_bracing_rules("C"), find_bracing_rules("E")
    assert low is not None
    assert high is not None
    assert (low.is_braced, low.is_attached, low.free_gap) == (False, False, pytest.approx(9.525))
    assert (high.is_braced, high.is_attached, high.free_gap) == (True, True, pytest.approx(19.05))
    with pytest.raises(SystemDataError, match="'G'; choose one of A, B, C"):
        find_bracing_rules("G")


@pytest.mark.parametrize(("room", "angle"), [(L_ROOM, 0.0), (rotate(L_ROOM, 17, (0, 0)), 17.0)])
@pytest.mark.parametrize("first", [4, 6])
def test_every_place_has_a_set_within_half_the_spacing_and_every_wall_one_near(room, angle, first):
    braces, crossings = _brace(room, _slab(room), angle=angle, node=(0, 0), first_brace=first * FOOT)
    assert braces is not None
    layout = make_layout(room, SYSTEM.along, SYSTEM.across, node=(0, 0), angle=angle, main_every=2)
    local = layout.frame.shape_to_local(room)
    # Each stands at a crossing.
    gaps = np.hypot(*(braces.point[:, None] - crossings[None]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() <= 50.8
    u, v = np.meshgrid(*(np.arange(local.bounds[k], local.bounds[k + 2], 90.0) for k in (0, 1)))
    spots = np.column_stack([u.ravel(), v.ravel()])
    spots = spots[shapely.contains_xy(local, spots)]
    apart = np.abs(spots[:, None] - braces.point[None]).max(axis=2).min(axis=1)
    assert apart.max() <= 6 * FOOT + 0.1
    if first == 4:
        for wall in map(shapely.LineString, pairwise(local.exterior.coords)):
            assert shapely.distance(wall, shapely.points(braces.point)).min() <= 4 * FOOT + 0.1


def _exhaustive(points: np.ndarray, part: Polygon, spacing: float, end: float) -> int:
    """The least count over all choices, judged on a fine raster of the grown part."""
    grown = part.buffer(spacing / 2 - end, join_style="mitre")
    low, high = np.array(grown.bounds[:2]), np.array(grown.bounds[2:])
    axes = [np.linspace(low[k] + 1, high[k] - 1, 80) for k in (0, 1)]
    spots = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    held = np.abs(spots[:, None] - points[None]).max(axis=2) <= spacing / 2
    held = held[held.any(axis=1)]  # what no crossing reaches, no choice holds
    return next(
        n for n in range(1, 8) for c in combinations(range(len(points)), n) if held[:, c].any(axis=1).all()
    )


@pytest.mark.parametrize("end", [900.0, 1500.0])
@pytest.mark.parametrize(
    ("width", "depth", "start"),
    [(4500, 2600, (450, 300)), (5000, 2400, (200, 700)), (3900, 3900, (600, 100)), (6000, 2200, (80, 900))],
)
def test_no_choice_with_fewer_sets_keeps_the_distances(width, depth, start, end):
    u, v = np.meshgrid(np.arange(start[0], width, 900.0), np.arange(start[1], depth, 1200.0))
    points = np.column_stack([u.ravel(), v.ravel()])
    part = box(0, 0, width, depth)
    chosen = choose_crossings(points, np.ones(len(points), dtype=bool), part, 3000.0, end)
    assert len(chosen) == _exhaustive(points, part, 3000.0, end)


def test_lines_are_chosen_with_equal_shares():
    places = [float(k) for k in range(600, 36000, 600)]
    chosen = equal_lines(places, 0.0, 36000.0, 3657.6, 1828.8)
    gaps = np.diff([0.0, *chosen, 36000.0])
    assert len(chosen) == 10
    assert gaps.tolist() == [1800.0, *[3600.0] * 9, 1800.0]
    assert equal_lines([1000.0, 9000.0], 0.0, 10000.0, 3657.6, 1828.8) == []


def _lines(braces: Braces, room: Polygon, node) -> list[shapely.LineString]:
    layout = make_layout(room, SYSTEM.along, SYSTEM.across, node=node, main_every=2)
    feet = layout.frame.to_world(braces.point)
    tops = layout.frame.to_world(braces.wire_top[:, :, :2].reshape(-1, 2)).reshape(-1, 4, 2)
    found = []
    for k, foot in enumerate(feet):
        for w in range(4):
            top = (*tops[k, w], braces.wire_top[k, w, 2])
            found.append((np.array([*foot, TOP]), np.array(top)))
    return found


def test_wires_go_up_at_right_angles_and_no_steeper_than_45_degrees_to_the_soffit():
    room = box(0, 0, 40 * FOOT, 30 * FOOT)
    braces, _ = _brace(room, _slab(room))
    assert braces is not None
    assert np.allclose(braces.post_top, LEVEL + 1000)
    assert np.allclose(braces.wire_top[:, :, 2], LEVEL + 1000)
    assert {s for row in braces.support for s in row} == {"slab"}
    run = braces.wire_top[:, :, :2] - braces.point[:, None]
    assert np.allclose(np.hypot(run[:, :, 0], run[:, :, 1]), LEVEL + 1000 - TOP)
    turned = (run * np.roll(run, -1, axis=1)).sum(axis=2)
    assert np.abs(turned).max() < 1.0
    assert np.abs(run.sum(axis=1)).max() < 1.0


def test_wires_and_posts_keep_clear_of_a_duct_or_the_next_crossing_is_taken():
    room = box(0, 0, 40 * FOOT, 30 * FOOT)
    duct = _thing(Kind.DUCT, box(-1000, 4500, 14000, 5100), LEVEL + 250, LEVEL + 650)
    free, _ = _brace(room, _slab(room))
    braces, _ = _brace(room, _slab(room), duct)
    assert free is not None
    assert braces is not None
    assert not np.isnan(braces.wire_top).any()
    assert not np.isnan(braces.post_top).any()
    assert not np.array_equal(free.wire_top, braces.wire_top)
    # Independently of the design: sample every wire and measure to the duct's box.
    for start, end in _lines(braces, room, (0, 0)):
        points = start + np.linspace(0, 1, 400)[:, None] * (end - start)
        low, high = np.array([-1000, 4500, LEVEL + 250]), np.array([14000, 5100, LEVEL + 650])
        outside = np.maximum(np.maximum(low - points, points - high), 0)
        assert np.linalg.norm(outside, axis=1).min() >= 152.4 - 1.0
        rise = np.degrees(np.arctan2(end[2] - start[2], np.hypot(*(end - start)[:2])))
        assert rise <= 45.0 + 1e-6


def test_where_no_way_is_clear_the_set_stands_and_what_is_missing_is_open():
    room = box(0, 0, 40 * FOOT, 30 * FOOT)
    lid = _thing(Kind.DUCT, box(-3000, -3000, 20000, 20000), LEVEL + 500, LEVEL + 600)
    braces, _ = _brace(room, _slab(room), lid)
    assert braces is not None
    assert len(braces) == 12
    assert np.isnan(braces.wire_top).all()
    assert np.isnan(braces.post_top).all()
    bare, _ = _brace(room)
    assert bare is not None
    assert np.array_equal(bare.point, braces.point)
    assert {s for row in bare.support for s in row} == {""}


def test_a_wire_is_fixed_to_a_beam_that_it_meets_first():
    room = box(0, 0, 40 * FOOT, 30 * FOOT)
    beam = _thing(Kind.BEAM, box(1800, -500, 2100, 10000), LEVEL + 600, LEVEL + 1000)
    braces, _ = _brace(room, _slab(room), beam)
    assert braces is not None
    first = [w for row in braces.support for w in row[1:]]
    assert first.count("beam") >= 3
    at = [(k, w) for k, row in enumerate(braces.support) for w in range(4) if row[1 + w] == "beam"]
    tops = braces.wire_top[tuple(np.array(at).T)]
    assert (np.abs(tops[:, 2] - LEVEL - 800) <= 200).all()
