"""Opening models and the units in which they speak."""

from __future__ import annotations

import hashlib
import zipfile

import ifcopenshell
import pytest
from handmade_models import HandmadeModel, rectangle
from handmade_spaces import SpaceModel

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.project import (
    area_scale,
    length_scale,
    model_from_file,
    open_model,
    property_in_mm,
    quantity_area_m2,
    quantity_in_mm,
)


def written(tmp_path, model, name="a.ifc"):
    path = tmp_path / name
    model.file.write(str(path))
    return path


def no_units(model):
    model.project.UnitsInContext = None
    return model.file


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_a_model_is_opened_in_every_supported_schema(tmp_path, schema):
    path = written(tmp_path, HandmadeModel(schema=schema))
    model = open_model(path)
    assert model.schema == schema.partition("_")[0]
    assert model.unit == "millimetre"
    assert model.path == str(path)
    assert model.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_the_ending_of_the_name_does_not_matter(tmp_path):
    assert open_model(str(written(tmp_path, HandmadeModel(), "a.txt"))).schema == "IFC4"


def test_a_zipped_model_is_opened(tmp_path):
    plain = written(tmp_path, HandmadeModel(unit="m"))
    with zipfile.ZipFile(tmp_path / "a.ifczip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(plain, "inner.ifc")
    model = open_model(tmp_path / "a.ifczip")
    assert (model.schema, model.unit) == ("IFC4", "metre")
    assert len(model.file.by_type("IfcBuilding")) == 1


def test_an_archive_of_two_models_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.ifczip", "w") as archive:
        archive.writestr("a.ifc", "ISO-10303-21;")
        archive.writestr("b.ifc", "ISO-10303-21;")
    with pytest.raises(ModelError, match=r"2 \.ifc files; it must hold one"):
        open_model(tmp_path / "a.ifczip")


def test_a_damaged_archive_is_refused(tmp_path):
    (tmp_path / "a.ifczip").write_bytes(b"PK\x03\x04 and no more")
    with pytest.raises(ModelError, match="damaged archive"):
        open_model(tmp_path / "a.ifczip")


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is empty"),
        (b" \n", "is empty"),
        (b"hello", "does not begin with ISO-10303-21"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "does not begin with ISO-10303-21"),
        (b"ISO-10303-21;\nHEADER;\n", "breaks off"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n", "no readable IFC model"),
    ],
)
def test_what_is_no_model_is_refused_in_one_line(tmp_path, content, message):
    path = tmp_path / "a.ifc"
    path.write_bytes(content)
    with pytest.raises(ModelError, match=message) as raised:
        open_model(path)
    assert "\n" not in str(raised.value).strip()
    assert str(path) in str(raised.value)


def test_a_model_cut_short_is_refused(tmp_path):
    path = written(tmp_path, HandmadeModel())
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with pytest.raises(ModelError, match="breaks off before END-ISO-10303-21"):
        open_model(path)


@pytest.mark.parametrize("schema", ["IFC4X1", "CIS2"])
def test_an_unsupported_schema_is_named(tmp_path, schema):
    path = written(tmp_path, HandmadeModel())
    path.write_text(path.read_text().replace("('IFC4')", f"('{schema}')"))
    with pytest.raises(ModelError, match=f"{schema}.*IFC2X3, IFC4, IFC4X3"):
        open_model(path)


def test_a_model_without_a_project_is_refused(tmp_path):
    path = tmp_path / "a.ifc"
    ifcopenshell.file(schema="IFC4").write(str(path))
    with pytest.raises(ModelError, match="holds no IfcProject"):
        open_model(path)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    with pytest.raises(ModelError, match="does not exist"):
        open_model(tmp_path / "none.ifc")
    with pytest.raises(ModelError, match="is a folder"):
        open_model(tmp_path)


def test_bytes_outside_the_encoding_survive(tmp_path):
    path = written(tmp_path, HandmadeModel())
    path.write_bytes(path.read_bytes().replace(b"'B'", b"'B\xfc'"))
    assert open_model(path).file.by_type("IfcBuilding")[0].Name.startswith("B")


@pytest.mark.parametrize(
    ("unit", "scale", "area"), [("mm", 1.0, 1e-6), ("m", 1000.0, 1.0), ("ft", 304.8, 0.09290304)]
)
def test_units_are_read_from_the_project(unit, scale, area):
    file = HandmadeModel(unit=unit).file
    assert length_scale(file) == pytest.approx(scale, rel=1e-15)
    # No area unit is named: the square of the length unit is meant.
    assert area_scale(file) == pytest.approx(area, rel=1e-12)


@pytest.mark.parametrize(("prefix", "scale"), [("CENTI", 10.0), ("DECI", 100.0), ("KILO", 1e6)])
def test_prefixes_of_metres_are_known(prefix, scale):
    model = HandmadeModel()
    model.project.UnitsInContext.Units = [model.si_unit(prefix)]
    assert length_scale(model.file) == pytest.approx(scale, rel=1e-15)


def test_an_inch_may_be_declared_in_millimetres_or_in_feet():
    model = HandmadeModel()
    f = model.file
    powers = f.createIfcDimensionalExponents(1, 0, 0, 0, 0, 0, 0)
    for value, base in ((25.4, model.si_unit("MILLI")), (1.0 / 12.0, model._length_unit("ft"))):
        factor = f.createIfcMeasureWithUnit(f.createIfcLengthMeasure(value), base)
        inch = f.createIfcConversionBasedUnit(powers, "LENGTHUNIT", "INCH", factor)
        model.project.UnitsInContext.Units = [inch]
        assert length_scale(f) == pytest.approx(25.4, rel=1e-12)


