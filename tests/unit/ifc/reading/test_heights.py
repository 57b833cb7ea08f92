"""Ceiling heights: every place where a model says one, in the order in which they are believed."""

import pytest
from handmade_models import HandmadeModel, rectangle

from ifcgrid.domain.room import HeightSource
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.reading.coverings import match_coverings, survey_coverings
from ifcgrid.ifc.reading.heights import find_height, read_height_evidence
from ifcgrid.ifc.reading.spaces import outline_at, read_spaces

ROOM = rectangle(0, 0, 6000, 4000)
UNITS = {"mm": 1.0, "m": 1000.0, "ft": 304.8}


class OneRoom:
    """A storey at 3 m with one room of 3.4 m."""

    def __init__(self, schema="IFC4", unit="mm", floor=3000.0, top=6400.0):
        self.build = HandmadeModel(schema, unit)
        self.storey = self.build.storey("Level 2", 3000)
        self.entity = self.build.space(self.storey, ROOM, floor, top)
        self.scale = UNITS[unit]

    @property
    def space(self):
        (space,), _ = read_spaces(self.build.model, Kernel(self.build.file))
        return space

    def coverings(self, space):
        room = type(
            "R", (), {"keys": {space.key}, "floor": space.floor, "top": space.top, "lid": float("inf")}
        )
        return match_coverings(room, lambda z: outline_at(space, z), survey_coverings(self.build.model))

    @property
    def height(self):
        space = self.space
        return find_height(space, self.coverings(space), self.build.file)

    @property
    def reading(self):
        space = self.space
        return read_height_evidence(space, self.coverings(space), self.build.file)


def test_the_body_is_believed_when_nothing_else_speaks():
    height = OneRoom().height
    assert height.value == pytest.approx(3400)
    assert height.source == HeightSource.BODY
    assert len(height.candidates) == 1
    assert height.conflicts == ()


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", ["mm", "m", "ft"])
def test_a_finish_ceiling_height_quantity_is_in_the_unit_of_the_project(schema, unit):
    room = OneRoom(schema, unit)
    room.build.quantities(room.entity, "BaseQuantities", FinishCeilingHeight=2700 / room.scale)
    height = room.height
    assert height.value == pytest.approx(2700)
    assert height.source == HeightSource.FINISH_CEILING_HEIGHT
    assert height.candidates[0].where == "BaseQuantities.FinishCeilingHeight"


def test_a_quantity_may_have_a_unit_of_its_own():
    room = OneRoom(unit="ft")
    unit = room.build.si_unit("CENTI")
    room.build.quantities(room.entity, "Qto_SpaceBaseQuantities", FinishCeilingHeight=(270, unit))
    assert room.height.value == pytest.approx(2700)


@pytest.mark.parametrize(
    "name",
    [
        "FinishCeilingHeight",
        "Finish Ceiling Height",
        "finished ceiling height",
        "FINISH_CEILING_HEIGHT",
        "Ceiling Height",
        "CeilingHeight",
        "Ceiling height (AFF)",
        "Clear Height",
        "Suspended-Ceiling Height",
    ],
)
def test_the_name_is_known_in_any_spelling_and_set(name):
    room = OneRoom()
    room.build.named_properties(room.entity, "Room Data", {name: ("IfcLengthMeasure", 2700.0)})
    height = room.height
    assert height.source == HeightSource.FINISH_CEILING_HEIGHT
    assert height.value == pytest.approx(2700)


@pytest.mark.parametrize("name", ["Ceiling Finish", "CeilingCovering", "Height of door", "Ceiling"])
def test_other_names_are_no_heights(name):
    room = OneRoom()
    room.build.named_properties(room.entity, "Room Data", {name: ("IfcLengthMeasure", 2700.0)})
    assert room.height.source == HeightSource.BODY


