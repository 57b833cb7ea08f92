"""Rooms as a whole: spaces, coverings, heights and outlines joined."""

import pytest
import shapely
from handmade_models import HandmadeModel, rectangle

from ifcgrid.domain.room import HeightSource
from ifcgrid.ifc.reading import rooms as rooms_module
from ifcgrid.ifc.reading.rooms import read_rooms

ROOM = rectangle(0, 0, 6000, 4000)
NEXT = rectangle(7000, 0, 9000, 4000)


@pytest.fixture
def model():
    return HandmadeModel()


@pytest.fixture
def storey(model):
    return model.storey("Level 1", 0)


def read_one(model, **options):
    reading = read_rooms(model.model, **options)
    assert reading.skipped == ()
    (room,) = reading.rooms
    return room


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", ["mm", "m", "ft"])
def test_a_room_carries_its_names_its_outline_and_its_level(schema, unit):
    model = HandmadeModel(schema, unit)
    storey = model.storey("Level 2", 3000)
    space = model.space(storey, ROOM, 3000, 6400, "2.01", LongName="Office")
    ceiling = model.ceiling(storey, ROOM, 5700, 5720)
    room = read_one(model)
    assert (room.key, room.name, room.number) == (space.GlobalId, "Office", "2.01")
    assert (room.storey, room.storey_key) == ("Level 2", storey.GlobalId)
    assert (room.floor, room.top, room.level) == pytest.approx((3000, 6400, 5700), abs=1e-3)
    assert room.section.equals_exact(shapely.Polygon(ROOM), 0.01, normalize=True)
    assert room.outline.equals(room.section)
    assert room.covering.key == ceiling.GlobalId


def test_a_plan_height_goes_before_all_and_a_ceiling_elsewhere_is_not_taken_over(model, storey):
    model.space(storey, ROOM, 0, 3400, "7", LongName="Lab")
    ceiling = model.ceiling(storey, ROOM, 2700, 2720)
    asked = []

    def plan(*facts):
        asked.append(facts)
        return 2500.0

    room = read_one(model, plan_height=plan)
    assert asked == [(room.key, "Level 1", "Lab", "7")]
    assert (room.height.source, room.height.value, room.level) == (HeightSource.PLAN, 2500, 2500)
    assert [str(c.source) for c in room.height.candidates] == ["plan", "covering", "body"]
    assert room.covering is None
    assert any(ceiling.GlobalId in note and "not taken over" in note for note in room.notes)


def test_a_plan_height_at_the_ceilings_own_level_takes_the_ceiling_over(model, storey):
    model.space(storey, ROOM, 0, 3400)
    model.ceiling(storey, ROOM, 2700, 2720)
    assert read_one(model, plan_height=lambda *_: 2702.0).covering is not None
    assert read_one(model, plan_height=lambda *_: None).height.source == HeightSource.COVERING


def test_soffits_are_the_local_ceilings_below_the_level_only(model, storey):
    model.space(storey, ROOM, 0, 3000)
    low = model.ceiling(storey, rectangle(0, 0, 1000, 4000), 2400, 2420)
    model.ceiling(storey, rectangle(5000, 0, 6000, 4000), 2900, 2920)
    room = read_one(model, plan_height=lambda *_: 2700.0)
    assert [s.key for s in room.soffits] == [low.GlobalId]
    assert room.soffits[0].outline.equals_exact(shapely.box(0, 0, 1000, 4000), 0.1, normalize=True)


def test_a_ceiling_above_the_body_is_found_and_the_outline_is_that_of_the_body(model, storey):
    model.space(storey, ROOM, 0, 3400)
    model.element("IfcSlab", storey, model.body(ROOM, 6200, 6400), PredefinedType="ROOF")
    model.ceiling(model.storey("Roof", 3400), ROOM, 6000, 6010)
    room = read_one(model)
    assert room.level == pytest.approx(6000)
    assert room.section.area == pytest.approx(24e6)
    assert any("above the space's body" in note for note in room.notes)


@pytest.mark.parametrize("parts", [[(0, 6000)], [(0, 2500), (2500, 6000)]])
def test_a_ceiling_above_a_slab_over_most_of_the_room_is_not_the_rooms(model, storey, parts):
    model.space(storey, ROOM, 0, 3400)
    for x0, x1 in parts:
        model.element("IfcSlab", storey, model.body(rectangle(x0, 0, x1, 4000), 3600, 3800))
    model.ceiling(storey, ROOM, 6000, 6010)
    room = read_one(model)
    assert room.covering is None
    assert room.height.source == HeightSource.BODY


def test_a_ceiling_beside_a_gallery_slab_is_still_the_halls(model, storey):
    model.space(storey, ROOM, 0, 3400)
    model.element("IfcSlab", storey, model.body(rectangle(0, 0, 2000, 4000), 3600, 3800))
    model.ceiling(storey, ROOM, 6000, 6010)
    assert read_one(model).level == pytest.approx(6000)


def test_a_ceiling_above_the_room_above_is_that_rooms_alone(model, storey):
    model.space(storey, ROOM, 0, 3000, "1")
    model.space(model.storey("Level 2", 3400), ROOM, 3400, 6400, "2")
    model.ceiling(storey, ROOM, 6000, 6010)
    first, second = read_rooms(model.model).rooms
    assert (first.number, first.covering) == ("1", None)
    assert second.level == pytest.approx(6000)


