"""Rooms below the smallest that a policy speaks of."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from shapely import affinity

from ifcgrid.design.small_rooms import narrow_side, why_skipped, with_exemption
from ifcgrid.domain.policy import SmallRoom
from ifcgrid.domain.room import Zone
from ifcgrid.policies import read_policy

HALF = read_policy("half-module")


def zone(width: float) -> Zone:
    return Zone(key="z", rooms=(), outline=shapely.box(0, 0, 4000, width), level=2700.0)


def test_the_narrow_side_does_not_depend_on_how_the_room_is_turned():
    turned = affinity.rotate(shapely.box(0, 0, 4000, 900), 37)
    assert narrow_side(turned) == pytest.approx(900)


@pytest.mark.parametrize(("width", "is_small"), [(1199.0, True), (1199.995, False), (1200.0, False)])
def test_a_small_room_is_exempt_from_the_least_border_and_says_so(width, is_small):
    policy = replace(HALF, smallest_room=1200.0)
    where, chosen = with_exemption(zone(width), policy)
    assert why_skipped(zone(width), policy) == ""
    assert (chosen.minimum(600) == 0) is is_small
    assert bool(where.notes) is is_small
    if is_small:
        assert "exempt from the least border of 1/2 module" in where.notes[0]
        assert "below the smallest room of policy half-module, 1200 mm" in where.notes[0]


def test_or_it_gets_no_ceiling():
    policy = replace(HALF, smallest_room=1200.0, small_room=SmallRoom.SKIP)
    assert "its narrow side of 900 mm" in why_skipped(zone(900), policy)
    assert why_skipped(zone(1300), policy) == ""
    assert with_exemption(zone(900), policy) == (zone(900), policy)


def test_without_a_smallest_room_nothing_is_small():
    assert with_exemption(zone(300), HALF) == (zone(300), HALF)
