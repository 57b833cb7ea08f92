"""Ceilings that a model already holds: reading them and finding their room."""

from dataclasses import dataclass, field
from math import inf

import pytest
import shapely
from handmade_models import HandmadeModel, rectangle

from ifcgrid.ifc.identity import ADOPTED, MARKER_SET
from ifcgrid.ifc.reading.coverings import match_coverings, read_coverings, survey_coverings

ROOM = rectangle(0, 0, 6000, 4000)


@dataclass
class Place:
    """A room 6 m by 4 m, as matching sees it."""

    floor: float = 0.0
    top: float = 3400.0
    lid: float = inf
    keys: frozenset = field(default_factory=frozenset)


def match(model, place=None, outline=ROOM):
    section = shapely.Polygon(outline)
    return match_coverings(place or Place(), lambda _: section, survey_coverings(model.model))


@pytest.fixture
def model():
    return HandmadeModel()


@pytest.fixture
def storey(model):
    return model.storey("Level 1", 0)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", ["mm", "m", "ft"])
def test_a_ceiling_is_read_with_its_world_underside_top_and_outline(schema, unit):
    model = HandmadeModel(schema, unit)
    element = model.ceiling(model.storey("Level 2", 3100), ROOM, 5700, 5757, Name="C")
    (found,) = read_coverings(model.model)
    assert (found.key, found.name) == (element.GlobalId, "C")
    assert (found.underside, found.top) == pytest.approx((5700, 5757), abs=1e-3)
    assert found.outline.bounds == pytest.approx((0, 0, 6000, 4000), abs=1e-3)


def test_the_type_may_say_that_it_is_a_ceiling(model, storey):
    kind = model.root("IfcCoveringType", PredefinedType="CEILING")
    model.ceiling(storey, ROOM, 2600, 2620, PredefinedType=None, type_=kind)
    assert len(read_coverings(model.model)) == 1


@pytest.mark.parametrize("predefined", ["FLOORING", "CLADDING", "INSULATION", None])
def test_other_coverings_are_no_ceilings(model, storey, predefined):
    model.ceiling(storey, ROOM, 2600, 2620, PredefinedType=predefined)
    assert read_coverings(model.model) == ()


def test_a_ceiling_without_a_body_is_left_out_and_one_made_of_parts_has_the_body_of_its_parts(model, storey):
    model.element("IfcCovering", storey, PredefinedType="CEILING")
    whole = model.element("IfcCovering", storey, PredefinedType="CEILING")
    model.element("IfcBuildingElementPart", whole, model.body(rectangle(0, 0, 3000, 4000), 2600, 2620))
    model.element("IfcBuildingElementPart", whole, model.body(rectangle(3000, 0, 6000, 4000), 2600, 2620))
    (found,) = read_coverings(model.model)
    assert found.key == whole.GlobalId
    assert found.outline.area == pytest.approx(24e6)


def test_a_ceiling_of_an_earlier_run_is_not_read_but_an_adopted_one_is(model, storey):
    ours = model.ceiling(storey, ROOM, 2600, 2620)
    adopted = model.ceiling(storey, ROOM, 3000, 3020)
    model.named_properties(ours, MARKER_SET, {"Version": ("IfcLabel", "1")})
    model.named_properties(adopted, MARKER_SET, {ADOPTED: ("IfcBoolean", True)})
    assert [c.key for c in read_coverings(model.model)] == [adopted.GlobalId]


def test_identical_ceilings_on_each_other_are_one_and_that_is_noted(model, storey):
    first = model.ceiling(storey, ROOM, 2600, 2657)
    second = model.ceiling(storey, ROOM, 2600, 2657)
    model.ceiling(storey, rectangle(0, 0, 6000, 3000), 2600, 2657)
    found = survey_coverings(model.model)
    assert len(found) == 2
    assert (found[0].covering.key, found[0].also) == (first.GlobalId, (second.GlobalId,))
    assert second.GlobalId in found[0].notes[0]


