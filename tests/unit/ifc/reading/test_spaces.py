"""Rooms of handmade models: bodies of every form, duplicates, and reasons to leave a space out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from handmade_models import rectangle
from handmade_spaces import RING, RING_AREA, SpaceModel, prism_faces, triangles
from shapely import Polygon, affinity

from ifcgrid.domain.errors import RoomError
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.reading.purpose import kind_in_text
from ifcgrid.ifc.reading.space import read_body
from ifcgrid.ifc.reading.spaces import outline_and_notes, outline_at, read_spaces

SQUARE = rectangle(0, 0, 4000, 4000)


def read(model, **arguments):
    return read_spaces(model.model, Kernel(model.file), **arguments)


def only(model):
    """The one room of a model."""
    spaces, skipped = read(model)
    assert skipped == ()
    (space,) = spaces
    return space


def reasons(model, **arguments):
    return {s.number: (s.status, s.reason) for s in read(model, **arguments)[1]}


def same(one, two, within=1.0):
    return one.symmetric_difference(two).area < within


# Forms of bodies


@pytest.mark.parametrize("unit", ["mm", "m", "ft"])
@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_an_extruded_room_is_read_in_every_schema_and_unit(schema, unit):
    model = SpaceModel(schema=schema, unit=unit)
    storey = model.storey("Level 1", 3000.0)
    model.solid_room(RING, 3000.0, 2700.0, storey=storey, name="101", long_name="Office")
    space = only(model)
    assert (space.name, space.number, space.storey) == ("Office", "101", "Level 1")
    assert space.storey_key == storey.GlobalId
    assert (space.floor, space.top) == pytest.approx((3000.0, 5700.0), abs=1e-7)
    outline = outline_at(space, 5700.0)
    assert len(outline.exterior.coords) - 1 == 6
    assert same(outline, Polygon(RING))


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
@pytest.mark.parametrize("form", ["brep", "surfaces", "open shells"])
def test_faces_make_a_room(schema, form):
    model = SpaceModel(schema=schema, unit="ft")
    faces = prism_faces(RING, 0.0, 2700.0)
    if form == "surfaces":
        space = model.room()
        space.Representation = model.faces(faces)
    else:
        item, kind = (
            (model.brep(faces), "Brep") if form == "brep" else (model.open_shells(faces[2:]), "SurfaceModel")
        )
        model.room(model.representation([item], kind))
    outline = outline_at(only(model), 2400.0)
    assert same(outline, Polygon(RING))
    assert len(outline.exterior.coords) - 1 == 6


@pytest.mark.parametrize("schema", ["IFC4", "IFC4X3_ADD2"])
def test_a_tessellated_room_is_read(schema):
    model = SpaceModel(schema=schema, unit="m")
    faces = prism_faces(SQUARE, 0.0, 2700.0)
    model.room(model.representation([model.tessellated(faces)], "Tessellation"))
    outline = outline_at(only(model), 2700.0)
    assert same(outline, Polygon(SQUARE))
    assert len(outline.exterior.coords) - 1 == 4


def test_a_hole_in_the_profile_is_a_hole_in_the_room():
    model = SpaceModel()
    hole = rectangle(1000, 1000, 1400, 1400)
    model.room(model.representation([model.prism(model.profile(RING, [hole]))]))
    assert same(outline_at(only(model), 2700.0), Polygon(RING, [hole]))


def test_a_column_cut_from_the_body_is_a_hole_in_the_room():
    model = SpaceModel()
    column = model.prism(model.profile(rectangle(1000, 1000, 1400, 1400)), -100.0, 3000.0)
    room = model.prism(model.profile(RING))
    result = model.file.createIfcBooleanResult("DIFFERENCE", room, column)
    model.room(model.representation([result], "CSG"))
    assert outline_at(only(model), 2500.0).area == pytest.approx(RING_AREA - 400.0**2, abs=1.0)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_a_round_end_keeps_its_curve(schema):
    model = SpaceModel(schema=schema, unit="m")
    model.room(model.representation([model.prism(model.half_circle_profile(4000.0))]))
    outline = outline_at(only(model), 2700.0)
    exact = 0.5 * math.pi * 4000.0**2
    assert exact * 0.999 < outline.area < exact
    radii = np.hypot(*np.array(outline.exterior.coords).T)
    assert len(radii) > 40
    assert radii.max() == pytest.approx(4000.0, abs=0.01)


def test_a_clipped_room_is_as_large_as_its_section_and_says_that_it_is_sloped():
    model = SpaceModel()
    # A plane through (4000, y, 2000), rising by 45 degrees towards x = 0.
    solid = model.clipped(
        model.prism(model.profile(SQUARE), 0.0, 8000.0), (4000.0, 0.0, 2000.0), (1.0, 0.0, 1.0)
    )
    model.room(model.representation([solid], "Clipping"))
    space = only(model)
    assert (space.top, space.body.level_top) == pytest.approx((6000.0, 2000.0), abs=0.01)
    full, notes = outline_and_notes(space, 2000.0)
    assert same(full, Polygon(SQUARE), within=1000.0)
    assert any("sloped or stepped: it keeps its full plan up to 2000 mm" in n for n in notes)
    half, notes = outline_and_notes(space, 4000.0)
    assert half.area == pytest.approx(8e6, rel=1e-4)
    assert any("measures 8.00 m², elsewhere 16.00 m²" in n for n in notes)


@pytest.mark.parametrize("rise", [0.02, 1.0])
def test_a_ceiling_at_the_ridge_finds_no_room_and_says_how_high_one_fits(rise):
    model = SpaceModel()
    base = model.prism(model.profile(SQUARE), 0.0, 2000.0 + 4000.0 * rise)
    solid = model.clipped(base, (4000.0, 0.0, 2000.0), (rise, 0.0, 1.0))
    model.room(model.representation([solid], "Clipping"))
    space = only(model)
    with pytest.raises(RoomError, match="it keeps its full plan up to 2000 mm"):
        outline_at(space, space.top)
    assert outline_at(space, 2000.0 + 2000.0 * rise).area == pytest.approx(8e6, rel=2e-3)


def test_a_ceiling_a_hair_above_the_body_needs_no_note():
    model = SpaceModel()
    model.solid_room(RING)
    outline, notes = outline_and_notes(only(model), 2703.0)
    assert same(outline, Polygon(RING))
    assert notes == ()


def test_a_body_with_a_missing_wall_takes_its_plan_and_says_so():
    model = SpaceModel()
    model.room(
        model.representation([model.open_shells(prism_faces(SQUARE, 0.0, 2700.0)[:-1])], "SurfaceModel")
    )
    outline, notes = outline_and_notes(only(model), 2400.0)
    assert same(outline, Polygon(SQUARE))
    assert notes == ("the space's body is not closed at ceiling height; its plan was taken",)


def test_a_stepped_top_is_told_and_the_lower_ceiling_gets_the_whole_plan():
    model = SpaceModel()
    low = model.prism(model.profile(SQUARE), 0.0, 2700.0)
    high = model.prism(model.profile(rectangle(0, 0, 1000, 4000)), 0.0, 3000.0)
    model.room(model.representation([low, high]))
    space = only(model)
    assert (space.top, space.body.level_top) == (3000.0, 2700.0)
    assert outline_at(space, 2700.0).area == pytest.approx(16e6)
    outline, notes = outline_and_notes(space, 3000.0)
    assert outline.area == pytest.approx(4e6)
    assert len(notes) == 2


def test_overlapping_items_of_one_body_are_one_room():
    model = SpaceModel()
    items = [model.prism(model.profile(rectangle(x, 0, x + 3000, 2000))) for x in (0, 2000)]
    model.room(model.representation(items))
    assert same(outline_at(only(model), 2700.0), Polygon(rectangle(0, 0, 5000, 2000)))


def test_a_turned_and_mirrored_room_in_feet_keeps_its_shape():
    model = SpaceModel(unit="ft")
    inner = model.representation([model.prism(model.profile(RING))])
    item = model.mirrored(inner)
    place = model.place(x=5000.0, y=-2000.0, angle_deg=24.2)
    model.room(model.representation([item], "MappedRepresentation"), placement=place)
    mirrored = affinity.scale(Polygon(RING), -1.0, 1.0, origin=(0, 0))
    expected = affinity.translate(affinity.rotate(mirrored, 24.2, origin=(0, 0)), 5000.0, -2000.0)
    assert same(outline_at(only(model), 2700.0), expected, within=20.0)


def test_a_ceiling_above_the_body_takes_the_body_s_plan():
    model = SpaceModel()
    model.solid_room(RING, height=3400.0)
    outline, notes = outline_and_notes(only(model), 6000.0)
    assert same(outline, Polygon(RING))
    assert notes == ("the ceiling lies 2600 mm above the space's body; its plan was carried up",)


def test_a_room_in_two_parts_keeps_the_larger_and_tells_the_rest():
    model = SpaceModel()
    items = [model.prism(model.profile(r)) for r in (SQUARE, rectangle(9000, 0, 10000, 2000))]
    model.room(model.representation(items))
    outline, notes = outline_and_notes(only(model), 2700.0)
    assert same(outline, Polygon(SQUARE))
    assert notes == ("the space falls into 2 parts; the largest, 16.00 m², was kept and 2.00 m² left out",)


# What cannot be used


def test_a_space_without_body_fails_with_its_reason():
    model = SpaceModel()
    model.room(name="1")
    model.room(model.representation([model.polyline(RING)], "Curve2D", "FootPrint"), name="2")
    assert reasons(model) == {
        "1": ("failed", "the space has no shape; it needs a body"),
        "2": ("failed", "the space has no usable body, only FootPrint"),
    }


def test_an_outline_that_crosses_itself_fails_alone():
    model = SpaceModel()
    model.solid_room([(0, 0), (4000, 3000), (4000, 0), (0, 3000)], name="1")
    model.solid_room(RING, name="2", placement=model.place(x=9000.0))
    spaces, skipped = read(model)
    assert [s.number for s in spaces] == ["2"]
    assert [(s.number, s.status) for s in skipped] == [("1", "failed")]
    assert skipped[0].reason == "its outline crosses itself at (2000, 1500) mm"


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda m: np.where(m == 4000.0, np.nan, m), "coordinates that are no numbers"),
        (lambda m: np.where(m == 4000.0, np.inf, m), "coordinates that are no numbers"),
        (lambda m: m * (1.0, 1.0, 0.0), "its body is 0.00 mm high"),
        (lambda m: m * (1.0, 0.0, 1.0), "no area in plan"),
        (lambda m: m[:0], "its body is empty"),
    ],
)
def test_a_body_that_cannot_be_is_named(spoil, message):
    mesh = spoil(triangles(prism_faces(SQUARE, 0.0, 2700.0)))
    with pytest.raises(RoomError, match=message) as raised:
        read_body((mesh,), "KEY")
    assert raised.value.key == "KEY"


@pytest.mark.parametrize(
    ("z", "message"),
    [(math.nan, "height is nan"), (0.0, "under the room's floor"), (-500.0, "under the room's")],
)
def test_a_ceiling_that_cannot_be_is_named(z, message):
    model = SpaceModel()
    model.solid_room(RING)
    with pytest.raises(RoomError, match=message):
        outline_at(only(model), z)


def test_a_body_that_is_open_on_one_side_takes_its_plan():
    faces = prism_faces(SQUARE, 0.0, 2700.0)
    body = read_body((triangles(faces[:-1]),), "KEY")
    assert same(body.plan, Polygon(SQUARE))


def test_a_sliver_is_left_out():
    model = SpaceModel()
    model.solid_room(rectangle(0, 0, 9000, 80), name="1")
    model.solid_room(rectangle(0, 1000, 9000, 1120), name="2")
    assert reasons(model) == {"1": ("skipped", "sliver: the space is nowhere wider than 100 mm")}


def test_a_global_id_that_occurs_twice_fails_the_second_time():
    model = SpaceModel()
    one = model.solid_room(RING, name="1")
    model.solid_room(RING, name="2", placement=model.place(x=9000.0)).GlobalId = one.GlobalId
    status, reason = reasons(model)["2"]
    assert status == "failed"
    assert "occurs twice" in reason


# Where a space belongs


def test_a_space_without_storey_has_none():
    model = SpaceModel()
    model.solid_room(RING, name="1", storey=model.building)
    model.solid_room(RING, name="2", placement=model.place(x=9000.0))
    spaces, _ = read(model)
    assert [(s.storey, s.storey_key) for s in spaces] == [("", ""), ("", "")]


def test_a_space_may_be_contained_like_an_element_or_lie_in_another_space():
    model = SpaceModel()
    storey = model.storey("Ground", 0.0)
    contained = model.solid_room(RING, name="1")
    model.root("IfcRelContainedInSpatialStructure", RelatedElements=[contained], RelatingStructure=storey)
    suite = model.room(name="suite", storey=storey, CompositionType="COMPLEX")
    model.solid_room(RING, name="2", storey=suite, placement=model.place(x=9000.0))
    spaces, skipped = read(model)
    assert [(s.number, s.storey_key) for s in spaces] == [("1", storey.GlobalId), ("2", storey.GlobalId)]
    assert [s.reason for s in skipped] == ["a group of 1 spaces, which are rooms themselves"]


def test_parts_of_a_room_are_left_to_the_room():
    model = SpaceModel()
    room = model.solid_room(rectangle(0, 0, 6000, 4000), name="1")
    parts = [
        model.solid_room(rectangle(x, 0, x + 3000, 4000), name=n, CompositionType="PARTIAL")
        for x, n in ((0, "1a"), (3000, "1b"))
    ]
    model.aggregate(room, *parts)
    spaces, skipped = read(model)
    assert [s.number for s in spaces] == ["1"]
    assert {s.reason for s in skipped} == {"a part of the space 1, which is the room"}


def test_rooms_come_by_storey_and_number_as_people_count():
    model = SpaceModel()
    upper, lower = model.storey("B", 3000.0), model.storey("A", 0.0)
    for i, (number, storey) in enumerate([("10", lower), ("9", upper), ("2", lower), ("1a", lower)]):
        model.solid_room(SQUARE, name=number, storey=storey, placement=model.place(x=5000.0 * i))
    assert [s.number for s in read(model)[0]] == ["1a", "2", "10", "9"]


# Stated areas


def test_the_stated_area_is_read_in_its_own_unit_and_compared():
    model = SpaceModel(unit="ft")
    square_metre = model.file.createIfcSIUnit(None, "AREAUNIT", None, "SQUARE_METRE")
    right = model.solid_room(SQUARE, name="1")
    model.areas(right, "Qto_SpaceBaseQuantities", NetFloorArea=(16.0, square_metre), GrossFloorArea=200.0)
    other = model.solid_room(SQUARE, name="2", placement=model.place(x=9000.0))
    model.areas(other, "BaseQuantities", GrossFloorArea=16.0 / 0.3048**2)
    wrong = model.solid_room(SQUARE, name="3", placement=model.place(x=18000.0))
    model.areas(wrong, "BaseQuantities", NetFloorArea=(20.0, square_metre), Unknown=1.0)
    bare = model.solid_room(SQUARE, name="4", placement=model.place(x=27000.0))
    model.areas(bare, "Other", SomeArea=(16.0, square_metre))
    one, two, three, four = read(model)[0]
    assert one.stated_area_m2 == 16.0
    assert two.stated_area_m2 == pytest.approx(16.0)
    assert three.stated_area_m2 == 20.0
    assert four.stated_area_m2 is None
    assert (one.notes, two.notes, four.notes) == ((), (), ())
    assert three.notes == ("the model states 20.00 m² (NetFloorArea), the space's body measures 16.00 m²",)


def test_of_several_stated_areas_the_one_that_fits_the_body_is_taken():
    model = SpaceModel(unit="m")
    space = model.solid_room(SQUARE)
    model.areas(space, "Qto_SpaceBaseQuantities", NetFloorArea=15.2, GrossFloorArea=16.0)
    found = only(model)
    assert (found.stated_area_m2, found.notes) == (16.0, ())


# What gets no ceiling


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Stair", "stair"),
        ("STAIR_02", "stair"),
        ("Treppenhaus Nord", "stair"),
        ("Nebentreppe", "stair"),
        ("Cage d'escalier", "stair"),
        ("Trappenhuis", "stair"),
        ("Lift 1", "lift"),
        ("Elevator", "lift"),
        ("Installationsschacht", "shaft"),
        ("Riser cupboard 3", ""),
        ("Riser 3", "shaft"),
        ("Dachterrasse", "outdoor space"),
        ("Balcón", "outdoor space"),
        ("Extérieur", "outdoor space"),
        ("Roof", "outdoor space"),
        ("Plant room", "plant room"),
        ("Lift lobby", ""),
        ("Store under stairs", ""),
        ("Upstairs office", ""),
        ("Staircase model workshop", "stair"),
        ("Waterproofing lab", ""),
        ("Toilet", ""),
        ("Corridor", ""),
        ("Plant nursery", ""),
        ("", ""),
    ],
)
def test_names_tell_what_gets_no_ceiling(text, kind):
    assert kind_in_text(text) == kind


def test_the_reason_names_the_evidence():
    model = SpaceModel()
    model.solid_room(SQUARE, name="1", long_name="Stair")
    model.solid_room(SQUARE, name="2", ObjectType="Pipe shaft", placement=model.place(x=5e3))
    model.solid_room(SQUARE, name="3", PredefinedType="EXTERNAL", placement=model.place(x=10e3))
    model.solid_room(SQUARE, name="4", PredefinedType="GFA", placement=model.place(x=15e3))
    outside = model.solid_room(SQUARE, name="5", placement=model.place(x=20e3))
    model.properties(outside, "Pset_SpaceCommon", IsExternal=("IfcBoolean", True))
    stair = model.solid_room(SQUARE, name="6", placement=model.place(x=25e3))
    model.properties(stair, "Other", Category=("IfcLabel", "13-85 21: Stairway"))
    model.solid_room(SQUARE, name="7", long_name="Toilet", placement=model.place(x=30e3))
    assert reasons(model) == {
        "1": ("skipped", 'name says stair: "Stair"'),
        "2": ("skipped", 'ObjectType says shaft: "Pipe shaft"'),
        "3": ("skipped", "PredefinedType EXTERNAL says outdoor space"),
        "4": ("skipped", "PredefinedType GFA says gross floor area, not a room"),
        "5": ("skipped", "Pset_SpaceCommon.IsExternal says outdoor space"),
        "6": ("skipped", 'property Other.Category says stair: "13-85 21: Stairway"'),
    }
    assert [s.number for s in read(model)[0]] == ["7"]


def test_a_room_around_a_shaft_is_told_and_one_beside_it_is_not():
    model = SpaceModel()
    model.solid_room(SQUARE, name="1")
    model.solid_room(rectangle(1000, 1000, 2000, 1500), height=9000.0, name="S1", long_name="Duct shaft")
    model.solid_room(rectangle(4000, 0, 5000, 900), height=9000.0, name="S2", long_name="Pipe shaft")
    model.solid_room(SQUARE, 9000.0, name="2")
    spaces, skipped = read(model)
    assert [(s.number, s.notes) for s in spaces] == [
        ("1", ("shaft S1 lies in it by 0.50 m² in plan",)),
        ("2", ()),
    ]
    assert [s.number for s in skipped] == ["S1", "S2"]


def test_outdoor_spaces_of_the_older_schema_are_left_out():
    model = SpaceModel(schema="IFC2X3")
    model.solid_room(SQUARE, InteriorOrExteriorSpace="EXTERNAL")
    assert reasons(model) == {"1": ("skipped", "InteriorOrExteriorSpace EXTERNAL says outdoor space")}


def test_a_space_that_is_wanted_is_kept_whatever_its_name():
    model = SpaceModel()
    stair = model.solid_room(SQUARE, long_name="Stair")
    spaces, skipped = read(model, keep={stair.GlobalId})
    assert [s.key for s in spaces] == [stair.GlobalId]
    assert skipped == ()


# Open sides


def test_spaces_that_share_a_virtual_element_are_open_to_each_other():
    model = SpaceModel()
    left = model.solid_room(SQUARE, name="1")
    right = model.solid_room(SQUARE, name="2", placement=model.place(x=4000.0))
    model.solid_room(SQUARE, name="3", placement=model.place(x=8000.0))
    gate = model.root("IfcVirtualElement")
    for space in (left, right):
        model.root(
            "IfcRelSpaceBoundary",
            RelatingSpace=space,
            RelatedBuildingElement=gate,
            PhysicalOrVirtualBoundary="VIRTUAL",
            InternalOrExternalBoundary="INTERNAL",
        )
    assert [s.open_to for s in read(model)[0]] == [(right.GlobalId,), (left.GlobalId,), ()]


@pytest.mark.parametrize("unit", ["mm", "ft"])
@pytest.mark.parametrize(
    ("shift", "height", "are_open"), [(0.0, 0.0, True), (5000.0, 0.0, False), (0.0, 3000.0, False)]
)
def test_virtual_boundaries_that_lie_on_each_other_open_two_spaces(unit, shift, height, are_open):
    model = SpaceModel(schema="IFC2X3", unit=unit)
    left = model.solid_room(SQUARE, name="1")
    turned = model.place(x=8000.0, y=4000.0 + shift, z=height, angle_deg=180.0)
    right = model.solid_room(SQUARE, name="2", placement=turned)
    model.virtual_boundary(left, [(4000.0, 500.0), (4000.0, 3500.0)], 2700.0)
    model.virtual_boundary(right, [(4000.0, 0.0), (4000.0, 2000.0)], 2700.0)
    one, two = read(model)[0]
    assert one.open_to == ((right.GlobalId,) if are_open else ())
    assert two.open_to == ((left.GlobalId,) if are_open else ())


def test_a_wall_between_opens_nothing():
    model = SpaceModel()
    left = model.solid_room(SQUARE, name="1")
    right = model.solid_room(SQUARE, name="2", placement=model.place(x=4100.0))
    wall = model.element("IfcWall", None)
    for space in (left, right):
        model.boundary(space, wall)
    assert [s.open_to for s in read(model)[0]] == [(), ()]


# Duplicates


def schemes(model, storey=None):
    """One room by three area schemes: to the finished face, the middle and the far side of its walls."""
    return [
        model.solid_room(rectangle(-d, -d, 4000 + d, 3000 + d), name=n, storey=storey, long_name="Office")
        for n, d in (("gross", 250), ("net", 0), ("middle", 100))
    ]


def test_a_room_that_is_modelled_three_times_is_read_once():
    model = SpaceModel()
    gross, net, middle = schemes(model, model.storey("A", 0.0))
    spaces, skipped = read(model)
    (space,) = spaces
    assert space.key == net.GlobalId
    assert space.also == tuple(sorted((gross.GlobalId, middle.GlobalId)))
    assert space.notes == ("the model holds this room 3 times; the space with the smallest plan was kept",)
    assert {s.number for s in skipped} == {"gross", "middle"}
    assert {(s.status, s.reason) for s in skipped} == {
        ("skipped", f"same room as net Office ({net.GlobalId})")
    }


def test_equal_spaces_are_one_room_and_the_least_key_is_kept():
    model = SpaceModel()
    keys = [model.solid_room(SQUARE).GlobalId for _ in range(3)]
    spaces, _ = read(model)
    assert [s.key for s in spaces] == [min(keys)]


def test_spaces_above_each_other_are_two_rooms():
    model = SpaceModel()
    storey = model.storey("A", 0.0)
    model.solid_room(SQUARE, 0.0, 3000.0, name="1", storey=storey)
    model.solid_room(SQUARE, 3000.0, 3000.0, name="2", storey=storey)
    spaces, skipped = read(model)
    assert [s.number for s in spaces] == ["1", "2"]
    assert skipped == ()
    assert all(s.notes == () for s in spaces)


def test_a_large_space_around_a_small_one_is_another_room_and_told():
    model = SpaceModel()
    model.solid_room(rectangle(0, 0, 10000, 10000), name="open")
    model.solid_room(rectangle(0, 0, 10000, 7000), name="inner")
    spaces, skipped = read(model)
    assert skipped == ()
    inner, whole = spaces
    assert whole.notes == (f"overlaps inner ({inner.key}) by 70.00 m² in plan",)
    assert inner.notes == (f"overlaps open ({whole.key}) by 70.00 m² in plan",)


def test_a_cupboard_in_a_small_room_is_another_room():
    # What is left of the larger is narrow, but the two are of different size.
    model = SpaceModel()
    model.solid_room(rectangle(0, 0, 1500, 2000), name="1")
    model.solid_room(rectangle(0, 0, 1000, 1450), name="2")
    assert [s.number for s in read(model)[0]] == ["1", "2"]


def test_neighbours_that_touch_or_share_a_wall_s_edge_are_not_told():
    model = SpaceModel()
    model.solid_room(SQUARE, name="1")
    model.solid_room(SQUARE, name="2", placement=model.place(x=4000.0))
    model.solid_room(SQUARE, name="3", placement=model.place(x=-3996.0))
    assert [s.notes for s in read(model)[0]] == [(), (), ()]


def test_an_equal_space_in_another_storey_is_told_and_kept():
    model = SpaceModel()
    model.solid_room(SQUARE, name="1", storey=model.storey("A", 0.0))
    model.solid_room(SQUARE, name="2", storey=model.storey("B", 0.0))
    spaces, skipped = read(model)
    assert skipped == ()
    assert all("overlaps" in s.notes[0] for s in spaces)


def test_reading_twice_gives_the_same():
    def seen(model):
        spaces, skipped = read(model)
        return [replace(s, entity=None, body=None) for s in spaces], skipped

    def made():
        model = SpaceModel()
        schemes(model, model.storey("A", 0.0))
        return model

    first, again = seen(made()), seen(made())
    assert [(s.key, s.notes, s.also) for s in first[0]] == [(s.key, s.notes, s.also) for s in again[0]]
    assert first[1] == again[1]


def test_a_model_without_spaces_has_no_rooms():
    assert read(SpaceModel()) == ((), ())
