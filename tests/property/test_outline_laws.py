"""Laws of reading a room: its outline follows its placement, whatever its form and unit."""

from __future__ import annotations

import shapely
from handmade_spaces import SpaceModel
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.reading.spaces import outline_at, read_spaces

STEP = 1000.0


def joined(cells):
    """The largest room that squares of one metre make, with its holes."""
    squares = [shapely.box(x * STEP, y * STEP, (x + 1) * STEP, (y + 1) * STEP) for x, y in cells]
    room = max(shapely.get_parts(shapely.union_all(squares)), key=lambda p: p.area)
    assume(room.area >= 2 * STEP**2)
    # Corners that touch make rings that cross themselves: no room of a building.
    assume(
        room.buffer(-1.0).geom_type == "Polygon" and len(room.buffer(1.0).interiors) == len(room.interiors)
    )
    return room.simplify(0.0)


rooms = st.sets(st.tuples(st.integers(0, 5), st.integers(0, 4)), min_size=8, max_size=28).map(joined)


def modelled(model, room, form):
    """Representations of an upright body over a room: as one profile, or with its holes cut out."""
    ring, holes = list(room.exterior.coords)[:-1], [list(r.coords)[:-1] for r in room.interiors]
    if form == "profile":
        return model.representation([model.prism(model.profile(ring, holes))])
    solid = model.prism(model.profile(ring))
    for hole in holes:
        column = model.prism(model.profile(hole), -10.0, 2800.0)
        solid = model.file.createIfcBooleanResult("DIFFERENCE", solid, column)
    if form == "subtraction":
        return model.representation([solid], "CSG" if holes else "SweptSolid")
    inner = model.representation([solid], "CSG" if holes else "SweptSolid")
    return model.representation([model.mirrored(inner)], "MappedRepresentation")


TOUCHED = shapely.from_wkt(
    "POLYGON ((3000 1000, 3000 3000, 2000 3000, 2000 5000, 5000 5000, 5000 2000, 4000 2000, 4000 0, 2000 0, "
    "2000 1000, 3000 1000), (4000 3000, 4000 4000, 3000 4000, 3000 3000, 4000 3000))"
)
"""A hole that touches a corner of the room: kernels draw the two corners hundredths of a mm apart."""


@settings(max_examples=60, deadline=None)
@example(room=TOUCHED, form="profile", unit="ft", angle=108.72657845803673, shift=(0.0, 0.0))
@example(room=TOUCHED, form="subtraction", unit="m", angle=1.0, shift=(0.0, 0.0))
@given(
    room=rooms,
    form=st.sampled_from(["profile", "subtraction", "mirror"]),
    unit=st.sampled_from(["mm", "m", "ft"]),
    angle=st.floats(0.0, 360.0),
    shift=st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)),
)
def test_the_outline_is_the_room_wherever_it_stands(room, form, unit, angle, shift):
    model = SpaceModel(unit=unit)
    place = model.place(*shift, angle_deg=angle)
    model.room(modelled(model, room, form), placement=place)
    (space,), skipped = read_spaces(model.model, Kernel(model.file))
    assert skipped == ()
    outline = outline_at(space, space.top)
    meant = affinity.scale(room, -1.0, 1.0, origin=(0, 0)) if form == "mirror" else room
    meant = affinity.translate(affinity.rotate(meant, angle, origin=(0, 0)), *shift)
    assert shapely.symmetric_difference(outline, meant).area < 0.01 * meant.length
    assert len(outline.interiors) == len(room.interiors)
    assert isinstance(outline, Polygon)
    # Every corner of the outline is a corner of the room: cleaning invents none.
    corners = shapely.multipoints(shapely.get_coordinates(meant))
    assert shapely.distance(shapely.points(shapely.get_coordinates(outline)), corners).max() < 0.02
