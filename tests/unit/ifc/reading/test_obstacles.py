"""What is in a ceiling's way: which elements, what kind, and where."""

import ifcopenshell
import pytest
from handmade_models import HandmadeModel, rectangle

from ifcgrid.domain.obstacle import Kind
from ifcgrid.ifc.identity import MARKER_SET
from ifcgrid.ifc.reading.kind import RULES, find_kind, words_of
from ifcgrid.ifc.reading.obstacles import read_obstacles

SQUARE = rectangle(0, 0, 600, 600)


def kind_of(schema, cls, type_cls=None, **attributes):
    """The kind of a lone element; attributes beginning with type_ go to its type."""
    model = HandmadeModel(schema)
    of_type = {k.removeprefix("type_"): v for k, v in attributes.items() if k.startswith("type_")}
    own = {k: v for k, v in attributes.items() if not k.startswith("type_")}
    kind = model.root(type_cls, **of_type) if type_cls else None
    return find_kind(model.element(cls, None, type_=kind, **own))


@pytest.mark.parametrize(
    ("type_cls", "type_name", "predefined", "kind"),
    [
        ("IfcLightFixtureType", "Pendant 150 W", "USERDEFINED", Kind.LIGHT),
        ("IfcLightFixtureType", "Single Pole", "USERDEFINED", Kind.OTHER),
        ("IfcLightFixtureType", "Lighting Switches", "USERDEFINED", Kind.OTHER),
        ("IfcAirTerminalType", "600x600", "DIFFUSER", Kind.AIR_TERMINAL),
        ("IfcFireSuppressionTerminalType", "Pendent", "SPRINKLER", Kind.SPRINKLER),
        ("IfcFireSuppressionTerminalType", "Cabinet", "HOSEREEL", Kind.OTHER),
        ("IfcOutletType", "Socket", "POWEROUTLET", Kind.OTHER),
        ("IfcSanitaryTerminalType", "Basin with light", "WASHHANDBASIN", Kind.OTHER),
        ("IfcSanitaryTerminalType", "Basin with sensor", "WASHHANDBASIN", Kind.OTHER),
        ("IfcElectricApplianceType", "Smoke Detector", "USERDEFINED", Kind.DETECTOR),
    ],
)
def test_a_general_flow_terminal_is_what_its_type_is(type_cls, type_name, predefined, kind):
    assert (
        kind_of("IFC2X3", "IfcFlowTerminal", type_cls, type_Name=type_name, type_PredefinedType=predefined)
        == kind
    )


@pytest.mark.parametrize(
    ("cls", "type_cls", "kind"),
    [
        ("IfcFlowSegment", "IfcDuctSegmentType", Kind.DUCT),
        ("IfcFlowFitting", "IfcPipeFittingType", Kind.PIPE),
        ("IfcFlowSegment", "IfcCableCarrierSegmentType", Kind.TRAY),
        ("IfcFlowController", "IfcDamperType", Kind.DUCT),
        ("IfcFlowController", "IfcValveType", Kind.PIPE),
        ("IfcFlowController", "IfcAirTerminalBoxType", Kind.EQUIPMENT),
    ],
)
def test_a_general_flow_element_of_ifc2x3_is_what_its_type_is(cls, type_cls, kind):
    assert kind_of("IFC2X3", cls, type_cls, type_Name="x", type_PredefinedType="NOTDEFINED") == kind


