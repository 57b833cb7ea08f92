"""Heads of doors and windows, leaves that swing, and headroom."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_obstacles import LEVEL, only, room, rules, thing
from shapely import affinity, box

from ifcgrid.domain.obstacle import Kind

IN_WALL = box(2000, -120, 2900, -80)
"""In a wall south of the room, 80 mm behind its face."""


@pytest.mark.parametrize("kind", [Kind.DOOR, Kind.WINDOW])
@pytest.mark.parametrize(("head", "hits"), [(LEVEL + 6, True), (LEVEL + 4, False), (LEVEL - 600, False)])
def test_a_head_is_not_above_the_ceiling(kind, head, hits):
    rule = f"{kind}-head-above-ceiling"
    assert rules(room(), thing(kind, IN_WALL, 0, head)) == ([rule] if hits else [])


def test_the_measure_is_how_far_the_highest_head_of_a_room_is_above():
    doors = [
        thing(Kind.DOOR, affinity.translate(IN_WALL, 1500 * k), 0, LEVEL + 50 + k, f"{k}") for k in (0, 1)
    ]
    finding = only(room(), *doors)
    assert finding.value == 51
    assert finding.subjects == ("0", "1")


def test_a_door_in_another_wall_round_the_corner_is_no_finding():
    # Its wall runs away from the room's corner: no edge of the ceiling faces it.
    assert rules(room(), thing(Kind.DOOR, box(-120, -1100, -80, -100), 0, LEVEL + 200)) == []


def test_a_door_beyond_the_reach_is_no_finding():
    far = affinity.translate(IN_WALL, 0, -400)
    assert rules(room(), thing(Kind.DOOR, far, 0, LEVEL + 200)) == []
    assert rules(room(), thing(Kind.DOOR, affinity.translate(IN_WALL, 0, -200), 0, LEVEL + 200)) != []


def test_a_leaf_that_swings_under_a_lower_ceiling_is_told():
    door = thing(Kind.DOOR, box(2000, -720, 2900, -680), 0, LEVEL + 60, "door")
    assert rules(room(), door) == []
    swinging = replace(door, sweep=box(2000, -700, 2900, 200))
    assert rules(room(), swinging) == ["door-head-above-ceiling"]
    assert rules(room(), replace(door, sweep=box(2000, -1600, 2900, -700))) == []


@pytest.mark.parametrize(("floor", "hits"), [(LEVEL - 2286, False), (LEVEL - 2270, True)])
def test_a_ceiling_leaves_headroom(floor, hits):
    ceiling = room()
    (only_room,) = ceiling.zone.rooms
    low = replace(ceiling, zone=replace(ceiling.zone, rooms=(replace(only_room, floor=floor),)))
    assert rules(low) == (["ceiling-below-headroom"] if hits else [])
    if hits:
        assert only(low).value == pytest.approx(16)
