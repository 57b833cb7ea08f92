"""Point files: names, order, rounding, check distances, LandXML, and nothing that breaks an import."""

import csv
import io
import math
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from ifcgrid.domain.coordinates import PROJECT, Coordinates, PointUnit
from ifcgrid.domain.errors import ModelError
from ifcgrid.domain.points import PointRole, SetPoint
from ifcgrid.outputs.points import (
    PointFile,
    find_checks,
    format_landxml,
    format_points,
    format_statement,
    read_points,
    round_site,
)
from ifcgrid.outputs.points.landxml import NAMESPACE

PLACES = {
    "7-AB": (6010.0, 0.0),
    "7-BC": (6010.0, 4270.0),
    "7-CD": (0.0, 4270.0),
    "7-DA": (0.0, 0.0),
}


def point(name, x, y, z=2700.0, role=PointRole.CHECK, note="corner"):
    return SetPoint(name=name, role=role, room="k", x=x, y=y, z=z, note=note)


def file_of(points, coordinates=PROJECT, unit=PointUnit.METRE, decimals=None, **more):
    site = coordinates.to_site(np.array([[p.x, p.y, p.z] for p in points]))
    return PointFile(
        points=tuple(points),
        site=site,
        checks=find_checks(points, site),
        coordinates=coordinates,
        unit=unit,
        decimals=unit.decimals if decimals is None else decimals,
        **more,
    )


def room_points():
    hangers = [point(f"7-H{k}", 305.5 + k * 1100.25, 900.0, 3900.0, PointRole.HANGER, "HG 7") for k in (1, 2)]
    return [*(point(name, x, y) for name, (x, y) in PLACES.items()), *hangers]


def table(file):
    return format_points(file.points, file.site, file.checks, file.unit, file.decimals)


def test_northing_comes_before_easting_and_is_the_model_s_y():
    rows = list(csv.reader(io.StringIO(table(file_of(room_points())))))
    assert rows[0] == ["point", "northing", "easting", "elevation", "description"]
    assert rows[1][:4] == ["7-AB", "0.0000", "6.0100", "2.7000"]
    assert rows[2][:4] == ["7-BC", "4.2700", "6.0100", "2.7000"]


@pytest.mark.parametrize("unit", list(PointUnit))
@pytest.mark.parametrize("decimals", [0, 1, 4])
def test_what_is_written_is_read_back_to_the_printed_decimal_and_printed_alike(unit, decimals):
    base = (729_013_348.83, 9_063_992_684.7, 1300.0)
    system = Coordinates(kind="map", name="m", base=base, turn_deg=60.0)
    file = file_of(room_points(), system, unit, decimals)
    text = table(file)
    found, notes = read_points(text)
    assert not notes
    assert list(found) == [p.name for p in file.points]
    again = np.array(list(found.values())) * unit.size
    assert again == pytest.approx(round_site(file.site, unit, decimals), abs=1e-6)
    assert np.abs(again - file.site).max() <= 0.5 * 10.0**-decimals * unit.size * 1.000001
    printed = [row[:4] for row in csv.reader(io.StringIO(text))]
    second = format_points(file.points, again, (), unit, decimals)
    assert [row[:4] for row in csv.reader(io.StringIO(second))] == printed


def test_check_points_carry_their_distances_in_rows_and_in_the_table_of_the_text():
    file = file_of(room_points())
    rows = {row[0]: row[4] for row in csv.reader(io.StringIO(table(file)))}
    diagonal = math.hypot(6.01, 4.27)
    assert rows["7-AB"].endswith(f"in m to BC=4.2700 CD={diagonal:.4f} DA=6.0100")
    assert len(file.checks) == 6
    statement = format_statement(file)
    assert f"7-AB  7-CD    {diagonal:.4f}   4.2700  -6.0100" in statement


def test_at_least_three_check_points_of_a_many_cornered_room_stand_far_apart():
    corners = [(0, 0), (9000, 0), (9000, 100), (9100, 100), (9100, 5000), (0, 5000)]
    points = [point(f"1-{k}", x, y) for k, (x, y) in enumerate(corners)]
    file = file_of(points)
    chosen = {k for c in file.checks for k in (c.first, c.second)}
    assert len(chosen) == 4
    assert min(c.distance for c in file.checks) > 4000


def test_names_and_notes_hold_nothing_that_breaks_a_table():
    note = '=1+1, "x"; \n<script>\t\x07 ' + "long " * 60
    points = [point("7-AB", 0, 0, note=note), point("7-H1", 1, 1, note="@SUM(A1)")]
    text = table(file_of(points))
    assert text.isascii()
    assert '"' not in text
    assert all(len(line.split(",")) == 5 for line in text.splitlines())
    assert not any(line.split(",")[4].startswith(("=", "+", "-", "@")) for line in text.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        "P1,1.5,2.5,3.5,x\r\nP2,4,5,6,y",
        "\ufeffpoint,northing,easting,elevation\nP1,1.5,2.5,3.5\nP2,4,5,6",
        "P1;1,5;2,5;3,5;x\nP2;4;5;6;y",
        "P1\t1.5\t2.5\t3.5\n\nP2\t4\t5\t6\n",
        "# from the instrument\nP1 1.5 2.5 3.5 note\nP2 4 5 6",
    ],
)
def test_tables_of_instruments_are_read_however_their_columns_are_parted(text):
    assert read_points(text)[0] == {"P1": (1.5, 2.5, 3.5), "P2": (4.0, 5.0, 6.0)}