@pytest.mark.parametrize(
    ("cls", "predefined", "kind"),
    [
        ("IfcLightFixture", "POINTSOURCE", Kind.LIGHT),
        ("IfcAirTerminal", "GRILLE", Kind.AIR_TERMINAL),
        ("IfcFireSuppressionTerminal", "SPRINKLER", Kind.SPRINKLER),
        ("IfcFireSuppressionTerminal", "FIREHYDRANT", Kind.OTHER),
        ("IfcSensor", "SMOKESENSOR", Kind.DETECTOR),
        ("IfcAlarm", "SIREN", Kind.DEVICE),
        ("IfcAlarm", "MANUALPULLBOX", Kind.OTHER),
        ("IfcAudioVisualAppliance", "SPEAKER", Kind.DEVICE),
        ("IfcSwitchingDevice", "TOGGLESWITCH", Kind.OTHER),
        ("IfcDuctSegment", "RIGIDSEGMENT", Kind.DUCT),
        ("IfcDuctFitting", "BEND", Kind.DUCT),
        ("IfcPipeSegment", "RIGIDSEGMENT", Kind.PIPE),
        ("IfcCableCarrierSegment", "CABLETRAYSEGMENT", Kind.TRAY),
        ("IfcValve", "ISOLATING", Kind.PIPE),
        ("IfcDamper", "FIREDAMPER", Kind.DUCT),
        ("IfcUnitaryEquipment", "AIRHANDLER", Kind.EQUIPMENT),
        ("IfcJunctionBox", "POWER", Kind.EQUIPMENT),
        ("IfcBeam", "JOIST", Kind.BEAM),
        ("IfcMember", "PURLIN", Kind.BEAM),
        ("IfcMember", "STRINGER", Kind.OTHER),
        ("IfcSlab", "FLOOR", Kind.SLAB),
        ("IfcSlab", "ROOF", Kind.ROOF),
        ("IfcRoof", "FLAT_ROOF", Kind.ROOF),
        ("IfcColumn", "COLUMN", Kind.COLUMN),
        ("IfcWall", "SOLIDWALL", Kind.WALL),
        ("IfcCovering", "CLADDING", Kind.OTHER),
        ("IfcCovering", "CEILING", None),
        ("IfcCovering", "FLOORING", None),
        ("IfcFurniture", "CHAIR", None),
        ("IfcDoor", "DOOR", Kind.DOOR),
        ("IfcDoor", "TRAPDOOR", None),
        ("IfcWindow", "WINDOW", Kind.WINDOW),
        ("IfcWindow", "SKYLIGHT", None),
        ("IfcOpeningElement", "OPENING", None),
        ("IfcReinforcingBar", "MAIN", None),
    ],
)
@pytest.mark.parametrize("schema", ["IFC4", "IFC4X3_ADD2"])
def test_an_element_is_what_its_class_and_predefined_type_say(schema, cls, predefined, kind):
    assert kind_of(schema, cls, PredefinedType=predefined) == kind


def test_the_predefined_type_may_stand_on_the_type():
    found = kind_of("IFC4", "IfcCovering", "IfcCoveringType", type_PredefinedType="CEILING")
    assert found is None


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Smoke Detector:Round", Kind.DETECTOR),
        ("SmokeDetector", Kind.DETECTOR),
        ("Recessed Luminaire 600x600", Kind.LIGHT),
        ("Sprinkler-Pendent", Kind.SPRINKLER),
        ("Supply Diffuser", Kind.AIR_TERMINAL),
        ("Rectangular Duct", Kind.DUCT),
        ("Light Switch", Kind.OTHER),
        ("Lightning rod", Kind.OTHER),
        ("geo-reference", None),
        ("origin", None),
        ("Original cabinet", Kind.OTHER),
        ("Tree - Deciduous", None),
    ],
)
def test_a_proxy_is_what_its_name_says_in_whole_words(name, kind):
    assert kind_of("IFC4", "IfcBuildingElementProxy", Name=name) == kind


def test_an_alarm_device_that_was_exported_as_a_protective_device_is_told_by_its_name():
    kind = kind_of(
        "IFC2X3",
        "IfcFlowController",
        "IfcProtectiveDeviceType",
        type_Name="Smoke Detector",
        type_PredefinedType="USERDEFINED",
    )
    assert kind == Kind.DETECTOR


def test_the_parts_of_a_whole_are_what_the_whole_makes_of_them():
    model = HandmadeModel()
    wall = model.element("IfcCurtainWall", None)
    assert find_kind(model.element("IfcMember", wall, PredefinedType="BRACE")) == Kind.WALL
    roof = model.element("IfcRoof", None)
    assert find_kind(model.element("IfcSlab", roof)) == Kind.ROOF
    truss = model.element("IfcElementAssembly", None, PredefinedType="TRUSS")
    assert find_kind(model.element("IfcMember", truss)) == Kind.BEAM
    ceiling = model.element("IfcCovering", None, PredefinedType="CEILING")
    assert find_kind(model.element("IfcBuildingElementPart", ceiling)) is None
    stair = model.element("IfcStair", None)
    assert find_kind(model.element("IfcSlab", stair, PredefinedType="LANDING")) == Kind.OTHER


def test_insulation_is_what_it_is_wrapped_about():
    model = HandmadeModel()
    duct = model.element("IfcDuctSegment", None)
    wrap = model.element("IfcCovering", None, PredefinedType="INSULATION")
    loose = model.element("IfcCovering", None, PredefinedType="INSULATION")
    model.root("IfcRelCoversBldgElements", RelatingBuildingElement=duct, RelatedCoverings=[wrap])
    assert find_kind(wrap) == Kind.DUCT
    assert find_kind(loose) == Kind.OTHER