@pytest.mark.parametrize(
    ("unit", "measure", "value", "expected"),
    [
        ("m", "IfcLengthMeasure", 2.7, 2700),
        ("m", "IfcReal", 2.7, 2700),
        ("mm", "IfcInteger", 2700, 2700),
        ("m", "IfcText", "2.70 m", 2700),
        ("mm", "IfcLabel", "2,70 m", 2700),
        ("ft", "IfcLabel", "9'-0\"", 2743.2),
        ("ft", "IfcText", "9'-0\" AFF", 2743.2),
        ("mm", "IfcText", "2700", 2700),
        ("m", "IfcText", "2,7", 2700),
        ("ft", "IfcText", "8.5", 2590.8),
        ("mm", "IfcText", "8' 10 1/2\"", 2705.1),
    ],
)
def test_numbers_and_texts_are_read_in_the_unit_they_have(unit, measure, value, expected):
    room = OneRoom(unit=unit)
    room.build.named_properties(room.entity, "Data", {"Ceiling Height": (measure, value)})
    height = room.height
    assert height.source == HeightSource.FINISH_CEILING_HEIGHT
    assert height.value == pytest.approx(expected)


@pytest.mark.parametrize("measure", ["IfcReal", "IfcText"])
def test_a_unit_in_the_name_counts_for_a_bare_number(measure):
    room = OneRoom(unit="m")
    value = 2700.0 if measure == "IfcReal" else "2700"
    room.build.named_properties(room.entity, "Data", {"Ceiling Height [mm]": (measure, value)})
    assert room.height.value == pytest.approx(2700)


def test_a_property_may_have_a_unit_of_its_own():
    room = OneRoom(unit="mm")
    metre = room.build.si_unit(None)
    values = {"Ceiling Height": ("IfcLengthMeasure", 2.7, metre)}
    room.build.named_properties(room.entity, "Data", values)
    assert room.height.value == pytest.approx(2700)


def test_a_property_of_the_type_counts_too():
    room = OneRoom()
    kind = room.build.root("IfcSpaceType", Name="T", PredefinedType="INTERNAL")
    room.build.root("IfcRelDefinesByType", RelatedObjects=[room.entity], RelatingType=kind)
    room.build.named_properties(kind, "Data", {"Ceiling Height": ("IfcLengthMeasure", 2650.0)})
    assert room.height.value == pytest.approx(2650)


def test_bounded_and_enumerated_values_inside_a_complex_property_are_read():
    room = OneRoom()
    f = room.build.file
    bounded = f.createIfcPropertyBoundedValue(
        "FinishCeilingHeight",
        None,
        f.createIfcLengthMeasure(3000.0),
        None,
        None,
        f.createIfcLengthMeasure(2700.0),
    )
    listed = f.createIfcPropertyEnumeratedValue("CeilingHeight", None, [f.createIfcLabel("2.8 m")], None)
    whole = f.createIfcComplexProperty("Heights", None, "Use", [bounded, listed])
    pset = room.build.root("IfcPropertySet", Name="Data", HasProperties=[whole])
    room.build.root(
        "IfcRelDefinesByProperties", RelatedObjects=[room.entity], RelatingPropertyDefinition=pset
    )
    first, second, _ = room.height.candidates
    assert (first.value, first.where) == (2700, "Data.Heights.FinishCeilingHeight")
    assert (second.value, second.where) == (2800, "Data.Heights.CeilingHeight")


@pytest.mark.parametrize("value", ["N/A", "CeilingHeight", "", "see schedule"])
def test_a_placeholder_says_nothing(value):
    room = OneRoom()
    room.build.named_properties(room.entity, "Data", {"CeilingHeight": ("IfcText", value)})
    assert room.height.source == HeightSource.BODY
    assert room.reading.notes == ()


