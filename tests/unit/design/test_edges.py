"""Attached and free walls, members short of free walls, bars that tie runners there."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from handmade_lattices import make_layout, make_zone
from shapely import Polygon, box
from shapely.affinity import rotate
from shapely.geometry.polygon import orient

from ifcgrid.design.edges import find_perimeter, place_stabilisers, shorten_members
from ifcgrid.design.framing import place_members
from ifcgrid.design.joints import cut_members, find_joints, split_zone
from ifcgrid.domain.bracing import PerimeterWall, find_bracing_rules
from ifcgrid.domain.ceiling import Role
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")
RULES = find_bracing_rules("D")
assert RULES is not None
L_ROOM = Polygon([(0, 0), (9000, 0), (9000, 4000), (5000, 4000), (5000, 7000), (0, 7000)])


def _sides(room: Polygon, walls: tuple[PerimeterWall, ...]) -> dict[tuple, PerimeterWall]:
    """Middle of each wall to what was said of it."""
    found = {}
    for wall in walls:
        ring = (room.exterior, *room.interiors)[wall.ring]
        a, b = np.asarray(ring.coords)[wall.edge : wall.edge + 2]
        found[tuple(np.rint((a + b) / 2).tolist())] = wall
    return found


def _design(room: Polygon, *, angle: float = 0.0, category: str = "D", node=(250, 150)):
    rules = find_bracing_rules(category)
    assert rules is not None
    zone = make_zone(room)
    layout = make_layout(room, 600, 600, node=node, main_every=2, angle=angle)
    members = place_members(zone, SYSTEM, layout)
    joints = find_joints(zone, layout, rules)
    parts = split_zone(zone, layout, joints)
    members = cut_members(members, layout, joints)
    return zone, layout, members, parts, find_perimeter(zone, layout, parts, rules), rules


@pytest.mark.parametrize("turn", [lambda p: p, lambda p: orient(p, -1.0)])
def test_two_adjacent_walls_are_attached_the_longest_two_and_the_others_free(turn):
    # ASCE 7-05 13.5.6.2.2 b: 3/4 in at the free ends.
    room = turn(L_ROOM)
    *_, walls, _ = _design(room)
    said = _sides(room, walls)
    assert {m for m, w in said.items() if w.is_attached} == {(4500, 0), (0, 3500)}
    assert {round(w.gap, 6) for w in walls if not w.is_attached} == {19.05}
    assert {w.gap for w in walls if w.is_attached} == {0.0}


def test_in_category_c_no_wall_is_attached():
    *_, walls, _ = _design(L_ROOM, category="C")
    assert len(walls) == 6
    assert not any(w.is_attached for w in walls)
    assert {round(w.gap, 6) for w in walls} == {9.525}  # 3/8 in, from memory: ASTM E580 section 4


def test_a_wall_drawn_in_several_straight_edges_is_one_wall():
    room = Polygon([(0, 0), (3000, 0), (6000, 0), (6000, 5000), (0, 5000), (0, 2500)])
    *_, walls, _ = _design(room)
    attached = {(w.ring, w.edge) for w in walls if w.is_attached}
    assert len(attached) == 3
    said = _sides(room, walls)
    assert said[1500, 0].is_attached is said[4500, 0].is_attached
    assert said[0, 3750].is_attached is said[0, 1250].is_attached


def test_columns_are_free_and_round_rooms_get_some_answer():
    holed = box(0, 0, 6000, 5000) - box(2000, 2000, 2400, 2400)
    *_, walls, _ = _design(holed)
    assert [w.is_attached for w in walls if w.ring == 1] == [False] * 4
    *_, walls, _ = _design(shapely.Point(4000, 4000).buffer(3500, quad_segs=8))
    assert 1 <= sum(w.is_attached for w in walls) <= 2


@pytest.mark.parametrize("angle", [0.0, 17.0])
def test_runners_stop_a_gap_short_of_free_walls_and_only_there(angle):
    room = rotate(L_ROOM, angle, origin=(0, 0))
    zone, layout, members, parts, walls, _ = _design(room, angle=angle, node=(0, 0))
    short = shorten_members(members, zone, layout, parts, walls)
    local = layout.frame.shape_to_local(room)
    trim = members.role == Role.WALL_ANGLE
    assert np.array_equal(short.start[trim], members.start[trim])
    said = {(w.ring, w.edge): w for w in walls}
    corners = np.asarray(local.exterior.coords)
    ends = np.concatenate([members.start[~trim], members.end[~trim]])
    moved = np.concatenate([short.start[~trim], short.end[~trim]])
    checked = {True: 0, False: 0}
    for end, now in zip(ends, moved, strict=True):
        near = [
            k
            for k in range(len(corners) - 1)
            if shapely.LineString(corners[k : k + 2]).distance(shapely.Point(end)) < 0.1
        ]
        if len(near) != 1:
            continue
        wall = said[0, near[0]]
        checked[wall.is_attached] += 1
        assert np.hypot(*(now - end)) == pytest.approx(0.0 if wall.is_attached else 19.05, abs=1e-6)
        assert local.covers(shapely.Point(now).buffer(0.001)) or wall.is_attached
    assert min(checked.values()) > 10


def test_bars_tie_neighbouring_runner_ends_at_free_walls_within_8_inches():
    zone, layout, members, parts, walls, rules = _design(L_ROOM)
    bars = place_stabilisers(members, zone, layout, parts, walls, rules)
    said = {(w.ring, w.edge): w for w in walls}
    assert len(bars) >= 10
    assert len(set(bars.keys())) == len(bars)
    local = layout.frame.shape_to_local(L_ROOM)
    corners = np.asarray(local.exterior.coords)
    runners = [
        shapely.LineString([a, b])
        for a, b, r in zip(members.start, members.end, members.role, strict=True)
        if r != Role.WALL_ANGLE
    ]
    for k in range(len(bars)):
        edge = int(bars.edge[k])
        assert not said[int(bars.ring[k]), edge].is_attached
        wall = shapely.LineString(corners[edge : edge + 2])
        for end in (bars.start[k], bars.end[k]):
            assert wall.distance(shapely.Point(end)) <= 203.2  # 8 in, from memory
            assert min(r.distance(shapely.Point(end)) for r in runners) < 0.01


def test_a_wall_whose_first_parallel_runner_is_near_needs_no_bars():
    # 12 in, from memory. The first line along the right wall is 300 mm from it, along the top 450.
    room = box(0, 0, 6000, 4050)
    zone, layout, members, parts, walls, rules = _design(room, node=(300, 0))
    bars = place_stabilisers(members, zone, layout, parts, walls, rules)
    free = [w.edge for w in walls if not w.is_attached]
    corners = np.asarray(room.exterior.coords)
    right = next(e for e in range(4) if (corners[e : e + 2, 0] == 6000).all())
    tied = set(bars.edge.tolist())
    assert right not in tied
    assert tied <= set(free)
    wide = place_stabilisers(members, zone, layout, parts, walls, find_bracing_rules("D", bar_free=299.0))
    if right in free:
        assert right in set(wide.edge.tolist())


def test_each_part_between_joints_has_two_attached_walls_of_its_own():
    room = box(0, 0, 34000, 9000)
    *_, parts, walls, _ = _design(room)
    assert len(parts) == 2
    for part in (0, 1):
        own = [w for w in walls if w.part == part]
        assert len(own) == 3  # the joint is no wall
        assert sum(w.is_attached for w in own) == 2
