"""Random rooms with lattices in them, for tests of laws."""

from __future__ import annotations

import math

import shapely
from handmade_lattices import make_layout
from hypothesis import assume
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from ifcgrid.domain.layout import Layout
from ifcgrid.systems import read_system

SYSTEMS = [
    read_system(name) for name in ("lay-in-600x600", "lay-in-600x1200", "lay-in-300x1200", "lay-in-2x2-ft")
]


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    return max(parts, key=lambda p: p.area, default=Polygon())


@st.composite
def rectilinear_rooms(draw: st.DrawFn) -> Polygon:
    """Boxes joined and cut on a raster that often meets the lattice's lines."""
    step = draw(st.sampled_from([100, 150, 304.8, 37]))
    span = st.integers(0, 24)

    def rectangle() -> Polygon:
        x, y = draw(span), draw(span)
        return box(
            x * step, y * step, (x + draw(st.integers(1, 20))) * step, (y + draw(st.integers(1, 20))) * step
        )

    room = shapely.union_all([rectangle() for _ in range(draw(st.integers(1, 3)))])
    for _ in range(draw(st.integers(0, 3))):
        room = room.difference(rectangle())
    room = _largest(room)
    assume(room.area > 1e5 and room.is_valid)
    return room


@st.composite
def oblique_rooms(draw: st.DrawFn) -> Polygon:
    """Star-shaped outlines with an oblique column."""
    corners = draw(st.lists(st.tuples(st.integers(0, 359), st.integers(900, 5000)), min_size=3, max_size=9))
    ring = {turn: reach for turn, reach in corners}
    room = Polygon(
        [
            (round(reach * math.cos(math.radians(turn))), round(reach * math.sin(math.radians(turn))))
            for turn, reach in sorted(ring.items())
        ]
        if len(ring) > 2
        else []
    )
    assume(room.is_valid and room.area > 1e6)
    if draw(st.booleans()):
        size, turn = draw(st.integers(50, 900)), draw(st.integers(0, 89))
        column = affinity.rotate(box(-size, -size / 2, size, size / 2), turn)
        middle = room.representative_point()
        room = room.difference(affinity.translate(column, middle.x, middle.y))
        assume(isinstance(room, Polygon))
    return room


ROOMS = st.one_of(rectilinear_rooms(), oblique_rooms())


@st.composite
def layouts(draw: st.DrawFn) -> tuple[Polygon, Layout, int]:
    room = draw(ROOMS)
    number = draw(st.integers(0, len(SYSTEMS) - 1))
    system = SYSTEMS[number]
    node = draw(st.tuples(st.integers(0, 12), st.integers(0, 12)))
    layout = make_layout(
        room,
        system.along,
        system.across,
        node=(node[0] * 50.0, node[1] * 50.0),
        angle=draw(st.sampled_from([0, 90, 270, 45, 17.3])),
        main_every=system.main_every,
        main_phase=draw(st.integers(0, system.main_every - 1)),
    )
    return room, layout, number