def test_a_prefix_of_an_area_counts_twice():
    model = HandmadeModel()
    area = model.file.createIfcSIUnit(None, "AREAUNIT", "MILLI", "SQUARE_METRE")
    model.project.UnitsInContext.Units = [model.si_unit(None), area]
    assert area_scale(model.file) == pytest.approx(1e-6)


def test_a_missing_unit_is_named():
    with pytest.raises(ModelError, match=r"names no length unit.*LENGTHUNIT"):
        length_scale(no_units(HandmadeModel()))


def test_a_missing_unit_is_told_with_the_file(tmp_path):
    model = HandmadeModel()
    no_units(model)
    path = written(tmp_path, model)
    with pytest.raises(ModelError, match=r"a\.ifc: the project names no length unit"):
        open_model(path)


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("FOOT", 304.8, "declared as 304.8 m; it is 0.3048 m"),
        ("PACE", 0.0, "must be above 0"),
        ("PACE", -1.0, "must be above 0"),
    ],
)
def test_a_unit_that_cannot_be_is_named(name, value, message):
    model = HandmadeModel()
    f = model.file
    factor = f.createIfcMeasureWithUnit(f.createIfcLengthMeasure(value), model.si_unit(None))
    powers = f.createIfcDimensionalExponents(1, 0, 0, 0, 0, 0, 0)
    unit = f.createIfcConversionBasedUnit(powers, "LENGTHUNIT", name, factor)
    model.project.UnitsInContext.Units = [unit]
    with pytest.raises(ModelError, match=message):
        length_scale(f)


def test_a_unit_without_size_is_named():
    model = HandmadeModel()
    powers = model.file.createIfcDimensionalExponents(1, 0, 0, 0, 0, 0, 0)
    unit = model.file.createIfcContextDependentUnit(powers, "LENGTHUNIT", "BRICK")
    model.project.UnitsInContext.Units = [unit]
    with pytest.raises(ModelError, match="'brick', which has no size in metres"):
        length_scale(model.file)


def test_a_survey_foot_is_a_foot():
    model = HandmadeModel()
    f = model.file
    factor = f.createIfcMeasureWithUnit(f.createIfcLengthMeasure(1200.0 / 3937.0), model.si_unit(None))
    powers = f.createIfcDimensionalExponents(1, 0, 0, 0, 0, 0, 0)
    model.project.UnitsInContext.Units = [
        f.createIfcConversionBasedUnit(powers, "LENGTHUNIT", "FOOT", factor)
    ]
    assert length_scale(f) == pytest.approx(304.8006096, rel=1e-9)


def test_quantities_follow_their_own_unit_before_the_projects():
    model = SpaceModel(unit="ft")
    space = model.solid_room(rectangle(0, 0, 3048, 3048), storey=model.storey("L", 0))
    model.quantities(
        space, "BaseQuantities", Height=10.0, FinishCeilingHeight=(2700.0, model.si_unit("MILLI"))
    )
    square_metre = model.file.createIfcSIUnit(None, "AREAUNIT", None, "SQUARE_METRE")
    model.areas(space, "Qto_SpaceBaseQuantities", GrossFloorArea=100.0, NetFloorArea=(9.25, square_metre))
    lengths = {q.Name: quantity_in_mm(q, model.file) for q in model.file.by_type("IfcQuantityLength")}
    areas = {q.Name: quantity_area_m2(q, model.file) for q in model.file.by_type("IfcQuantityArea")}
    assert lengths == pytest.approx({"Height": 3048.0, "FinishCeilingHeight": 2700.0})
    assert areas == pytest.approx({"GrossFloorArea": 9.290304, "NetFloorArea": 9.25})


def test_a_quantity_of_another_kind_is_refused():
    model = SpaceModel()
    space = model.solid_room(rectangle(0, 0, 3000, 3000))
    model.areas(space, "BaseQuantities", NetFloorArea=9.0)
    model.quantities(space, "More", Height=3000.0)
    (area,) = model.file.by_type("IfcQuantityArea")
    (length,) = model.file.by_type("IfcQuantityLength")
    with pytest.raises(ModelError, match="'NetFloorArea' is IfcQuantityArea; a length was wanted"):
        quantity_in_mm(area, model.file)
    with pytest.raises(ModelError, match="'Height' is IfcQuantityLength; an area was wanted"):
        quantity_area_m2(length, model.file)


def test_a_length_unit_on_an_area_is_refused():
    model = SpaceModel()
    space = model.solid_room(rectangle(0, 0, 3000, 3000))
    model.areas(space, "BaseQuantities", NetFloorArea=(9.0, model.si_unit(None)))
    with pytest.raises(ModelError, match="AREAUNIT"):
        quantity_area_m2(model.file.by_type("IfcQuantityArea")[0], model.file)


def test_properties_follow_their_own_unit_before_the_projects():
    model = SpaceModel(unit="m")
    space = model.solid_room(rectangle(0, 0, 3000, 3000))
    model.properties(
        space,
        "Set",
        A=("IfcLengthMeasure", 2.7),
        B=("IfcLengthMeasure", 2700.0, model.si_unit("MILLI")),
        C=("IfcLabel", "high"),
    )
    found = {p.Name: p for p in model.file.by_type("IfcPropertySingleValue")}
    assert property_in_mm(found["A"], model.file) == pytest.approx(2700.0)
    assert property_in_mm(found["B"], model.file) == pytest.approx(2700.0)
    with pytest.raises(ModelError, match="'C' is 'high'; a finite number was wanted"):
        property_in_mm(found["C"], model.file)


def test_an_open_model_is_wrapped_without_a_file():
    model = model_from_file(HandmadeModel(schema="IFC4X3_ADD2", unit="ft").file)
    assert (model.path, model.sha256, model.schema, model.unit) == ("", "", "IFC4X3", "foot")
