"""Wires by weight and size, at and about each limit."""

from __future__ import annotations

import pytest

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.obstacle import Kind
from ifcgrid.domain.tiers import WIRE_TIERS, find_wire_tiers

POUND = 0.45359237
SMALL, LARGE = (603.0, 603.0), (1210.0, 1215.0)

LIGHTS = [
    # Northwest Wall & Ceiling Bureau, Technical Document 401: below 10 lb one, 10 to 56 lb two at
    # opposite corners, above 56 lb carried by the structure; exactly 10 and 56 lb are in no tier.
    ("nwcb", 9.9, SMALL, 1, True, True),
    ("nwcb", 10.0, SMALL, 2, True, False),
    ("nwcb", 10.1, SMALL, 2, True, True),
    ("nwcb", 55.9, SMALL, 2, True, True),
    ("nwcb", 56.0, SMALL, 4, False, False),
    ("nwcb", 56.1, SMALL, 4, False, True),
    ("nwcb", 30.0, LARGE, 2, True, True),
    # Plan sheet with San Joaquin County restating California DSA rules, note 12: no 10 lb tier,
    # "56 lb or more" supported independently, 4 x 4 ft lights a slack wire at each corner.
    ("dsa", 9.9, SMALL, 2, True, True),
    ("dsa", 10.0, SMALL, 2, True, True),
    ("dsa", 10.1, SMALL, 2, True, True),
    ("dsa", 55.9, SMALL, 2, True, True),
    ("dsa", 56.0, SMALL, 4, False, True),
    ("dsa", 56.1, SMALL, 4, False, True),
    ("dsa", 30.0, LARGE, 4, True, True),
]


@pytest.mark.parametrize(("tiers", "pounds", "size", "count", "is_slack", "is_defined"), LIGHTS)
def test_a_light_gets_the_wires_of_its_tier(tiers, pounds, size, count, is_slack, is_defined):
    found = find_wire_tiers(tiers).demand(Kind.LIGHT, pounds * POUND, size)
    assert (found.count, found.is_slack, found.is_defined) == (count, is_slack, is_defined)


@pytest.mark.parametrize(("pounds", "count"), [(19.9, 0), (20.1, 2), (55.9, 2), (56.1, 4)])
def test_a_terminal_gets_the_wires_of_its_tier(pounds, count):
    # ASTM E580 5.4, from memory: below 20 lb attached only, 20 to 56 lb two wires, above from structure.
    assert find_wire_tiers("nwcb").demand(Kind.AIR_TERMINAL, pounds * POUND, SMALL).count == count


def test_an_assumed_weight_gives_two_wires_in_every_set():
    for tiers in WIRE_TIERS:
        for kind in (Kind.LIGHT, Kind.AIR_TERMINAL):
            assert tiers.demand(kind, tiers.assumed_kg, SMALL).count == 2


def test_an_unknown_set_is_answered_with_the_known_ones():
    with pytest.raises(SystemDataError, match="nwcb, dsa"):
        find_wire_tiers("slack")
