"""Who wrote what: stable GlobalIds and the mark on what is ours."""

import uuid

import ifcopenshell
import ifcopenshell.guid
import pytest

from ifcgrid.ifc.identity import (
    MARKER_SET,
    NAMESPACE,
    global_id,
    global_ids,
    is_adopted,
    is_ours,
    marker_of,
)


def marked(file, element, adopted):
    prop = file.createIfcPropertySingleValue("Adopted", None, file.createIfcBoolean(adopted), None)
    pset = file.createIfcPropertySet(ifcopenshell.guid.new(), None, MARKER_SET, None, [prop])
    file.createIfcRelDefinesByProperties(ifcopenshell.guid.new(), None, None, None, [element], pset)


@pytest.fixture
def file():
    return ifcopenshell.file(schema="IFC4")


def test_an_id_is_the_name_based_uuid_of_owner_and_key():
    expected = uuid.uuid5(NAMESPACE, "ROOM/panel/1/2")
    assert uuid.UUID(ifcopenshell.guid.expand(global_id("ROOM", "panel/1/2"))) == expected


def test_ids_differ_by_owner_and_by_key_and_keep_their_order():
    assert len({global_id("A", "x"), global_id("B", "x"), global_id("A", "y")}) == 3
    assert global_ids("A", ["x", "y"]).tolist() == [global_id("A", k).encode() for k in ("x", "y")]


def test_a_marked_ceiling_is_ours_and_an_unmarked_one_is_not(file):
    ours, theirs = file.createIfcCovering("a"), file.createIfcCovering("b")
    marked(file, ours, False)
    assert is_ours(ours)
    assert not is_adopted(ours)
    assert not is_ours(theirs)
    assert marker_of(theirs) is None


def test_an_adopted_ceiling_stays_the_architects(file):
    covering = file.createIfcCovering("a")
    marked(file, covering, True)
    assert is_adopted(covering)
    assert not is_ours(covering)


def test_parts_and_openings_follow_their_whole(file):
    assembly, member, opening, stranger = (
        file.create_entity(c, c)
        for c in ("IfcElementAssembly", "IfcMember", "IfcOpeningElement", "IfcMember")
    )
    marked(file, assembly, False)
    file.createIfcRelAggregates("r", None, None, None, assembly, [member])
    file.createIfcRelVoidsElement("v", None, None, None, assembly, opening)
    assert is_ours(member)
    assert is_ours(opening)
    assert not is_ours(stranger)


def test_a_type_is_ours_when_its_own_sets_carry_the_mark(file):
    pset = file.createIfcPropertySet("p", None, MARKER_SET, None, [file.createIfcPropertySingleValue("A")])
    ours = file.createIfcMemberType("t", None, "T", None, None, [pset])
    theirs = file.createIfcMemberType("u", None, "T")
    assert is_ours(ours)
    assert not is_ours(theirs)
