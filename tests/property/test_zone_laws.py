"""Laws of carving rooms and joining them, at any angle."""

from __future__ import annotations

from itertools import pairwise

import pytest
import shapely
from handmade_lattices import make_room
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from ifcgrid.design.zones import carve_rooms, group_zones
from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Kind, Obstacle

ANGLES = st.sampled_from([0.0, 90.0, 17.0, 24.1794, 45.0, 63.43])
SIZES = [(100, 5000), (7000, 110), (400, 400), (12.5, 3000), (3100, 2100)]
HALL = Polygon([(0, 0), (8000, 0), (8000, 3000), (5000, 3000), (5000, 6000), (0, 6000)])


@st.composite
def solids(draw: st.DrawFn) -> list[Polygon]:
    """Walls along and across the room and columns, on and off its edges."""
    shapes = []
    for _ in range(draw(st.integers(1, 4))):
        x, y = draw(st.integers(-30, 80)) * 100, draw(st.integers(-30, 60)) * 100
        off = draw(st.sampled_from([0, 0, 10, -10, 25, 40, 7]))
        width, depth = draw(
            st.sampled_from([(100, 5000), (7000, 110), (400, 400), (12.5, 3000), (3100, 2100)])
        )
        shapes.append(box(x + off, y + off, x + off + width, y + off + depth))
    return shapes


def _turned(shape: Polygon, angle: float) -> Polygon:
    return affinity.rotate(shape, angle, origin=(1234.5, -67.8))


@given(solids(), ANGLES)
@settings(max_examples=200, deadline=None)
def test_a_carved_room_lacks_its_solids_and_nothing_wider_than_a_wall_finish(
    shapes: list[Polygon], angle: float
) -> None:
    hall = _turned(HALL, angle)
    walls = [
        Obstacle(key=str(k), kind=Kind.WALL, name=str(k), outline=_turned(shape, angle), bottom=0, top=4000)
        for k, shape in enumerate(shapes)
    ]
    (room,) = carve_rooms([make_room(hall)], walls)
    finish = tolerance.WALL_FINISH
    # What is left of the solids in the room only lines its walls.
    inner = hall.buffer(-finish - 0.1, join_style="mitre")
    union = shapely.union_all([wall.outline for wall in walls])
    rest = hall.difference(union)
    assume(rest.area > 1e6)
    assert room.outline.is_valid
    assert hall.buffer(0.01).covers(room.outline)
    assert room.outline.intersection(union).intersection(inner).area < 200
    # What else is missing is a slit, or stands apart from the largest part.
    lost = rest.difference(room.outline.buffer(0.01))
    wide = lost.buffer(-finish / 2 - 0.1, join_style="mitre")
    largest = max(shapely.get_parts(rest), key=lambda part: part.area)
    core = largest.buffer(-finish / 2)
    for part in shapely.get_parts(wide):
        assert not core.intersects(part) or room.outline.distance(part) > finish / 2 - 1
    # No slit is left beside a solid.
    if union.intersection(inner).area > 200:
        opened = room.outline.buffer(-finish / 2 + 0.1, join_style="mitre").buffer(
            finish / 2 - 0.1, join_style="mitre"
        )
        assert room.outline.difference(opened.buffer(0.01)).area < 2 * tolerance.PIECE_AREA


@given(
    st.lists(st.tuples(st.integers(1, 8), st.integers(1, 8)), min_size=2, max_size=5),
    st.sampled_from([0.0, 0.5, 2.0, 4.9]),
    ANGLES,
)
@example(sizes=[(2, 1), (8, 1), (8, 8), (1, 8)], seam=2.0, angle=63.43)
@example(sizes=[(4, 4), (1, 5), (1, 1)], seam=0.0, angle=24.1794)
@example(sizes=[(1, 1), (8, 1), (1, 1)], seam=2.0, angle=45.0)
@settings(max_examples=100, deadline=None)
def test_a_zone_covers_its_rooms_and_the_seams_between_them(
    sizes: list[tuple[int, int]], seam: float, angle: float
) -> None:
    rooms, x = [], 0.0
    for k, (width, depth) in enumerate(sizes):
        outline = box(x, 0, x + width * 500, depth * 500)
        rooms.append(make_room(_turned(outline, angle), f"R{k}"))
        x += width * 500 + seam
    (zone,) = group_zones(rooms, [])
    area = sum(room.outline.area for room in rooms)
    seams = sum(seam * 500 * min(a[1], b[1]) for a, b in pairwise(sizes))
    assert zone.outline.area == pytest.approx(area + seams, abs=50)
    for room in rooms:
        assert room.outline.difference(zone.outline.buffer(0.02)).is_empty
    steps = sum(a[1] != b[1] for a, b in pairwise(sizes))
    assert len(zone.outline.exterior.coords) - 1 == 4 + 2 * steps
