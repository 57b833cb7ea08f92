"""Removal takes our things out, thins what it must, and leaves the rest alone."""

from collections import Counter

import pytest
from ceilings import add_covering, guid, make_ceiling, make_model, make_room
from shapely import box

from ifcgrid.ifc.writing.remove import remove_ceilings, remove_elements
from ifcgrid.ifc.writing.write import write_ceilings


@pytest.fixture
def ceiling():
    return make_ceiling([make_room("101", box(0, 0, 4000, 3000))])


@pytest.fixture
def file(ceiling):
    return make_model("IFC4", list(ceiling.zone.rooms), devices=("lamp",))


def text(file):
    return file.to_string().split("DATA;")[1]


def test_a_model_without_ceilings_of_ours_is_not_touched(file):
    before = text(file)
    assert remove_ceilings(file).elements == 0
    assert text(file) == before


def test_the_earlier_provenance_is_handed_back_by_zone(file, ceiling):
    write_ceilings(file, [ceiling], provenance={"InputFile": "a.ifc"})
    told = remove_ceilings(file).provenance
    assert set(told) == {ceiling.key}
    assert told[ceiling.key]["InputFile"] == "a.ifc"


def test_a_layer_with_our_shapes_loses_them_and_keeps_the_others(file, ceiling):
    theirs = file.by_guid(guid("lamp")).Representation.Representations[0]
    write_ceilings(file, [ceiling])
    ours = [m.Representation.Representations[0] for m in file.by_type("IfcMember")]
    mixed = file.create_entity("IfcPresentationLayerAssignment", "mixed", None, [theirs, *ours], None)
    file.create_entity("IfcPresentationLayerAssignment", "ours", None, ours[:3], None)
    remove_ceilings(file)
    assert [layer.Name for layer in file.by_type("IfcPresentationLayerAssignment")] == ["mixed"]
    assert list(mixed.AssignedItems) == [theirs]


def test_sets_that_others_gave_to_our_elements_go_and_shared_ones_stay(file, ceiling):
    write_ceilings(file, [ceiling])
    member, lamp = file.by_type("IfcMember")[0], file.by_guid(guid("lamp"))
    for name, objects in (("alone", [member]), ("shared", [member, lamp])):
        prop = file.create_entity("IfcPropertySingleValue", name)
        pset = file.create_entity("IfcPropertySet", guid(name), None, name, None, [prop])
        file.create_entity("IfcRelDefinesByProperties", guid(f"r {name}"), None, None, None, objects, pset)
    remove_ceilings(file)
    assert [p.Name for p in file.by_type("IfcPropertySet")] == ["shared"]
    assert list(file.by_type("IfcRelDefinesByProperties")[0].RelatedObjects) == [lamp]


def test_a_sub_context_that_was_there_unused_stays(ceiling):
    file = make_model("IFC4", list(ceiling.zone.rooms), has_views=False)
    model = file.by_type("IfcGeometricRepresentationContext")[0]
    file.create_entity(
        "IfcGeometricRepresentationSubContext",
        ContextIdentifier="Axis",
        ContextType="Model",
        ParentContext=model,
        TargetView="GRAPH_VIEW",
    )
    write_ceilings(file, [ceiling])
    names = {c.ContextIdentifier for c in file.by_type("IfcGeometricRepresentationSubContext")}
    assert names == {"Axis", "Body", "FootPrint"}
    remove_ceilings(file)
    (left,) = file.by_type("IfcGeometricRepresentationSubContext")
    assert left.ContextIdentifier == "Axis"


def test_somebody_elses_ceiling_goes_with_its_shape_and_relation_but_not_its_context(file):
    before = Counter(e.is_a() for e in file)
    add_covering(file, guid("architect"), box(0, 0, 4000, 3000))
    remove_elements(file, file.by_type("IfcCovering"))
    assert Counter(e.is_a() for e in file) == before


def test_clashes_that_somebody_else_recorded_stay(file, ceiling):
    write_ceilings(file, [ceiling])
    lamp, chair = file.by_guid(guid("lamp")), file.create_entity("IfcFurniture", guid("chair"))
    theirs = (guid("theirs"), None, "Clash", None, lamp, chair, None, "Clash", False)
    file.create_entity("IfcRelInterferesElements", *theirs)
    remove_ceilings(file)
    assert [r.GlobalId for r in file.by_type("IfcRelInterferesElements")] == [guid("theirs")]