def test_a_sheet_without_thickness_is_a_ceiling(model, storey):
    sheet = [[(*p, 2600) for p in ROOM]]
    model.element("IfcCovering", storey, model.faces(sheet), PredefinedType="CEILING")
    (found,) = survey_coverings(model.model)
    assert found.covering.underside == pytest.approx(2600)
    assert found.covering.outline.area == pytest.approx(24e6)
    assert found.notes == ()


def test_a_skirt_below_the_field_does_not_move_the_underside(model, storey):
    whole = model.element("IfcCovering", storey, PredefinedType="CEILING")
    model.element("IfcBuildingElementPart", whole, model.body(ROOM, 2600, 2620))
    model.element("IfcBuildingElementPart", whole, model.body(rectangle(0, 0, 6000, 20), 2450, 2600))
    assert read_coverings(model.model)[0].underside == pytest.approx(2600)


def test_a_sloped_ceiling_hangs_at_its_lowest_point_and_that_is_noted(model, storey):
    slope = [[(0, 0, 2600), (6000, 0, 2600), (6000, 4000, 3200), (0, 4000, 3200)]]
    model.element("IfcCovering", storey, model.faces(slope), PredefinedType="CEILING")
    (found,) = survey_coverings(model.model)
    assert found.covering.underside == pytest.approx(2600)
    assert "not level" in found.notes[0]
    assert "not level" in match(model).notes[0]


def test_a_ceiling_over_the_whole_room_is_its_ceiling(model, storey):
    element = model.ceiling(storey, rectangle(-100, -100, 9000, 4100), 2600, 2620)
    found = match(model)
    assert found.ceiling.key == element.GlobalId
    assert found.share == pytest.approx(1.0)
    assert found.local == ()
    assert found.notes == ()


@pytest.mark.parametrize(("length", "is_ceiling"), [(3001, True), (2999, False)])
def test_more_than_half_of_the_room_must_be_covered(model, storey, length, is_ceiling):
    model.ceiling(storey, rectangle(0, 0, length, 4000), 2600, 2620)
    found = match(model)
    assert (found.ceiling is not None) is is_ceiling
    if not is_ceiling:
        assert [c.outline.area for c in found.local] == pytest.approx([length * 4000])
        assert "over 50% of the room" in found.notes[0]


def test_pieces_at_one_level_count_together_and_the_largest_stands_for_them(model, storey):
    small = model.ceiling(storey, rectangle(0, 0, 1500, 4000), 2602, 2620)
    large = model.ceiling(storey, rectangle(1500, 0, 4000, 4000), 2600, 2620)
    found = match(model)
    assert found.ceiling.key == large.GlobalId
    assert [p.covering.key for p in found.pieces] == [large.GlobalId, small.GlobalId]
    assert found.share == pytest.approx(4000 / 6000)
    assert "2 ceilings" in found.notes[0]
    assert small.GlobalId in found.notes[0]


def test_overlapping_pieces_are_not_counted_twice(model, storey):
    model.ceiling(storey, rectangle(0, 0, 2000, 4000), 2600, 2620)
    model.ceiling(storey, rectangle(500, 0, 2500, 4000), 2600, 2620)
    assert match(model).ceiling is None


def test_a_lower_piece_is_a_soffit_clipped_to_the_room(model, storey):
    model.ceiling(storey, ROOM, 2800, 2820)
    soffit = model.ceiling(storey, rectangle(-500, 3400, 6500, 4500), 2400, 2420)
    found = match(model)
    assert found.ceiling.underside == pytest.approx(2800)
    assert [c.key for c in found.local] == [soffit.GlobalId]
    assert found.local[0].outline.equals_exact(shapely.box(0, 3400, 6000, 4000), 0.1, normalize=True)


def test_a_neighbours_ceiling_that_reaches_a_little_over_the_line_is_no_soffit(model, storey):
    model.ceiling(storey, ROOM, 2800, 2820)
    model.ceiling(storey, rectangle(5960, 0, 9000, 4000), 2400, 2420)
    assert match(model).local == ()


