"""The mapping table fits the schemas' own declarations."""

import ifcopenshell
import ifcopenshell.util.pset
import pytest

from ifcgrid.domain.ceiling import Role
from ifcgrid.ifc.writing.mapping import MEMBER_PARTS, Part, find_mapping, find_names

SCHEMAS = {"IFC2X3": "IFC2X3", "IFC4": "IFC4", "IFC4X3": "IFC4X3_ADD2"}
UP_TO_SHAPE, UP_TO_TAG, UP_TO_W_AXES, UP_TO_ELEMENT_TYPE = 7, 8, 10, 9


def attributes(schema, entity):
    return ifcopenshell.schema_by_name(SCHEMAS[schema]).declaration_by_name(entity).all_attributes()


def allows(attribute, value):
    return value in attribute.type_of_attribute().declared_type().enumeration_items()


@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize("part", Part)
def test_every_part_fills_its_class_to_the_last_attribute_with_allowed_values(part, schema):
    mapping = find_mapping(part, schema)
    declared = attributes(schema, mapping.entity)
    start = {Part.SETOUT: UP_TO_W_AXES, Part.JOINT: UP_TO_SHAPE, Part.CONTROL_LINE: UP_TO_SHAPE}.get(
        part, UP_TO_TAG
    )
    assert len(declared) == start + len(mapping.tail)
    for attribute, value in zip(declared[start:], mapping.tail, strict=True):
        assert value is None or allows(attribute, value)
    if mapping.type_entity:
        declared = attributes(schema, mapping.type_entity)
        assert len(declared) == UP_TO_ELEMENT_TYPE + len(mapping.type_tail)
        for attribute, value in zip(declared[UP_TO_ELEMENT_TYPE:], mapping.type_tail, strict=True):
            assert value is None or allows(attribute, value)


@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize("part", Part)
def test_what_is_user_defined_says_by_what_word(part, schema):
    mapping = find_mapping(part, schema)
    if "USERDEFINED" in mapping.tail:
        assert mapping.object_type
    if "USERDEFINED" in mapping.type_tail:
        assert mapping.element_type


@pytest.mark.parametrize("schema", SCHEMAS)
def test_standard_sets_exist_under_these_names_in_the_schemas_templates(schema):
    templates = ifcopenshell.util.pset.get_template(schema)
    assert templates.get_by_name(find_names(schema).tiling) is not None
    for part in Part:
        name = find_mapping(part, schema).quantities
        if name.startswith("Qto_"):
            assert templates.get_by_name(name) is not None
    common = {p.Name for p in templates.get_by_name("Pset_CoveringCommon").HasPropertyTemplates}
    assert ("IsExternal" in common) is find_names(schema).has_status


@pytest.mark.parametrize("schema", SCHEMAS)
def test_clashes_are_relations_where_the_schema_has_one(schema):
    declarations = {d.name() for d in ifcopenshell.schema_by_name(SCHEMAS[schema]).declarations()}
    assert ("IfcRelInterferesElements" in declarations) is find_names(schema).has_interference


def test_every_role_is_a_part_of_the_same_word():
    assert {role.word: MEMBER_PARTS[role].value for role in Role} == {r.word: r.word for r in Role}