def test_one_ceiling_over_two_rooms_is_the_ceiling_of_both(model, storey):
    model.space(storey, ROOM, 0, 3000, "1")
    model.space(storey, rectangle(6100, 0, 9000, 4000), 0, 3000, "2")
    ceiling = model.ceiling(storey, rectangle(0, 0, 9000, 4000), 2600, 2620)
    assert [r.covering.key for r in read_rooms(model.model).rooms] == [ceiling.GlobalId] * 2


@pytest.mark.parametrize(("length", "height"), [(2000, 3000), (5300, 3000), (5500, 3600)])
def test_a_stepped_body_is_as_high_as_it_keeps_nine_tenths_of_its_plan(model, storey, length, height):
    """6 m of the room are 3000 high, so much of it 3600."""
    space = model.space(storey, ROOM, 0, 3000)
    step = model.body(rectangle(0, 0, length, 4000), 0, 3600)
    space.Representation.Representations[0].Items = [
        *space.Representation.Representations[0].Items,
        *step.Representations[0].Items,
    ]
    room = read_one(model)
    assert room.top == pytest.approx(3600)
    assert (room.height.source, room.height.value) == (HeightSource.BODY, pytest.approx(height))
    assert room.section.area == pytest.approx(24e6 if height == 3000 else length * 4000)


def test_a_room_under_a_slope_is_as_high_as_its_eaves(model, storey):
    """A wedge, 2400 high at y = 0 and 4000 at y = 4000."""
    space = model.space(storey, ROOM, 0, 3000)
    low, high = [(0, 0), (6000, 0)], [(6000, 4000), (0, 4000)]
    floor = [(*p, 0) for p in low + high]
    roof = [(*p, 2400) for p in low] + [(*p, 4000) for p in high]
    sides = [[floor[i], floor[i - 3], roof[i - 3], roof[i]] for i in range(4)]
    space.Representation = model.faces([floor[::-1], roof, *sides])
    room = read_one(model)
    assert room.top == pytest.approx(4000)
    assert room.height.value == pytest.approx(2400, abs=0.1)
    assert room.section.area == pytest.approx(24e6, rel=1e-4)


def test_rooms_are_sorted_by_elevation_then_number_as_people_count():
    model = HandmadeModel()
    upper, lower = model.storey("A", 3000), model.storey("B", 0)
    for i, (storey, z, number) in enumerate(
        [(upper, 3000, "1"), (lower, 0, "10"), (lower, 0, "2"), (lower, 0, "A")]
    ):
        model.space(storey, rectangle(i * 5000, 0, i * 5000 + 4000, 4000), z, z + 2600, number)
    found = [(r.storey, r.number) for r in read_rooms(model.model).rooms]
    assert found == [("B", "2"), ("B", "10"), ("B", "A"), ("A", "1")]


def test_only_the_wanted_rooms_are_read(model, storey):
    model.space(storey, ROOM, 0, 3000, "1")
    wanted = model.space(storey, NEXT, 0, 3000, "2")
    model.space(storey, rectangle(0, 5000, 4000, 9000), 0, 3000, "3").Representation = None
    reading = read_rooms(model.model, only={wanted.GlobalId})
    assert [r.key for r in reading.rooms] == [wanted.GlobalId]
    assert reading.skipped == ()


def test_a_room_without_a_believable_height_fails_with_its_reason_and_stops_no_other(model, storey):
    bad = model.space(storey, ROOM, 0, 40_000, "1")
    model.space(storey, NEXT, 0, 3000, "2")
    reading = read_rooms(model.model)
    assert [r.number for r in reading.rooms] == ["2"]
    (skipped,) = reading.skipped
    assert (skipped.key, skipped.status) == (bad.GlobalId, "failed")
    assert "no ceiling height" in skipped.reason
    assert "30000 mm" in skipped.reason


def test_a_room_that_breaks_the_reader_fails_alone(model, storey, monkeypatch):
    model.space(storey, ROOM, 0, 3000, "1")
    model.space(storey, NEXT, 0, 3000, "2")
    real = rooms_module.read_height_evidence

    def broken(space, *rest):
        if space.number == "1":
            raise ZeroDivisionError("by chance")
        return real(space, *rest)

    monkeypatch.setattr(rooms_module, "read_height_evidence", broken)
    reading = read_rooms(model.model)
    assert [r.number for r in reading.rooms] == ["2"]
    assert [(s.number, s.status) for s in reading.skipped] == [("1", "failed")]
    assert "by chance" in reading.skipped[0].reason


def test_a_plan_height_of_a_room_with_a_senseless_value_fails_that_room_only(model, storey):
    model.space(storey, ROOM, 0, 3000, "1")
    model.space(storey, NEXT, 0, 3000, "2")
    reading = read_rooms(model.model, plan_height=lambda _k, _s, _n, number: 0.0 if number == "1" else None)
    assert [r.number for r in reading.rooms] == ["2"]
    assert "under the room's floor" in reading.skipped[0].reason


def test_reading_twice_gives_the_same(model, storey):
    for i in range(4):
        model.space(storey, rectangle(i * 5000, 0, i * 5000 + 4000, 4000), 0, 3000, "x")
    model.ceiling(storey, rectangle(0, 0, 9000, 4000), 2600, 2620)
    assert read_rooms(model.model) == read_rooms(model.model)