@pytest.mark.parametrize(
    ("measure", "value"),
    [
        ("IfcLengthMeasure", 0.0),
        ("IfcLengthMeasure", -2700.0),
        ("IfcLengthMeasure", 2_700_000.0),
        ("IfcReal", 1e308),
        ("IfcText", "2.7 parsec"),
    ],
)
def test_nonsense_is_passed_over_and_told(measure, value):
    room = OneRoom()
    room.build.named_properties(room.entity, "Data", {"CeilingHeight": (measure, value)})
    assert room.height.source == HeightSource.BODY
    (note,) = room.reading.notes
    assert note.startswith("Data.CeilingHeight is ignored")


def test_a_ceiling_over_most_of_the_room_goes_before_all_that_is_written():
    room = OneRoom()
    room.build.quantities(room.entity, "Qto_SpaceBaseQuantities", FinishCeilingHeight=2700, Height=3400)
    room.build.ceiling(room.storey, ROOM, 5650, 5670, Name="C")
    height = room.height
    assert height.source == HeightSource.COVERING
    assert height.value == pytest.approx(2650)
    assert height.candidates[0].where == "ceiling C over 100% of the room"
    assert [c.source for c in height.candidates] == [
        "covering",
        "finish-ceiling-height",
        "space-height",
        "body",
    ]
    assert [c.value for c in height.conflicts] == pytest.approx([2700, 3400, 3400])


def test_all_sources_stand_in_the_order_of_belief():
    room = OneRoom()
    room.build.ceiling(room.storey, ROOM, 5600, 5620)
    room.build.quantities(room.entity, "Qto_SpaceBaseQuantities", Height=3400, FinishCeilingHeight=2600)
    room.build.named_properties(
        room.entity,
        "Pset_SpaceCoveringRequirements",
        {"ConcealedCeilingOffset": ("IfcNonNegativeLengthMeasure", 800.0)},
    )
    room.build.named_properties(
        room.entity,
        "Constraints",
        {"Limit Offset": ("IfcLengthMeasure", 2600.0), "Upper Limit": ("IfcText", "Level: Level 2")},
    )
    height = room.height
    assert [str(c.source) for c in height.candidates] == [
        "covering",
        "finish-ceiling-height",
        "covering-requirement",
        "property",
        "space-height",
        "body",
    ]
    assert [c.value for c in height.candidates] == pytest.approx([2600, 2600, 2600, 2600, 3400, 3400])
    assert [str(c.source) for c in height.conflicts] == ["space-height", "body"]


def test_a_difference_within_the_tolerance_is_no_conflict():
    room = OneRoom()
    room.build.quantities(room.entity, "Q", FinishCeilingHeight=3396)
    assert room.height.conflicts == ()


def test_a_flooring_inside_the_body_raises_what_counts_from_it():
    """The body runs from slab to slab; the height runs "from top of flooring" (ISO 16739-1)."""
    room = OneRoom()
    room.build.quantities(
        room.entity, "Qto_SpaceBaseQuantities", FinishCeilingHeight=2700, FinishFloorHeight=120, Height=3400
    )
    height = room.height
    assert height.value == pytest.approx(2820)
    assert "flooring of 120 mm" in height.candidates[0].where


def test_a_flooring_below_the_body_lowers_what_counts_from_the_slab():
    room = OneRoom(floor=3120.0)
    room.build.quantities(
        room.entity, "Qto_SpaceBaseQuantities", FinishCeilingHeight=2700, FinishFloorHeight=120, Height=3400
    )
    values = {"ConcealedCeilingOffset": ("IfcLengthMeasure", 580.0)}
    room.build.named_properties(room.entity, "Pset_SpaceCoveringRequirements", values)
    height = room.height
    assert [c.value for c in height.candidates] == pytest.approx([2700, 2700, 3280, 3280])
    assert "flooring of 120 mm below" in height.candidates[2].where


def test_a_flooring_that_fits_no_height_changes_nothing():
    room = OneRoom()
    room.build.quantities(
        room.entity, "Qto_SpaceBaseQuantities", FinishCeilingHeight=2700, FinishFloorHeight=120, Height=3000
    )
    assert [c.value for c in room.height.candidates] == pytest.approx([2700, 3000, 3400])


