"""Separation joints: where they are asked for, equal parts, members cut there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_lattices import make_layout, make_zone
from shapely import Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.joints import cut_members, find_joints, split_zone
from ifcgrid.domain.bracing import BracingRules, SeparationJoint, find_bracing_rules
from ifcgrid.domain.ceiling import Members, Role
from ifcgrid.systems import read_system

FOOT = 304.8
SYSTEM = read_system("lay-in-2x2-ft")


def _joints(room: Polygon, **changes: object) -> tuple[tuple[SeparationJoint, ...], list[Polygon], Members]:
    zone = make_zone(room)
    layout = make_layout(room, SYSTEM.along, SYSTEM.across, node=(300, 0), main_every=2)
    rules = find_bracing_rules("D", **changes)
    assert isinstance(rules, BracingRules)
    joints = find_joints(zone, layout, rules)
    members = cut_members(place_members(zone, SYSTEM, layout), layout, joints)
    return joints, split_zone(zone, layout, joints), members


# ASCE 7-05 13.5.6.2.2 d (second-hand): a joint where a ceiling has more than 2,500 ft². Each part no
# longer than four times its width: from memory, ASCE 7-10.
@pytest.mark.parametrize(
    ("size", "parts"), [((50, 50), 1), ((50, 51), 2), ((25, 100), 1), ((100, 51), 3), ((20, 200), 3)]
)
def test_parts_have_at_most_2500_square_feet_and_a_ratio_of_four(size, parts):
    room = box(0, 0, size[0] * FOOT, size[1] * FOOT)
    joints, split, _ = _joints(room)
    assert len(split) == parts
    assert (joints == ()) is (parts == 1)
    assert sum(p.area for p in split) == pytest.approx(room.area)
    for part in split:
        low_u, low_v, high_u, high_v = part.bounds
        assert part.area <= 2500 * FOOT**2 + 1
        if parts > 1:
            assert max(high_u - low_u, high_v - low_v) <= 4 * min(high_u - low_u, high_v - low_v) + 0.01
    # Equal but for the step of the lines: a main every 4 ft, a tee line every 2 ft.
    areas = [p.area for p in split]
    assert max(areas) - min(areas) <= 2 * 4 * FOOT * max(size) * FOOT


def test_the_ratio_alone_asks_for_a_joint_only_where_the_rules_are_told_so():
    room = box(0, 0, 60 * FOOT, 10 * FOOT)
    assert _joints(room)[0] == ()
    joints, split, _ = _joints(room, is_ratio_alone=True)
    assert [j.axis for j in joints] == ["u"]
    assert len(split) == 2


def test_a_joint_through_two_legs_of_a_room_has_two_pieces():
    room = Polygon([(0, 0), (30000, 0), (30000, 14000), (20000, 14000), (20000, 8000), (10000, 8000)])
    room = room.union(box(0, 0, 10000, 14000))
    joints, split, _ = _joints(room, joint_area=90e6, joint_ratio=9.0)
    assert len(split) > len({(j.axis, j.line) for j in joints})
    for joint in joints:
        middle = np.mean([joint.start, joint.end], axis=0)
        sides = [p for p in split if p.distance(shapely.Point(middle)) < 1]
        assert len(sides) >= 2
    keys = [j.key for j in joints]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(("size", "axis"), [((100, 30), "u"), ((30, 100), "v")])
def test_no_member_crosses_a_joint_and_what_comes_after_it_keeps_the_gap(size, axis):
    room = box(0, 0, size[0] * FOOT, size[1] * FOOT)
    (joint,), _, members = _joints(room)
    assert joint.axis == axis
    k = 0 if axis == "u" else 1
    at = joint.start[k]
    runners = members.role != Role.WALL_ANGLE
    low, high = np.sort(np.stack([members.start[runners, k], members.end[runners, k]]), axis=0)
    assert ((high <= at + 0.01) | (low >= at + 19.05 - 0.01)).all()
    assert (np.abs(low - at - 19.05) < 0.01).sum() > 5
    assert len(set(members.keys())) == len(members)


def test_cutting_keeps_the_order_and_numbers_runs_anew():
    room = box(0, 0, 100 * FOOT, 30 * FOOT)
    (joint,), _, members = _joints(room)
    mains = members.role == Role.MAIN_RUNNER
    assert set(members.index[mains].tolist()) == {0, 1}
    order = np.lexsort((members.start[mains, 0], members.line[mains]))
    assert (order == np.arange(mains.sum())).all()
    total = members.length[mains].sum()
    layout = make_layout(room, SYSTEM.along, SYSTEM.across, node=(300, 0), main_every=2)
    whole = place_members(make_zone(room), SYSTEM, layout)
    before = whole.length[whole.role == Role.MAIN_RUNNER].sum()
    assert total == pytest.approx(before - joint.gap * (members.index[mains] == 1).sum())
    assert cut_members(whole, layout, ()) is whole
    crossed = cut_members(whole, layout, [replace(joint, gap=0.0)])
    assert crossed.length.sum() == pytest.approx(whole.length.sum())
