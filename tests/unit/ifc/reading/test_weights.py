from __future__ import annotations

import ifcopenshell
import pytest

from ifcgrid.ifc.reading.weights import find_mass_scale, find_weight


def _light(file: ifcopenshell.file, *sets) -> ifcopenshell.entity_instance:
    light = file.create_entity("IfcLightFixture", GlobalId=ifcopenshell.guid.new())
    for definition in sets:
        file.create_entity(
            "IfcRelDefinesByProperties",
            GlobalId=ifcopenshell.guid.new(),
            RelatedObjects=[light],
            RelatingPropertyDefinition=definition,
        )
    return light


def _quantities(file: ifcopenshell.file, **weights: float):
    made = [file.createIfcQuantityWeight(name, None, None, value) for name, value in weights.items()]
    return file.create_entity(
        "IfcElementQuantity",
        GlobalId=ifcopenshell.guid.new(),
        Name="Qto_LightFixtureBaseQuantities",
        Quantities=made,
    )


def _properties(file: ifcopenshell.file, name: str, **values):
    made = [
        file.createIfcPropertySingleValue(key, None, file.createIfcReal(value))
        if isinstance(value, float)
        else file.createIfcPropertySingleValue(key, None, file.createIfcLabel(value))
        for key, value in values.items()
    ]
    return file.create_entity(
        "IfcPropertySet", GlobalId=ifcopenshell.guid.new(), Name=name, HasProperties=made
    )


def _file(mass=None) -> ifcopenshell.file:
    file = ifcopenshell.file(schema="IFC4")
    units = [mass(file)] if mass else []
    file.createIfcProject(
        ifcopenshell.guid.new(), None, "P", None, None, None, None, None, file.createIfcUnitAssignment(units)
    )
    return file


def _kilogram(file: ifcopenshell.file):
    return file.createIfcSIUnit(None, "MASSUNIT", "KILO", "GRAM")


def _pound(file: ifcopenshell.file):
    factor = file.createIfcMeasureWithUnit(file.createIfcMassMeasure(0.45359237), _kilogram(file))
    powers = file.createIfcDimensionalExponents(0, 1, 0, 0, 0, 0, 0)
    return file.createIfcConversionBasedUnit(powers, "MASSUNIT", "pound", factor)


@pytest.mark.parametrize(
    ("mass", "kilograms"),
    [
        (None, 1.0),
        (_kilogram, 1.0),
        (_pound, 0.45359237),
        (lambda f: f.createIfcSIUnit(None, "MASSUNIT", None, "GRAM"), 0.001),
    ],
)
def test_weights_are_in_the_mass_unit_of_the_model(mass, kilograms):
    file = _file(mass)
    assert find_mass_scale(file) == pytest.approx(kilograms)


def test_gross_weight_goes_before_net_and_quantities_before_properties():
    file = _file()
    light = _light(
        file, _properties(file, "Pset_A", GrossWeight=9.0), _quantities(file, NetWeight=3.0, GrossWeight=4.0)
    )
    assert find_weight(light, 1.0) == 4.0
    only_net = _light(file, _properties(file, "Pset_A", Weight=9.0), _quantities(file, NetWeight=3.0))
    assert find_weight(only_net, 0.5) == 1.5


def test_a_property_of_any_set_will_do():
    file = _file()
    assert find_weight(_light(file, _properties(file, "Maker data", Weight=6.5)), 1.0) == 6.5


@pytest.mark.parametrize("value", [0.0, -1.0, "heavy"])
def test_what_is_no_weight_is_not_taken_for_one(value):
    file = _file()
    assert find_weight(_light(file, _properties(file, "Pset_A", Weight=value)), 1.0) is None
    assert find_weight(_light(file), 1.0) is None


def test_the_type_speaks_for_its_occurrences():
    file = _file()
    light = _light(file)
    kind = file.create_entity(
        "IfcLightFixtureType",
        GlobalId=ifcopenshell.guid.new(),
        PredefinedType="POINTSOURCE",
        HasPropertySets=[_properties(file, "Pset_A", Weight=2.5)],
    )
    file.create_entity(
        "IfcRelDefinesByType", GlobalId=ifcopenshell.guid.new(), RelatedObjects=[light], RelatingType=kind
    )
    assert find_weight(light, 1.0) == 2.5
