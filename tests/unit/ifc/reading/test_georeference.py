"""Map conversions: what they say in every schema and unit, set against ifcopenshell's own arithmetic."""

from __future__ import annotations

from pathlib import Path

import ifcopenshell.util.geolocation
import numpy as np
import pytest
from handmade_models import HandmadeModel

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.reading.georeference import read_map_conversion


def _at(made: HandmadeModel, *point: float) -> list[float]:
    found = read_map_conversion(made.file)
    assert found is not None
    return [round(float(x), 3) for x in (found.matrix @ (*point, 1.0))[:3]]


def test_a_model_without_one_has_none() -> None:
    assert read_map_conversion(HandmadeModel().file) is None


@pytest.mark.parametrize(("unit", "scale"), [("m", None), ("m", 1.0), ("mm", 0.001), ("ft", 0.3048)])
def test_points_come_to_lie_on_the_map_whatever_the_projects_unit(unit: str, scale: float | None) -> None:
    made = HandmadeModel(unit=unit)
    made.on_map(500_000.0, 5_700_000.0, 64.0, turned_deg=90.0, scale=scale)
    assert _at(made, 1000.0, 0.0, 250.0) == [500_000_000.0, 5_700_001_000.0, 64_250.0]


def test_the_scale_of_the_projection_counts() -> None:
    made = HandmadeModel(unit="m")
    made.on_map(0.0, 0.0, scale=0.9996)
    assert _at(made, 10_000.0, 0.0, 0.0) == [9_996.0, 0.0, 0.0]


def test_a_scale_of_one_from_millimetres_to_metres_is_told_and_not_taken() -> None:
    made = HandmadeModel(unit="mm")
    made.on_map(500_000.0, 5_700_000.0, scale=1.0)
    assert _at(made, 1000.0, 0.0, 0.0) == [500_001_000.0, 5_700_000_000.0, 0.0]
    found = read_map_conversion(made.file)
    assert found is not None
    assert "scale 1 does not fit" in found.note


def test_eastings_off_the_earth_are_in_the_projects_unit() -> None:
    made = HandmadeModel(unit="mm")
    made.on_map(149_626_315.0, 413_717_684.0)
    assert _at(made, 0.0, 0.0, 0.0) == [149_626_315.0, 413_717_684.0, 0.0]


def in_property_sets(**told: float | str) -> HandmadeModel:
    """An IFC2X3 model in metres that says in property sets where it lies."""
    made = HandmadeModel(schema="IFC2X3", unit="m")
    for name, values in (("ePSet_MapConversion", told), ("ePSet_ProjectedCRS", {"Name": "EPSG:7855"})):
        group = made.root("IfcPropertySet", Name=name)
        group.HasProperties = [
            made.file.createIfcPropertySingleValue(
                key, None, made.file.create_entity("IfcLabel" if isinstance(v, str) else "IfcReal", v), None
            )
            for key, v in values.items()
        ]
        made.root(
            "IfcRelDefinesByProperties", RelatedObjects=[made.project], RelatingPropertyDefinition=group
        )
    return made


def test_what_a_model_of_the_older_schema_says_in_a_property_set_counts() -> None:
    turned = {"XAxisAbscissa": 0.0, "XAxisOrdinate": 1.0}
    made = in_property_sets(Eastings=1000.0, Northings=2000.0, OrthogonalHeight=3.0, Scale=1.0, **turned)
    assert _at(made, 1000.0, 0.0, 0.0) == [1_000_000.0, 2_001_000.0, 3_000.0]
    found = read_map_conversion(made.file)
    assert found is not None
    assert found.crs == "EPSG:7855"


def test_a_number_that_is_none_is_named() -> None:
    with pytest.raises(ModelError, match="far east"):
        read_map_conversion(in_property_sets(Eastings="far east").file)


@pytest.mark.models
@pytest.mark.parametrize("name", ["pcert_ifc4_Building-Architecture", "pcert_ifc4x3_Building-Hvac"])
def test_a_real_models_points_lie_where_the_librarys_arithmetic_puts_them(
    name: str, shared_models: Path
) -> None:
    file = open_model(shared_models / f"{name}.ifc").file  # millimetres, and so is its map
    found = read_map_conversion(file)
    assert found is not None
    for point in ((0.0, 0.0, 0.0), (12_345.0, -678.0, 2700.0)):
        wanted = ifcopenshell.util.geolocation.auto_xyz2enh(file, *point)
        assert (found.matrix @ (*point, 1.0))[:3] == pytest.approx(wanted, abs=1e-3)
    assert found.turned_deg == pytest.approx(60.0)
    assert np.isclose(found.scale, 1.0)