def test_every_class_of_the_table_is_a_class_of_some_schema():
    known = set()
    for schema in ("IFC2X3", "IFC4", "IFC4X3_ADD2"):
        declarations = ifcopenshell.ifcopenshell_wrapper.schema_by_name(schema).entities()
        known |= {d.name() for d in declarations}
        known |= {d.name().removesuffix("Type") for d in declarations}
    assert not {c for rule in RULES for c in (*rule.classes, *rule.within) if c.startswith("Ifc")} - known


def test_every_predefined_type_of_the_table_is_one_of_some_schema():
    known = set()
    for schema in ("IFC2X3", "IFC4", "IFC4X3_ADD2"):
        for declaration in ifcopenshell.ifcopenshell_wrapper.schema_by_name(schema).declarations():
            if declaration.as_enumeration_type() is not None:
                known |= set(declaration.as_enumeration_type().enumeration_items())
    assert not {t for rule in RULES for t in rule.types} - known


def test_words_are_split_at_camel_case_and_punctuation():
    assert words_of("M_SmokeDetector:Type-2", None, "x") == " m smoke detector type 2 x "


@pytest.mark.parametrize("unit", ["mm", "m", "ft"])
def test_an_obstacle_is_in_model_coordinates_and_millimetres_whatever_the_unit(unit):
    model = HandmadeModel(unit=unit)
    storey = model.storey("Level 1", 3000)
    shape = model.body(rectangle(1200, 600, 1800, 1200), 5600, 5700)
    kind = model.root("IfcLightFixtureType", Name="Square", PredefinedType="POINTSOURCE")
    light = model.element("IfcLightFixture", storey, shape, kind, Name="L1")
    (found,) = read_obstacles(model.model)
    assert (found.key, found.kind, found.name, found.type_name) == (
        light.GlobalId,
        Kind.LIGHT,
        "L1",
        "Square",
    )
    assert found.source == "handmade.ifc"
    assert found.outline.bounds == pytest.approx((1200, 600, 1800, 1200), abs=1e-3)
    assert (found.bottom, found.top) == pytest.approx((5600, 5700), abs=1e-3)
    assert found.mesh.reshape(-1, 3).max(axis=0).tolist() == pytest.approx([1800, 1200, 5700], abs=1e-3)


def test_wholes_are_read_as_their_parts_and_wholes_without_shaped_parts_as_themselves():
    model = HandmadeModel()
    storey = model.storey("Level 1", 0)
    stair = model.element("IfcStair", storey, model.body(SQUARE, 0, 3000))
    flight = model.element("IfcStairFlight", stair, model.body(SQUARE, 0, 2900))
    alone = model.element("IfcCurtainWall", storey, model.body(SQUARE, 0, 3000))
    model.element("IfcMember", alone)
    assert {o.key for o in read_obstacles(model.model)} == {flight.GlobalId, alone.GlobalId}


def test_what_ifcgrid_wrote_is_no_obstacle_and_neither_are_its_parts():
    model = HandmadeModel()
    storey = model.storey("Level 1", 0)
    grid = model.element("IfcElementAssembly", storey)
    model.element("IfcMember", grid, model.body(SQUARE, 2600, 2638))
    model.properties(grid, MARKER_SET, Version=("IfcLabel", "1"))
    wall = model.element("IfcWall", storey, model.body(SQUARE, 0, 3000))
    assert [o.key for o in read_obstacles(model.model)] == [wall.GlobalId]


def test_elements_without_a_body_are_left_out_and_an_upright_sheet_keeps_an_outline():
    model = HandmadeModel()
    storey = model.storey("Level 1", 0)
    model.element("IfcWall", storey)
    sheet = [[(0, 0, 0), (1000, 0, 0), (1000, 0, 2700), (0, 0, 2700)]]
    model.element("IfcPlate", storey, model.faces(sheet))
    (found,) = read_obstacles(model.model)
    assert found.outline.area > 0
    assert found.outline.bounds == pytest.approx((0, 0, 1000, 0), abs=0.05)


def test_obstacles_are_sorted_by_key():
    model = HandmadeModel()
    storey = model.storey("Level 1", 0)
    for _ in range(5):
        model.element("IfcColumn", storey, model.body(SQUARE, 0, 3000))
    keys = [o.key for o in read_obstacles(model.model)]
    assert keys == sorted(keys)
    assert len(keys) == 5
