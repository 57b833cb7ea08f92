"""Laws of brace sets in any room, whatever is in the way: spacing, walls, crossings, clearance."""

from __future__ import annotations

from math import ceil

import numpy as np
import shapely
from handmade_lattices import LEVEL, make_layout, make_zone
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from ifcgrid.design.bracing import find_crossings, place_braces
from ifcgrid.design.framing import place_members
from ifcgrid.domain.bracing import find_bracing_rules
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")
TOP, SOFFIT = LEVEL + SYSTEM.main.height, LEVEL + 900.0
SPACING = 3657.6
CLEARANCE = 152.4

SIDES = st.integers(min_value=5000, max_value=14000)
DUCTS = st.lists(
    st.tuples(
        st.integers(0, 9000),
        st.integers(0, 9000),
        st.integers(300, 2500),
        st.integers(150, 600),
        st.booleans(),
    ),
    max_size=3,
)


def _room(width: int, depth: int, notch: bool) -> Polygon:
    room = box(0, 0, width, depth)
    return Polygon(room - box(width * 0.6, depth * 0.55, width, depth)) if notch else room


def _ducts(sizes) -> list[Obstacle]:
    found = []
    for number, (x, y, length, low, is_turned) in enumerate(sizes):
        outline = box(x, y, x + length, y + 400) if not is_turned else box(x, y, x + 400, y + length)
        z = LEVEL + low
        found.append(
            Obstacle(key=f"d{number}", kind=Kind.DUCT, name="", outline=outline, bottom=z, top=z + 200)
        )
    return found


@settings(max_examples=25, deadline=None)
@given(SIDES, SIDES, st.booleans(), DUCTS, st.sampled_from([1828.8, 1219.2]))
def test_sets_hold_every_place_stand_at_crossings_and_keep_clear(width, depth, notch, sizes, first):
    room = _room(width, depth, notch)
    zone = make_zone(room)
    layout = make_layout(room, 600, 600, node=(250, 350), main_every=2)
    members = place_members(zone, SYSTEM, layout)
    rules = find_bracing_rules("D", brace_area=0.0, first_brace=first)
    assert rules is not None
    slab = Obstacle(
        key="slab", kind=Kind.SLAB, name="", outline=room.buffer(3000), bottom=SOFFIT, top=SOFFIT + 200
    )
    ducts = _ducts(sizes)
    braces = place_braces(zone, SYSTEM, layout, members, rules, [slab, *ducts])
    assert braces is not None
    crossings = find_crossings(members, layout, rules.node_reach)[2]
    gaps = np.hypot(*(braces.point[:, None] - crossings[None]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() <= 50.8 + 1e-6
    # No set is left out that a crossing could give: a place out of reach of every set is out of reach
    # of every crossing too. Places beyond the walls stand for the distance from them.
    part = layout.frame.shape_to_local(room)
    grown = part.buffer(SPACING / 2 - first, join_style="mitre")
    u, v = np.meshgrid(*(np.arange(grown.bounds[k] + 5, grown.bounds[k + 2], 240.0) for k in (0, 1)))
    spots = np.column_stack([u.ravel(), v.ravel()])
    spots = spots[shapely.contains_xy(grown, spots)]
    held, reached = (
        np.abs(spots[:, None] - p[None]).max(axis=2).min(axis=1) <= SPACING / 2 + 0.1 + tolerance
        for p, tolerance in ((braces.point, 50.8), (crossings, -1.0))
    )
    if not notch:
        assert (held | ~reached).all()
        counts = [max(1, ceil((n + SPACING - 2 * first - 1) / SPACING)) for n in (width, depth)]
        if reached.all():
            assert len(braces) >= counts[0] * counts[1]
    _assert_clear(layout, braces, ducts)


def _assert_clear(layout, braces, ducts) -> None:
    feet = layout.frame.to_world(braces.point)
    for k, foot in enumerate(feet):
        for top in braces.wire_top[k]:
            if np.isnan(top).any():
                continue
            start, end = np.array([*foot, TOP]), np.array([*layout.frame.to_world([top[:2]])[0], top[2]])
            assert np.degrees(np.arctan2(end[2] - start[2], np.hypot(*(end - start)[:2]))) <= 45 + 1e-6
            points = start + np.linspace(0, 1, 80)[:, None] * (end - start)
            for duct in ducts:
                low, high = (*duct.outline.bounds[:2], duct.bottom), (*duct.outline.bounds[2:], duct.top)
                outside = np.maximum(np.maximum(low - points, points - high), 0)
                assert np.linalg.norm(outside, axis=1).min() >= CLEARANCE - 0.5