def test_a_point_without_elevation_is_read_and_a_doubled_one_is_told():
    found, notes = read_points("P1,1,2\nP1,3,4\nP2,5,6\n")
    assert found["P1"][:2] == (3.0, 4.0)
    assert math.isnan(found["P1"][2])
    assert notes == ["P1 stands there twice; the last one counts"]


@pytest.mark.parametrize(
    "text", ["", "point,northing,easting\n", "P1,one,2,3\nP2,x,2,3", "P1,1,2,3\nP2,,5,6"]
)
def test_a_table_without_numbers_is_refused_with_its_line(text):
    with pytest.raises(ModelError, match=r"no point|line \d"):
        read_points(text, "site.csv")


def test_us_survey_feet_are_1200_over_3937_metres():
    # US Federal Register of 1 July 1959; the international foot of that day is 0.3048 m.
    assert PointUnit.US_SURVEY_FOOT.size * 3937 == pytest.approx(1_200_000, rel=1e-15)
    assert PointUnit.FOOT.size == 304.8
    assert PointUnit.US_SURVEY_FOOT.size / PointUnit.FOOT.size == pytest.approx(1.000002, abs=1e-9)


# What LandXML 1.2 demands of these elements: the schema's documentation, read second-hand in classes
# generated from it (the schema itself was in no package registry).
REQUIRED = {
    "LandXML": {"date", "time", "version"},
    "Metric": {"areaUnit", "linearUnit", "volumeUnit", "temperatureUnit", "pressureUnit"},
    "Imperial": {"areaUnit", "linearUnit", "volumeUnit", "temperatureUnit", "pressureUnit"},
    "Project": {"name"},
    "Application": {"name"},
}
ALLOWED = {
    "linearUnit": {"millimeter", "centimeter", "meter", "kilometer", "foot", "USSurveyFoot", "inch", "mile"},
    "areaUnit": {"hectare", "squareMeter", "squareFoot", "squareInch", "acre"},
    "volumeUnit": {"cubicMeter", "liter", "cubicFeet", "cubicYard"},
    "temperatureUnit": {"celsius", "kelvin", "fahrenheit"},
    "pressureUnit": {"HPA", "milliBars", "mmHG", "millimeterHG", "inchHG", "inHG"},
    "angularUnit": {"radians", "grads", "decimal degrees", "decimal dd.mm.ss"},
    "directionUnit": {"radians", "grads", "decimal degrees", "decimal dd.mm.ss"},
    "elevationUnit": {"meter", "kilometer", "feet", "miles"},
    "pntSurv": {"monument", "control", "sideshot", "boundary", "natural boundary", "traverse", "reference"},
    "role": {"measured", "to stake out", "staked out", "calculated", "control point"},
}


@pytest.mark.parametrize("unit", list(PointUnit))
def test_landxml_has_what_the_schema_demands_and_the_same_numbers_as_the_table(unit):
    system = Coordinates(kind="map", name="EPSG:32760", base=(1e8, 2e8, 0.0), turn_deg=30.0, epsg="32760")
    file = file_of(room_points(), system, unit, stamp={"model": 'a<b>&"c".ifc'}, project="P <&> 1")
    root = ET.fromstring(format_landxml(file, date="2031-03-04", time="09:30:00"))
    assert root.tag == f"{{{NAMESPACE}}}LandXML"
    assert [child.tag.rpartition("}")[2] for child in root] == [
        *("Units", "CoordinateSystem", "Project", "Application", "CgPoints"),
    ]
    for element in root.iter():
        name = element.tag.rpartition("}")[2]
        assert REQUIRED.get(name, set()) <= set(element.attrib), name
        for key, value in element.attrib.items():
            assert value in ALLOWED.get(key, {value}), (name, key)
    assert root[1].get("epsgCode") == "32760"
    assert root[2].get("name") == "P <&> 1"
    rows = {row[0]: row[1:4] for row in list(csv.reader(io.StringIO(table(file))))[1:]}
    assert {p.get("name"): p.text.split() for p in root[4]} == rows


def test_the_text_states_system_base_point_turn_unit_and_true_north():
    system = Coordinates(kind="map", name="a grid", base=(2000.0, 1000.0, 500.0), turn_deg=60.0)
    text = format_statement(file_of(room_points(), system, north_deg=40.0))
    assert "Coordinate system: a grid" in text
    assert "at northing 1.0000, easting 2.0000, elevation 0.5000" in text
    assert "X axis points 60 degrees counter-clockwise from east" in text
    assert "Units: metres; 4 decimals; order northing, easting, elevation" in text
    # 40 degrees from X, which is 60 from east, is 100 from east: 10 degrees past north.
    assert "10 degrees counter-clockwise from this file's north" in text
    assert "jurisdiction" in text
