"""Laws of shared grids, shifted rows and corridors, for any room."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_lattices import make_zone
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from ifcgrid.design.corridor import corridor_axis, lies_on_axis
from ifcgrid.design.framing import place_members
from ifcgrid.design.layout import measure_layout, solve_layout
from ifcgrid.design.layout.joint import JointRoom, solve_jointly
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.setting_out import Start, solve_from
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

HALF = read_policy("half-module")
SQUARE = read_system("lay-in-600x600")
PLANKS = read_system("lay-in-300x1200-staggered")

sizes = st.integers(900, 7000)
turns = st.sampled_from([0.0, 12.5, 45.0, 90.0, 133.0])
shares = st.sampled_from([1 / 2, 1 / 3, 1 / 4, 2 / 5])


def rectilinear(width: int, depth: int, cut: tuple[float, float]) -> Polygon:
    """A rectangle, or one without a corner."""
    notch = box(width * (1 - cut[0]), depth * (1 - cut[1]), width, depth)
    return box(0, 0, width, depth).difference(notch) if min(cut) > 0.05 else box(0, 0, width, depth)


rooms = st.builds(
    rectilinear, sizes, sizes, st.tuples(st.sampled_from([0.0, 0.3, 0.5]), st.sampled_from([0.0, 0.4]))
)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(first=rooms, second=rooms, dx=st.integers(-9000, 9000), dy=st.integers(-9000, 9000), turn=turns)
def test_two_rooms_on_one_shared_origin_have_the_same_phase(first, second, dx, dy, turn):
    moved = affinity.translate(second, dx, dy)
    outlines = [affinity.rotate(outline, turn, origin=(0, 0)) for outline in (first, moved)]
    one, two = solve_jointly([JointRoom(key=str(k), outline=o) for k, o in enumerate(outlines)], SQUARE, HALF)
    assert one.frame.angle_deg == pytest.approx(two.frame.angle_deg, abs=1e-9)
    away = one.frame.to_local([[two.frame.x, two.frame.y]])[0] / 600.0
    assert away == pytest.approx(np.round(away), abs=1e-5)
    # Each room's own numbers are those of that lattice in that room.
    again = measure_layout(outlines[1], SQUARE, HALF, two.frame, two.main_phase)
    assert dict(again.scores) == pytest.approx(dict(two.scores), abs=1e-3)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(outline=rooms, share=shares, turn=turns)
def test_shifted_rows_fill_any_room_on_members(outline, share, turn):
    system = replace(PLANKS, row_shift=share)
    room = affinity.rotate(outline, turn, origin=(0, 0))
    layout, zone = solve_layout(room, system, HALF), make_zone(room)
    panels, members = cut_panels(zone, layout), place_members(zone, system, layout)
    # Scraps below 1 cm² are no panels.
    assert panels.area.sum() == pytest.approx(room.area, abs=100.0 * (len(panels) + 1))
    assert panels.area.sum() <= room.area + 1.0
    shapes = [panels.outlines.get(k, box(*panels.bounds[k])) for k in range(len(panels))]
    lines = [shapely.LineString(ends) for ends in zip(members.start, members.end, strict=True)]
    edges = shapely.union_all([shape.exterior for shape in shapes])
    off = shapely.difference(edges, shapely.buffer(shapely.union_all(lines), 0.05))
    assert off.length == pytest.approx(0.0, abs=2.0)
    # Beside one another in a row are only panels of that row.
    assert (panels.bounds[:, 3] - panels.bounds[:, 1] <= layout.across + 0.02).all()


@settings(max_examples=25, deadline=None, derandomize=True)
@given(width=st.integers(1200, 3000), ratio=st.floats(4.05, 9.0), niche=st.integers(0, 500), turn=turns)
def test_both_lanes_of_any_corridor_are_equal(width, ratio, niche, turn):
    length = round(width * ratio)
    corridor = box(0, 0, length, width)
    if niche > 100:
        corridor = corridor.union(box(length * 0.3, width - 1, length * 0.5, width + niche))
    corridor = affinity.rotate(corridor, turn, origin=(0, 0))
    axis = corridor_axis(corridor)
    layout = solve_from(corridor, SQUARE, HALF, Start())
    if axis is None:  # the niche made it too wide
        assert length < 4 * (width + niche) + 1
    else:
        assert lies_on_axis(layout, axis) in ("joint", "panel")