def test_what_lies_above_the_ceiling_is_not_the_rooms(model, storey):
    model.ceiling(storey, ROOM, 2600, 2620)
    model.ceiling(storey, ROOM, 3100, 3120)
    found = match(model)
    assert found.ceiling.underside == pytest.approx(2600)
    assert found.local == ()


def test_a_covering_below_headroom_is_no_ceiling(model, storey):
    model.ceiling(storey, ROOM, 1400, 1420)
    assert match(model).ceiling is None
    assert match(model, Place(floor=-200.0)).ceiling is not None


def test_a_ceiling_far_above_the_body_is_the_halls_when_it_stands_in_the_halls_storey(model, storey):
    model.ceiling(storey, ROOM, 6000, 6010)
    assert match(model).ceiling.underside == pytest.approx(6000)


def test_a_ceiling_of_a_storey_above_the_body_is_not_the_rooms(model, storey):  # noqa: ARG001
    model.ceiling(model.storey("Level 2", 4000), ROOM, 6600, 6657)
    assert match(model).ceiling is None


def test_a_ceiling_of_the_storey_above_is_the_rooms_when_the_body_reaches_it(model, storey):  # noqa: ARG001
    model.ceiling(model.storey("Level 2", 3100), ROOM, 5700, 5757)
    assert match(model, Place(top=5700.0)).ceiling is not None


def test_a_ceiling_above_the_next_room_is_not_the_rooms(model, storey):
    model.ceiling(storey, ROOM, 6000, 6010)
    assert match(model, Place(lid=3700.0)).ceiling is None


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
@pytest.mark.parametrize("relation", ["boundary", "contained", "covers"])
def test_a_relation_of_the_model_goes_before_heights(schema, relation):
    model = HandmadeModel(schema)
    storey = model.storey("Level 1", 0)
    space = model.space(storey, ROOM, 0, 3400)
    upper = model.storey("Level 2", 4000)
    ceiling = model.ceiling(space if relation == "contained" else upper, ROOM, 6000, 6010)
    if relation == "boundary":
        model.boundary(space, ceiling)
    if relation == "covers":
        name = "RelatedSpace" if schema == "IFC2X3" else "RelatingSpace"
        model.root("IfcRelCoversSpaces", RelatedCoverings=[ceiling], **{name: space})
    place = Place(keys=frozenset({space.GlobalId}), lid=3700.0)
    assert match(model, place).ceiling.key == ceiling.GlobalId
    assert match(model, Place(lid=3700.0)).ceiling is None


def test_a_related_ceiling_must_still_lie_over_the_room(model, storey):
    space = model.space(storey, ROOM, 0, 3400)
    model.boundary(space, model.ceiling(storey, rectangle(7000, 0, 9000, 4000), 2600, 2620))
    found = match(model, Place(keys=frozenset({space.GlobalId})))
    assert found.ceiling is None
    assert found.local == ()


def test_the_level_offset_that_a_ceiling_states_of_itself_counts_from_its_level(model, storey):
    model.storey("Level 2", 3100)
    named = model.ceiling(storey, ROOM, 5700, 5757)
    values = {
        "Height Offset From Level": ("IfcLengthMeasure", 2600.0),
        "Level": ("IfcLabel", "Level: Level 2"),
    }
    model.named_properties(named, "Constraints", values)
    plain = model.ceiling(storey, ROOM, 2600, 2657)
    values = {"Height Offset From Level": ("IfcLengthMeasure", 2610.0)}
    model.named_properties(plain, "Constraints", values)
    stated = {f.covering.key: f.stated for f in survey_coverings(model.model)}
    assert stated[named.GlobalId] == (("Constraints.Height Offset From Level", 5700.0),)
    assert stated[plain.GlobalId] == (("Constraints.Height Offset From Level", 2610.0),)
