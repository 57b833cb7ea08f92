"""Where a model lies on a map, against the reading of another program and against the schema's sum."""

import math

import ifcopenshell
import ifcopenshell.util.geolocation
import numpy as np
import pytest
from handmade_models import HandmadeModel

from ifcgrid.domain.coordinates import PROJECT
from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.reading.map_conversion import read_map

PLACES = np.array([(0.0, 0.0, 0.0), (6010.0, 0.0, 2700.0), (-305.5, 4270.25, 3900.0)])
EAST, NORTH, HEIGHT = 458_870.0, 5_438_245.5, 109.35


def model_on_map(schema="IFC4", unit="mm", **place):
    model = HandmadeModel(schema, unit)
    model.on_map(EAST, NORTH, HEIGHT, **place)
    return model


@pytest.mark.parametrize("schema", ["IFC4", "IFC4X3"])
@pytest.mark.parametrize("turn", [0.0, 24.2, 90.0, -133.0])
@pytest.mark.parametrize("grid_scale", [1.0, 0.99964])
def test_map_coordinates_are_those_that_another_reader_finds(schema, turn, grid_scale):
    model = model_on_map(schema, turned_deg=turn, scale=0.001 * grid_scale)
    site = read_map(model.model).to_site(PLACES)
    for (x, y, z), (north, east, up) in zip(PLACES.tolist(), site.tolist(), strict=True):
        # ifcopenshell's own sum, in the map's metres from the project's millimetres.
        e, n, h = ifcopenshell.util.geolocation.auto_xyz2enh(model.file, x, y, z)
        assert (north / 1000, east / 1000) == pytest.approx((n, e), abs=1e-6)
        assert up / 1000 == pytest.approx(h, abs=1e-6)


def test_the_sum_is_that_of_the_schema_s_documentation():
    # Scale, turn anti-clockwise by the grid north angle, then shift (IFC 4.3, IfcMapConversion).
    system = read_map(model_on_map(turned_deg=30.0, scale=0.001).model)
    north, east, up = system.to_site(np.array([[1000.0, 0.0, 250.0]]))[0] / 1000
    assert (east, north) == pytest.approx((EAST + math.cos(math.pi / 6), NORTH + 0.5), abs=1e-9)
    assert up == pytest.approx(HEIGHT + 0.25)
    assert system.turn_deg == pytest.approx(30.0)
    assert system.epsg == "25832"


def test_model_coordinates_come_back():
    system = read_map(model_on_map(turned_deg=201.0, scale=0.001 * 1.0002).model)
    assert system.to_model(system.to_site(PLACES)) == pytest.approx(PLACES, abs=1e-5)
    assert PROJECT.to_model(PROJECT.to_site(PLACES)) == pytest.approx(PLACES)


@pytest.mark.parametrize("scale", [None, 1.0])
def test_a_scale_that_forgets_the_units_is_put_right_and_told(scale):
    system = read_map(model_on_map(scale=scale).model)
    assert system.to_site(PLACES)[1, 1] - system.to_site(PLACES)[0, 1] == pytest.approx(6010.0)
    assert any("units are not the map's" in note for note in system.notes)


def test_a_model_in_metres_needs_no_scale_and_has_nothing_to_tell():
    system = read_map(model_on_map(unit="m").model)
    assert system.notes == ()
    assert system.to_site(PLACES)[1, 1] - system.to_site(PLACES)[0, 1] == pytest.approx(6010.0)


def test_a_model_in_feet_on_a_map_in_metres():
    system = read_map(model_on_map(unit="ft", scale=0.3048).model)
    assert system.to_site(PLACES)[0] == pytest.approx([NORTH * 1000, EAST * 1000, HEIGHT * 1000])
    assert system.scale == pytest.approx((1.0, 1.0, 1.0))


def test_coordinates_in_the_project_s_unit_under_a_map_in_metres_are_taken_so_and_told():
    model = HandmadeModel()
    model.on_map(EAST * 1000, NORTH * 1000, HEIGHT * 1000)
    system = read_map(model.model)
    assert system.base == pytest.approx((EAST * 1000, NORTH * 1000, HEIGHT * 1000))
    assert any("no place on earth in the map's own unit" in note for note in system.notes)


def test_a_scale_that_no_unit_explains_is_refused_with_what_would_be_right():
    with pytest.raises(
        ModelError, match=r"Scale is 0\.01; with the units of project and map it would be 0\.001"
    ):
        read_map(model_on_map(scale=0.01).model)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_a_model_that_lies_nowhere_is_told_so(schema):
    with pytest.raises(ModelError, match="no map conversion"):
        read_map(HandmadeModel(schema).model)


def test_ifc2x3_says_it_in_property_sets():
    model = HandmadeModel("IFC2X3")
    site = model.root("IfcSite", Name="S", CompositionType="ELEMENT")
    real = model.file.createIfcReal
    label = model.file.createIfcLabel
    conversion = {
        "Eastings": real(EAST),
        "Northings": real(NORTH),
        "OrthogonalHeight": real(HEIGHT),
        "XAxisAbscissa": real(0.5),
        "XAxisOrdinate": real(math.sqrt(0.75)),
        "Scale": real(0.001),
    }
    for name, values in (
        ("ePSet_MapConversion", conversion),
        ("ePset_ProjectedCRS", {"Name": label("EPSG:25832"), "MapUnit": label("METRE")}),
    ):
        properties = [
            model.file.createIfcPropertySingleValue(Name=key, NominalValue=value)
            for key, value in values.items()
        ]
        pset = model.root("IfcPropertySet", Name=name, HasProperties=properties)
        model.root("IfcRelDefinesByProperties", RelatedObjects=[site], RelatingPropertyDefinition=pset)
    system = read_map(model.model)
    assert system.turn_deg == pytest.approx(60.0)
    assert system.base == pytest.approx((EAST * 1000, NORTH * 1000, HEIGHT * 1000))
    assert system.epsg == "25832"


def test_a_rigid_operation_shifts_and_does_not_turn():
    model = HandmadeModel("IFC4X3")
    f = model.file
    target = f.createIfcProjectedCRS(Name="EPSG:25832", MapUnit=model.si_unit(None))
    f.createIfcRigidOperation(
        model._context, target, f.createIfcLengthMeasure(EAST), f.createIfcLengthMeasure(NORTH), HEIGHT
    )
    system = read_map(model.model)
    assert system.to_site(PLACES)[1] == pytest.approx(
        [NORTH * 1000, EAST * 1000 + 6010.0, HEIGHT * 1000 + 2700.0]
    )


def test_factors_of_a_scaled_conversion_stretch_each_axis():
    model = HandmadeModel("IFC4X3", "m")
    target = model.file.createIfcProjectedCRS(Name="EPSG:25832", MapUnit=model.si_unit(None))
    model.file.createIfcMapConversionScaled(
        model._context, target, EAST, NORTH, HEIGHT, 1.0, 0.0, None, 0.9996, 0.9998, 1.0
    )
    north, east, _ = read_map(model.model).to_site(np.array([[1e6, 1e6, 0.0]]))[0]
    assert (east - EAST * 1000, north - NORTH * 1000) == pytest.approx((999_600.0, 999_800.0), abs=1e-4)