def test_a_ceiling_offset_counts_down_from_the_height_of_the_space_else_of_its_body():
    room = OneRoom()
    values = {"ConcealedCeilingOffset": ("IfcLengthMeasure", 600.0)}
    room.build.named_properties(room.entity, "Pset_SpaceCoveringRequirements", values)
    height = room.height
    assert height.source == HeightSource.COVERING_REQUIREMENT
    assert height.value == pytest.approx(2800)
    room.build.quantities(room.entity, "Qto_SpaceBaseQuantities", Height=3500)
    assert room.height.value == pytest.approx(2900)


def test_a_ceiling_offset_of_nothing_is_no_ceiling():
    room = OneRoom()
    values = {"ConcealedCeilingOffset": ("IfcLengthMeasure", 0.0)}
    room.build.named_properties(room.entity, "Pset_SpaceCoveringRequirements", values)
    assert room.height.source == HeightSource.BODY


@pytest.mark.parametrize(
    ("level", "offset", "expected"),
    [("Level: Level 2", 2600, 2600), ("Roof", -400, 3100), ("roof ", 0, 3500)],
)
def test_a_limit_offset_counts_from_the_level_it_names(level, offset, expected):
    room = OneRoom(unit="m")
    room.build.storey("Roof", 6500)
    values = {"Limit Offset": ("IfcLengthMeasure", offset / 1000), "Upper Limit": ("IfcText", level)}
    room.build.named_properties(room.entity, "Vendor_Constraints", values)
    height = room.height
    assert height.source == HeightSource.PROPERTY
    assert height.value == pytest.approx(expected)


@pytest.mark.parametrize("values", [{}, {"Upper Limit": ("IfcText", "Level 9")}])
def test_a_limit_offset_without_a_known_level_is_passed_over_and_told(values):
    room = OneRoom()
    values = {"Limit Offset": ("IfcLengthMeasure", 2600.0), **values}
    room.build.named_properties(room.entity, "Constraints", values)
    assert room.height.source == HeightSource.BODY
    assert "Limit Offset is ignored" in room.reading.notes[0]


def test_an_unbounded_height_counts_from_the_base_that_is_stated_else_from_the_floor():
    room = OneRoom(floor=3019.0)
    values = {"Unbounded Height": ("IfcLengthMeasure", 2600.0)}
    room.build.named_properties(room.entity, "Dimensions", values)
    assert room.height.value == pytest.approx(2600)
    values = {"Base Offset": ("IfcLengthMeasure", 0.0)}
    room.build.named_properties(room.entity, "Constraints", values)
    assert room.height.value == pytest.approx(2581)


def test_what_a_ceiling_says_of_its_own_level_is_kept_as_evidence():
    room = OneRoom()
    ceiling = room.build.ceiling(room.storey, ROOM, 5600, 5620, Name="C")
    values = {"Height Offset From Level": ("IfcLengthMeasure", 2700.0)}
    room.build.named_properties(ceiling, "Constraints", values)
    first, second, _ = room.height.candidates
    assert (first.source, second.source) == (HeightSource.COVERING, HeightSource.PROPERTY)
    assert (first.value, second.value) == pytest.approx((2600, 2700))
    assert second.where == "Constraints.Height Offset From Level of ceiling C"


def test_of_two_spellings_the_more_certain_is_believed_and_the_other_kept():
    room = OneRoom()
    room.build.named_properties(room.entity, "A", {"Ceiling Height": ("IfcLengthMeasure", 2500.0)})
    room.build.quantities(room.entity, "Z", FinishCeilingHeight=2700)
    assert [c.value for c in room.height.candidates] == pytest.approx([2700, 2500, 3400])


def test_no_believable_height_at_all_is_none():
    room = OneRoom(top=3000.0 + 40_000.0)
    assert room.height is None
    assert "30000" in room.reading.notes[0]
